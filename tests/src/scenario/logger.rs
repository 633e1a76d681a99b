//! What a logger sees of a radar: true lines, through its wiring and its faults, while it has power.

use super::event::Event;
use super::ship::{Radar, Ship, TRANSMIT};
use super::track::Track;
use super::voyage::within;
use fastrand::Rng;
use halfglass::reconcile::{Log, Point, Span, When};

/// Milliseconds since 1970 of hour nought, the logger's start-up: 2020-01-01.
pub const ZERO_MS: i64 = 1_577_836_800_000;

/// An instant in milliseconds since 1970.
#[must_use]
pub fn ms(hours: f64) -> i64 {
    ZERO_MS + (hours * 3_600_000.0).round() as i64
}

/// Hours since the logger's start-up.
#[must_use]
pub fn hours(ms: i64) -> f64 {
    (ms - ZERO_MS) as f64 / 3_600_000.0
}

/// What one power cut can cost, by the heartbeat.
const HEARTBEAT_H: f64 = 10.0 / 3_600.0;

/// A period with power, and how it is dated.
struct Session {
    from: f64,
    to: f64,
    anchors: Vec<f64>,
}

/// The log of a radar with these true lines (supply, heater, transmit, motor, isolated).
pub(super) fn log(ship: &Ship, place: usize, truth: &[Track; 5], events: &[Event]) -> Log {
    let radar = &ship.radars[place];
    let mut rng = Rng::with_seed(ship.seed ^ 0x10_66e4 ^ ((place as u64) << 32));
    let sessions = sessions(&mut rng, ship, radar, &powered(ship, place, truth, events));
    let on = Track::new(sessions.iter().map(|session| (session.from, session.to)).collect());
    let seen = faults(truth, place, events, ship).map(|line| line.and(&on));
    let dated = |at: f64, which: usize| date(&sessions, which, at, ship.end_h);
    let mut log = Log { wired: radar.wired, ..Log::default() };
    let mut end_before = 0.0;
    let (mut dark_h, mut lost_h) = (0.0, 0.0);
    let (mut drop_outs, mut short_warm_ups, mut transmitted) = (0u32, 0u32, 0.0);
    for (which, session) in sessions.iter().enumerate() {
        if which > 0 {
            dark_h += session.from - end_before;
            lost_h += HEARTBEAT_H;
        }
        end_before = session.to;
        let daily = (1..).map(|day| session.from + 24.0 * f64::from(day)).take_while(|at| *at < session.to);
        let pulls = ship.pulls.iter().copied().filter(|at| (session.from..session.to).contains(at));
        let mut at_h: Vec<f64> = daily.chain(pulls).chain([session.from, session.to]).collect();
        at_h.sort_by(f64::total_cmp);
        at_h.dedup();
        for at in at_h {
            if radar.overwritten.is_on(at) {
                continue;
            }
            let on_h = std::array::from_fn(|line| {
                if radar.wired[line] { seen[line].until(at) * (1.0 + radar.drift) } else { 0.0 }
            });
            let ran = seen[TRANSMIT].until(at);
            drop_outs += u32::from(rng.f64() < 1.0 - (-(ran - transmitted) * 0.005).exp());
            short_warm_ups += u32::from(rng.f64() < 1.0 - (-(ran - transmitted) * 0.002).exp());
            transmitted = ran;
            let point = Point { at: dated(at, which), on_h, dark_h, lost_h, drop_outs, short_warm_ups };
            log.points.push(point);
            (dark_h, lost_h) = (0.0, 0.0);
        }
    }
    if radar.wired[0] {
        log.supply_on = spans(&seen[0], radar, &sessions, ship.end_h);
    }
    if radar.wired[4] {
        log.isolated = spans(&seen[4], radar, &sessions, ship.end_h);
    }
    log
}

/// When the logger has power.
fn powered(ship: &Ship, place: usize, truth: &[Track; 5], events: &[Event]) -> Track {
    let radar = &ship.radars[place];
    let mut fed = Track::of(0.0, ship.end_h).minus(&radar.blackouts).minus(&radar.unfed);
    if radar.fed {
        fed = fed.and(&truth[0]);
    }
    for event in events {
        match event {
            Event::Dark { radar, from, to } if *radar == place => fed = fed.minus(&Track::of(*from, *to)),
            _ => {}
        }
    }
    fed
}

