//! The door to what removals tell: fittings become services of one kind of part.

use crate::life::removals::{Because, Service};
use crate::ship::Settings;
use crate::ship::facts::Fitting;
use crate::ship::settings::Part;
use crate::store::Kept;

/// Parts that are one kind: the same name and the same type number in several radars; without a type number each part is a
/// kind of its own, since an X-band and an S-band magnetron share a name only.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct PartKind {
    /// Their indices among the settings' parts.
    pub(crate) members: Vec<usize>,
}

/// The kinds of a ship's parts, in the order of ship.toml.
pub(crate) fn kinds(settings: &Settings) -> Vec<PartKind> {
    let mut kinds: Vec<PartKind> = Vec::new();
    for (at, part) in settings.parts.iter().enumerate() {
        let same = |kind: &&mut PartKind| {
            let first = kind.members.first().and_then(|first| settings.parts.get(*first));
            first.is_some_and(|first| {
                first.name == part.name
                    && part.type_number.is_some()
                    && first.type_number == part.type_number
                    && first.ages_by == part.ages_by
            })
        };
        match kinds.iter_mut().find(same) {
            Some(kind) => kind.members.push(at),
            None => kinds.push(PartKind { members: vec![at] }),
        }
    }
    kinds
}

/// How many hours a part had run: asked of each that was taken out, and of the one that is in.
pub(crate) trait Hours {
    /// The hours of a part that was put in, at its removal, by a log; `None`: no log tells.
    fn at_removal(&self, part: usize, fitted: &Fitting, removed_ms: i64) -> Option<f64>;
    /// The hours of the part that is in now.
    fn now(&self, part: usize) -> Option<f64>;
}

/// The services of a kind, each radar's in their order. `fittings`: those seen, by time.
pub(crate) fn services(
    kind: &PartKind,
    settings: &Settings,
    fittings: &[Kept<Fitting>],
    hours: &dyn Hours,
) -> Vec<Service> {
    let mut services = Vec::new();
    for (place, at) in kind.members.iter().enumerate() {
        let Some(part) = settings.parts.get(*at) else { continue };
        let own: Vec<&Fitting> =
            fittings.iter().map(|kept| &kept.fact).filter(|fit| is_of(fit, part)).collect();
        if let Some(first) = own.first()
            && let Some(word) = &first.removed_because
        {
            // Taken out of here, but nobody recorded that it was put in: so its hours are not known.
            services.push(Service {
                place,
                entered_h: 0.0,
                left_h: None,
                because: Some(Because::from_name(word)),
            });
        }
        for (at_own, fitted) in own.iter().enumerate() {
            let entered_h = fitted.hours_at_fit.unwrap_or(0.0);
            let (left_h, because) = match own.get(at_own + 1) {
                None => (hours.now(*at), None),
                Some(next) => removed(fitted, next, || hours.at_removal(*at, fitted, next.at_ms())),
            };
            services.push(Service { place, entered_h, left_h, because });
        }
    }
    services
}

fn is_of(fitted: &Fitting, part: &Part) -> bool {
    fitted.radar == part.radar && fitted.part == part.name
}

/// The hours of a part at its removal, and why it was removed.
fn removed(
    fitted: &Fitting,
    next: &Fitting,
    by_log: impl Fn() -> Option<f64>,
) -> (Option<f64>, Option<Because>) {
    // Another serial came out than went in: a fitting is missing between them, so nothing is known of either's end.
    if next.removed_serial.as_ref().is_some_and(|serial| *serial != fitted.serial) {
        return (None, Some(Because::Unknown));
    }
    let because = next.removed_because.as_deref().map_or(Because::Unknown, Because::from_name);
    (by_log().or_else(|| by_counter(fitted, next)), Some(because))
}

