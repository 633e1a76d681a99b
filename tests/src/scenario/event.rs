//! What can go wrong, as it truly went.

use super::papers::read_at;
use super::ship::{COUNTED, Ship};
use super::track::Track;
use halfglass::reconcile::Kind;
use halfglass_protocol::config::Role;

/// One thing that went wrong. Radars, lines, fittings and rounds are told by their place in the ship.
#[derive(Clone, Debug, PartialEq)]
#[expect(missing_docs, reason = "the fields are what the line above each says")]
pub enum Event {
    /// A counter set to zero, nobody wrote why.
    Zeroed { radar: usize, line: usize, at: f64 },
    /// The box exchanged while the supply was off; the new figures.
    Exchanged { radar: usize, off: (f64, f64), figures: [f64; 4] },
    /// Recorded as zeroed, but the counter went on.
    NotZeroed { radar: usize, renewal: usize },
    /// Recorded as not zeroed, but it was.
    Contradicted { radar: usize, renewal: usize },
    /// Zeroed, or all done, on another day than the record says: so many hours off.
    Misdated { radar: usize, renewal: usize, off_h: f64, whole: bool },
    /// A digit slipped; the number tells which and how.
    Slip { radar: usize, round: usize, line: usize, how: u64 },
    /// Off by a share of what the clock moved since the round before; negative: too low.
    Off { radar: usize, round: usize, line: usize, share: f64 },
    /// Another figure altogether.
    Impossible { radar: usize, round: usize, line: usize, figure: f64 },
    /// Two quantities in each other's place.
    QuantitiesSwapped { radar: usize, round: usize, lines: (usize, usize) },
    /// One quantity of two radars in each other's place.
    RadarsSwapped { radars: (usize, usize), round: usize, line: usize },
    /// The display showed the other transceiver.
    OtherSource { radar: usize, round: usize, other: usize },
    /// The transmit counter counts another line.
    OtherLine { radar: usize, counts: usize },
    /// The counter runs at a ratio.
    Rate { radar: usize, line: usize, ratio: f64 },
    /// From an instant on figures are ten times, or a tenth of, the hours.
    Units { radar: usize, line: usize, from: f64, factor: f64 },
    /// The logger sees nothing of a line.
    Dead { radar: usize, line: usize, from: f64, to: f64 },
    /// The logger sees a line on all the time.
    Stuck { radar: usize, line: usize, from: f64, to: f64 },
    /// The logger loses a share of a line, in stretches of hours.
    Intermittent { radar: usize, line: usize, from: f64, to: f64, loses: f64, how: u64 },
    /// Two inputs exchanged.
    Wired { radar: usize, lines: (usize, usize) },
    /// Work that nobody recorded, with the scanner isolated.
    Unrecorded { radar: usize, from: f64, to: f64, zeroes: bool },
    /// The logger without power while the radar ran.
    Dark { radar: usize, from: f64, to: f64 },
}

/// Where a finding must point to be right.
#[derive(Clone, Debug)]
pub struct Target {
    /// The kind.
    pub kind: Kind,
    /// Its radars, by place: any of them.
    pub radars: Vec<usize>,
    /// Lines that it may name; empty: any.
    pub lines: Vec<Role>,
    /// It happened not before ...
    pub from: f64,
    /// ... and not after.
    pub to: f64,
}

impl Event {
    /// Its kind.
    #[must_use]
    pub fn kind(&self) -> Kind {
        match self {
            Event::Zeroed { .. } => Kind::ZeroedWithoutFitting,
            Event::Exchanged { .. } => Kind::CounterExchanged,
            Event::NotZeroed { .. } => Kind::FittedWithoutZeroing,
            Event::Contradicted { .. } => Kind::RecordContradicted,
            Event::Misdated { .. } => Kind::FittingMisdated,
            Event::Slip { .. } | Event::Off { .. } => Kind::Misread,
            Event::Impossible { .. } => Kind::ImpossibleReading,
            Event::QuantitiesSwapped { .. } | Event::RadarsSwapped { .. } | Event::OtherSource { .. } => {
                Kind::ReadingsSwapped
            }
            Event::OtherLine { .. } => Kind::CountsOtherLine,
            Event::Rate { .. } => Kind::CounterRate,
            Event::Units { .. } => Kind::CounterUnits,
            Event::Dead { .. } => Kind::LineDead,
            Event::Stuck { .. } => Kind::LineStuck,
            Event::Intermittent { .. } => Kind::LineIntermittent,
            Event::Wired { .. } => Kind::Wiring,
            Event::Unrecorded { .. } => Kind::WorkUnrecorded,
            Event::Dark { .. } => Kind::DarkGap,
        }
    }