/// Sessions: what the last heartbeat before a cut did not tell is off their end.
fn sessions(rng: &mut Rng, ship: &Ship, radar: &Radar, powered: &Track) -> Vec<Session> {
    let mut all: Vec<Session> = Vec::new();
    for (from, to) in powered.spans() {
        let last = *to >= ship.end_h;
        let to = if last { *to } else { (to - within(rng, 0.0, HEARTBEAT_H)).max(*from + 1e-6) };
        // A first session is dated when the logger is put in; a clock dates all.
        let mut anchors: Vec<f64> =
            ship.pulls.iter().copied().filter(|at| (*from..=to).contains(at)).collect();
        if radar.has_clock || all.is_empty() {
            anchors.insert(0, *from);
        }
        if radar.has_clock {
            anchors.extend((1..).map(|day| from + 24.0 * f64::from(day)).take_while(|at| *at < to));
            anchors.sort_by(f64::total_cmp);
        }
        all.push(Session { from: *from, to, anchors });
    }
    all
}

/// When an instant of a session was, as far as the anchors tell.
fn date(sessions: &[Session], which: usize, at: f64, end_h: f64) -> When {
    let session = &sessions[which];
    let give = |from: f64, to: f64| When { lo_ms: ms(from) - 2_000, hi_ms: ms(to) + 2_000 };
    let nearest = session.anchors.iter().map(|anchor| (anchor - at).abs()).min_by(f64::total_cmp);
    if let Some(apart) = nearest {
        let drift = apart * 100e-6;
        return give(at - drift, at + drift);
    }
    // Floating: at least the powered time passed since the anchor before, and until the one behind.
    let mut low = at - session.from;
    for before in sessions[..which].iter().rev() {
        if !before.anchors.is_empty() {
            low += before.to;
            break;
        }
        low += before.to - before.from;
    }
    let mut high = at - session.to;
    let mut bounded = false;
    for behind in &sessions[which + 1..] {
        if !behind.anchors.is_empty() {
            high += behind.from;
            bounded = true;
            break;
        }
        high -= behind.to - behind.from;
    }
    if !bounded {
        high += end_h;
    }
    let drift = (high - low).abs() * 100e-6;
    give(low - drift, high + drift)
}

/// Periods as the logger tells them: broken where it had no power, vague where their edge was overwritten.
fn spans(line: &Track, radar: &Radar, sessions: &[Session], end_h: f64) -> Vec<Span> {
    let mut spans = Vec::new();
    let dated = |at: f64, is_end: bool| {
        if let Some(gap) = radar.overwritten.spans().iter().find(|gap| (gap.0..gap.1).contains(&at)) {
            return When { lo_ms: ms(gap.0.min(end_h)), hi_ms: ms(gap.1.min(end_h)) };
        }
        let which = sessions.partition_point(|session| session.from <= at).max(1) - 1;
        let which = if is_end && sessions[which].from == at { which.max(1) - 1 } else { which };
        date(sessions, which, at, end_h)
    };
    for (from, to) in line.spans() {
        let gone = radar.overwritten.spans().iter().any(|gap| gap.0 <= *from && *to <= gap.1);
        if !gone {
            spans.push(Span { from: dated(*from, false), to: dated(*to, true) });
        }
    }
    spans
}

/// Lines as they reach the logger.
fn faults(truth: &[Track; 5], place: usize, events: &[Event], ship: &Ship) -> [Track; 5] {
    let mut seen = truth.clone();
    for event in events {
        match *event {
            Event::Wired { radar, lines } if radar == place => seen.swap(lines.0, lines.1),
            Event::Dead { radar, line, from, to } if radar == place => {
                seen[line] = seen[line].minus(&Track::of(from, to));
            }
            Event::Stuck { radar, line, from, to } if radar == place => {
                seen[line] = seen[line].or(&Track::of(from, to.min(ship.end_h)));
            }
            Event::Intermittent { radar, line, from, to, loses, how } if radar == place => {
                seen[line] = seen[line].minus(&lost(from, to, loses, how));
            }
            _ => {}
        }
    }
    seen
}

/// Stretches of hours in which a line is lost.
fn lost(from: f64, to: f64, loses: f64, how: u64) -> Track {
    let mut rng = Rng::with_seed(how);
    let mut at = from;
    let mut spans = Vec::new();
    while at < to {
        let cycle = within(&mut rng, 2.0, 12.0);
        spans.push((at, (at + cycle * loses).min(to)));
        at += cycle;
    }
    Track::new(spans)
}
