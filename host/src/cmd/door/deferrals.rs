//! The door to deferrals: which one concerns a part as it is fitted now.

use crate::due::deferral::Deferral;
use crate::ship::facts;
use crate::store::Kept;
use crate::time::Moment;

/// The deferral that was decided last since a part was put in; whether it still stands is for the room to say. One that
/// was decided for the part before concerns that part only.
pub(crate) fn last(
    kept: &[Kept<facts::Deferral>],
    radar: &str,
    part: &str,
    fitted_ms: Option<i64>,
) -> Option<Deferral> {
    let fitted_ms = fitted_ms?;
    let own = kept.iter().map(|kept| &kept.fact).filter(|deferral| {
        deferral.radar == radar && deferral.part == part && deferral.at.hi_ms() >= fitted_ms
    });
    own.max_by_key(|deferral| deferral.at.best_ms()).map(|deferral| Deferral {
        at_ms: deferral.at.best_ms(),
        until_h: deferral.until_h,
        // A time of which it is not known whether it has come is taken as come.
        until_ms: deferral.until.map(Moment::lo_ms),
        reason: deferral.reason.clone(),
        approved_by: deferral.approved_by.clone(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kept(id: i64, at_ms: i64, part: &str) -> Kept<facts::Deferral> {
        let fact = facts::Deferral {
            at: Moment::exact(at_ms),
            radar: "S".to_owned(),
            part: part.to_owned(),
            reason: id.to_string(),
            until_h: None,
            until: Some(Moment::between(900, 950)),
            approved_by: "the office".to_owned(),
        };
        Kept { id, fact }
    }

    #[test]
    fn the_last_one_since_the_part_was_put_in() {
        let all = [kept(1, 10, "magnetron"), kept(2, 30, "motor"), kept(3, 20, "magnetron")];
        let said = |fitted_ms| last(&all, "S", "magnetron", fitted_ms).map(|deferral| deferral.reason);
        assert_eq!(said(Some(5)).as_deref(), Some("3"));
        assert_eq!(said(Some(21)), None, "decided for the part before");
        assert_eq!(said(None), None, "nothing is known to be in");
        assert_eq!(last(&all, "S", "motor", Some(0)).unwrap().until_ms, Some(900));
    }
}