    /// Where a finding must point, on a ship with these true lines. A round's figures are where they were read, which is days
    /// from the round where the supply was off; a figure that the display showed of another radar is that one's.
    #[must_use]
    pub fn target(&self, ship: &Ship, truths: &[[Track; 5]]) -> Target {
        let read = |radars: &[usize], round: usize| {
            let at = |radar: &usize| read_at(ship, round, *radar, &truths[*radar][0]);
            let all = radars.iter().map(at);
            (all.clone().fold(f64::INFINITY, f64::min), all.fold(f64::NEG_INFINITY, f64::max))
        };
        let of = |radars: Vec<usize>, lines: Vec<usize>, from: f64, to: f64| Target {
            kind: self.kind(),
            radars,
            lines: lines.into_iter().map(|line| COUNTED[line]).collect(),
            from,
            to,
        };
        let shown = |radar: usize, round: usize| match ship.rounds[round].shows {
            Some((display, other)) if display == radar => vec![radar, other],
            _ => vec![radar],
        };
        match *self {
            Event::Zeroed { radar, line, at } => of(vec![radar], vec![line], at, at),
            Event::Exchanged { radar, off, .. } => of(vec![radar], vec![], off.0, off.1),
            Event::NotZeroed { radar, renewal } | Event::Contradicted { radar, renewal } => {
                let done = &ship.radars[radar].renewals[renewal];
                let line = ship.radars[radar].parts[done.part].ages_by;
                of(vec![radar], vec![line], done.from, done.to)
            }
            Event::Misdated { radar, renewal, off_h, .. } => {
                let done = &ship.radars[radar].renewals[renewal];
                let line = ship.radars[radar].parts[done.part].ages_by;
                of(vec![radar], vec![line], done.from - off_h.abs(), done.to + off_h.abs())
            }
            Event::Slip { radar, round, line, .. }
            | Event::Off { radar, round, line, .. }
            | Event::Impossible { radar, round, line, .. } => {
                let (from, to) = read(&[radar], round);
                of(shown(radar, round), vec![line], from, to)
            }
            Event::QuantitiesSwapped { radar, round, lines } => {
                let (from, to) = read(&[radar], round);
                of(shown(radar, round), vec![lines.0, lines.1], from, to)
            }
            Event::RadarsSwapped { radars, round, line } => {
                let (from, to) = read(&[radars.0, radars.1], round);
                of(vec![radars.0, radars.1], vec![line], from, to)
            }
            Event::OtherSource { radar, round, .. } => {
                let (from, to) = read(&[radar], round);
                of(vec![radar], vec![], from, to)
            }
            Event::OtherLine { radar, counts } => {
                of(vec![radar], vec![super::ship::TRANSMIT, counts], ship.start_h, ship.end_h)
            }
            Event::Rate { radar, line, .. } => of(vec![radar], vec![line], ship.start_h, ship.end_h),
            Event::Units { radar, line, from, .. } => of(vec![radar], vec![line], from, ship.end_h),
            Event::Dead { radar, line, from, to }
            | Event::Stuck { radar, line, from, to }
            | Event::Intermittent { radar, line, from, to, .. } => of(vec![radar], vec![line], from, to),
            Event::Wired { radar, .. } => of(vec![radar], vec![], ship.start_h, ship.end_h),
            Event::Unrecorded { radar, from, to, .. } => of(vec![radar], vec![], from, to),
            Event::Dark { radar, from, to } => of(vec![radar], vec![], from, to),
        }
    }
}