/// What the radar's own counter says, where it was set back for the part and read before it was set back again.
fn by_counter(fitted: &Fitting, next: &Fitting) -> Option<f64> {
    let before_h = next.counter_before.filter(|_| fitted.counter_zeroed)?;
    Some(fitted.hours_at_fit.unwrap_or(0.0) + before_h - fitted.counter_after.unwrap_or(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Moment;

    struct NoLog;

    impl Hours for NoLog {
        fn at_removal(&self, _: usize, _: &Fitting, _: i64) -> Option<f64> {
            None
        }

        fn now(&self, part: usize) -> Option<f64> {
            Some(70.0 + part as f64)
        }
    }

    fn settings(types: [&str; 2]) -> Settings {
        let radar = |name: &str, logger: u64| {
            format!("[[radar]]\nname = \"{name}\"\nlogger = \"{logger:016x}\"\nlines = {{ transmit = 2 }}\n")
        };
        let part = |radar: &str, kind: &str| {
            format!("[[part]]\nradar = \"{radar}\"\nname = \"magnetron\"\nages_by = \"transmit\"\n{kind}\n")
        };
        let text = format!(
            "[ship]\nname = \"Calder\"\n{}{}{}{}",
            radar("X", 1),
            radar("Y", 2),
            part("X", types[0]),
            part("Y", types[1])
        );
        Settings::parse(&text, "ship.toml").unwrap()
    }

    fn fitted(at: i64, radar: &str, serial: &str) -> Fitting {
        Fitting::put_in(Moment::exact(at), radar, "magnetron", serial)
    }

    fn out(because: &str, counter_before: f64, next: Fitting) -> Fitting {
        Fitting { removed_because: Some(because.to_owned()), counter_before: Some(counter_before), ..next }
    }

    fn told(fittings: &[Fitting]) -> Vec<(f64, Option<f64>, Option<Because>)> {
        let kept: Vec<_> = (1..).zip(fittings).map(|(id, fact)| Kept { id, fact: fact.clone() }).collect();
        let settings = settings(["", ""]);
        let kind = PartKind { members: vec![0] };
        let services = services(&kind, &settings, &kept, &NoLog);
        services.iter().map(|service| (service.entered_h, service.left_h, service.because)).collect()
    }

    #[test]
    fn only_a_type_number_makes_parts_of_two_radars_one_kind() {
        let members = |types| -> Vec<Vec<usize>> {
            kinds(&settings(types)).into_iter().map(|kind| kind.members).collect()
        };
        assert_eq!(members(["type = \"M-9\"", "type = \"M-9\""]), [[0, 1]]);
        assert_eq!(members(["type = \"M-9\"", "type = \"M-3\""]), [[0], [1]]);
        assert_eq!(members(["", ""]), [[0], [1]], "a name alone says nothing");
    }

    /// By hand: a tube that had 200 h, at a counter that began at 5 and stood at 905: 1,100 h.
    #[test]
    fn a_life_by_the_counter_and_the_one_that_is_in() {
        let used = Fitting { hours_at_fit: Some(200.0), counter_after: Some(5.0), ..fitted(0, "X", "A") };
        let all = [used, out("failed", 905.0, fitted(1, "X", "B")), fitted(9, "Y", "Z")];
        assert_eq!(told(&all), [(200.0, Some(1_100.0), Some(Because::Failed)), (0.0, Some(70.0), None)]);
    }

    #[test]
    fn what_cannot_be_known_is_not_taken_for_known() {
        // The counter went on from the part before.
        let went_on = Fitting { counter_zeroed: false, ..fitted(0, "X", "A") };
        let all = [went_on, out("failed", 905.0, fitted(1, "X", "B"))];
        assert_eq!(told(&all)[0], (0.0, None, Some(Because::Failed)));
        // Nobody wrote why.
        let all = [fitted(0, "X", "A"), Fitting { counter_before: Some(9.0), ..fitted(1, "X", "B") }];
        assert_eq!(told(&all)[0], (0.0, Some(9.0), Some(Because::Unknown)));
        // Another one came out than went in.
        let other = Fitting { removed_serial: Some("Q".to_owned()), ..fitted(1, "X", "B") };
        assert_eq!(told(&[fitted(0, "X", "A"), out("failed", 9.0, other)])[0].2, Some(Because::Unknown));
        // Taken out before anything was recorded as put in.
        assert_eq!(told(&[out("weak", 9.0, fitted(1, "X", "B"))])[0], (0.0, None, Some(Because::Weak)));
    }
}
