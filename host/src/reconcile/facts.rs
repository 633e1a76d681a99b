//! What the room is told: facts of one ship, already dated, in hours and milliseconds. Nothing in here knows
//! where a fact came from but for its number, by which a finding names it.

pub use crate::timeline::dating::When;
use halfglass_protocol::config::Role;

/// Roles that a line can have, in the order of [`Point::on_h`].
pub const ROLES: [Role; 5] = [Role::Supply, Role::Heater, Role::Transmit, Role::Motor, Role::Isolated];

/// Where a role stands in [`ROLES`]; `None`: it is no line.
#[must_use]
pub fn place(role: Role) -> Option<usize> {
    ROLES.iter().position(|known| *known == role)
}

/// All that is known of a ship at an instant.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    /// The instant: nothing dated later is in here.
    pub as_of_ms: i64,
    /// Her radars, names differing.
    pub radars: Vec<Radar>,
}

/// One radar, its log and its papers.
#[derive(Clone, Debug, Default)]
pub struct Radar {
    /// What the crew call it.
    pub name: String,
    /// What its own counter resolves, in hours; it shows whole steps, rounded down.
    pub step_h: f64,
    /// Its logger is fed from its own supply, so that dark time is most likely time off.
    pub fed_from_radar: bool,
    /// What the logger saw.
    pub log: Log,
    /// Figures copied from its counters, by time.
    pub readings: Vec<Reading>,
    /// Parts put in, by time.
    pub fittings: Vec<Fitting>,
    /// Work without a renewal, by time.
    pub works: Vec<Work>,
    /// Its parts.
    pub parts: Vec<Part>,
}

/// A figure copied from a radar's own counter.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The fact's number.
    pub id: i64,
    /// When it was read.
    pub at: When,
    /// Which counter: supply, heater, transmit or motor.
    pub quantity: Role,
    /// What it showed, in hours.
    pub hours: f64,
    /// The radar whose transceiver the display showed, if that was written down.
    pub source: Option<String>,
}

/// A part put in.
#[derive(Clone, Debug)]
pub struct Fitting {
    /// The fact's number.
    pub id: i64,
    /// When.
    pub at: When,
    /// Which part.
    pub part: String,
    /// Its serial.
    pub serial: String,
    /// The counter of the part's hours is said to have been zeroed for it.
    pub counter_zeroed: bool,
    /// When it is said to have been zeroed, if not at once.
    pub zeroed_at: Option<When>,
    /// What the counter showed before, in hours.
    pub counter_before_h: Option<f64>,
    /// What it showed after, in hours.
    pub counter_after_h: Option<f64>,
    /// Hours that the part had run before; `None`: taken as new.
    pub hours_at_fit_h: Option<f64>,
}

/// Work without a renewal.
#[derive(Clone, Debug)]
pub struct Work {
    /// The fact's number.
    pub id: i64,
    /// When it began.
    pub from: When,
    /// When it ended.
    pub to: When,
}

impl Work {
    /// From its beginning to its end.
    pub(super) fn whole(&self) -> When {
        When { lo_ms: self.from.lo_ms, hi_ms: self.to.hi_ms }
    }
}

/// A part that wears.
#[derive(Clone, Debug)]
pub struct Part {
    /// What it is.
    pub name: String,
    /// Whose hours age it, and whose counter is zeroed for it.
    pub ages_by: Role,
    /// Someone must go to the scanner to renew it: so the scanner is isolated meanwhile.
    pub needs_aloft: bool,
}

/// What a logger saw of one radar. Joined across exchanges of the logger: totals go on, with dark time between.
#[derive(Clone, Debug, Default)]
pub struct Log {
    /// Which roles have a line, in the order of [`ROLES`].
    pub wired: [bool; 5],
    /// Totals where they are known, by time; between two neighbours at most 24 h of uptime, but for gaps and dark time.
    pub points: Vec<Point>,
    /// Periods with the supply line on, by time; empty where no such line is wired. The last may be open: then it
    /// ends at the last point.
    pub supply_on: Vec<Span>,
    /// Periods with the scanner's safety switch open, by time.
    pub isolated: Vec<Span>,
}

/// Totals at one instant.
#[derive(Clone, Copy, Debug)]
pub struct Point {
    /// When.
    pub at: When,
    /// On-time of each role, in hours, by the logger's clock; in the order of [`ROLES`]; 0 where no line is wired.
    pub on_h: [f64; 5],
    /// For how much of the time since the point before the logger was without power, at most, in hours.
    pub dark_h: f64,
    /// How much any line can have lost at power cuts and unreadable words since the point before, in hours.
    pub lost_h: f64,
    /// Drop-outs so far.
    pub drop_outs: u32,
    /// Short warm-ups so far.
    pub short_warm_ups: u32,
}

/// A period.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// Its beginning.
    pub from: When,
    /// Its end.
    pub to: When,
}
