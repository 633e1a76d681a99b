//! What the room answers: hours as intervals, and findings with their evidence.

use crate::timeline::dating::When;
use halfglass_protocol::config::Role;

/// A figure between bounds.
pub use crate::due::Interval;

/// What a finding is about. The words are those of the JSON.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// The counter was set to zero, and no fitting says so.
    ZeroedWithoutFitting,
    /// The box that counts was exchanged: it goes on from another figure.
    CounterExchanged,
    /// A fitting says that the counter was zeroed, but it went on.
    FittedWithoutZeroing,
    /// A fitting says that the counter was not zeroed, but it was.
    RecordContradicted,
    /// The zeroing or the isolation lies up to seven days from the recorded fitting.
    FittingMisdated,
    /// One reading is off, its neighbours agree.
    Misread,
    /// Two readings of one day stand in each other's place.
    ReadingsSwapped,
    /// One reading moved more than the clock, and no slip of a digit explains it.
    ImpossibleReading,
    /// The counter follows another line.
    CountsOtherLine,
    /// The counter runs at a steady ratio to the logger.
    CounterRate,
    /// Tenths or tens were taken for hours.
    CounterUnits,
    /// The logger's line saw nothing while the counter moved.
    LineDead,
    /// The logger's line stayed on while the counter stood.
    LineStuck,
    /// The logger's line saw only some of what the counter did.
    LineIntermittent,
    /// Lines contradict each other.
    Wiring,
    /// Dark time that readings do not narrow.
    DarkGap,
    /// The scanner was isolated, and nothing recorded says why.
    WorkUnrecorded,
}

impl Kind {
    /// All of them, in the order of the design's table.
    pub const ALL: [Kind; 17] = [
        Kind::ZeroedWithoutFitting,
        Kind::CounterExchanged,
        Kind::FittedWithoutZeroing,
        Kind::RecordContradicted,
        Kind::FittingMisdated,
        Kind::Misread,
        Kind::ReadingsSwapped,
        Kind::ImpossibleReading,
        Kind::CountsOtherLine,
        Kind::CounterRate,
        Kind::CounterUnits,
        Kind::LineDead,
        Kind::LineStuck,
        Kind::LineIntermittent,
        Kind::Wiring,
        Kind::DarkGap,
        Kind::WorkUnrecorded,
    ];

    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Kind::ZeroedWithoutFitting => "zeroed-without-fitting",
            Kind::CounterExchanged => "counter-exchanged",
            Kind::FittedWithoutZeroing => "fitted-without-zeroing",
            Kind::RecordContradicted => "record-contradicted",
            Kind::FittingMisdated => "fitting-misdated",
            Kind::Misread => "misread",
            Kind::ReadingsSwapped => "readings-swapped",
            Kind::ImpossibleReading => "impossible-reading",
            Kind::CountsOtherLine => "counts-other-line",
            Kind::CounterRate => "counter-rate",
            Kind::CounterUnits => "counter-units",
            Kind::LineDead => "line-dead",
            Kind::LineStuck => "line-stuck",
            Kind::LineIntermittent => "line-intermittent",
            Kind::Wiring => "wiring",
            Kind::DarkGap => "dark-gap",
            Kind::WorkUnrecorded => "work-unrecorded",
        }
    }
}

/// Another explanation of the same facts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instead {
    /// Its kind; `None`: nothing is wrong, a coincidence.
    pub kind: Option<Kind>,
    /// How likely it is.
    pub probability: f64,
}

/// A disagreement between sources, with its likely cause.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What it is.
    pub kind: Kind,
    /// The part whose hours it touches, if one.
    pub part: Option<String>,
    /// The line or counter that it is about, if one.
    pub line: Option<Role>,
    /// It happened not before this instant ...
    pub from_ms: i64,
    /// ... and not after this one.
    pub to_ms: i64,
    /// How likely this explanation is, given everything: 0 to 1.
    pub probability: f64,
    /// The figures that say so, as sentences.
    pub evidence: Vec<String>,
    /// The next-best explanation.
    pub instead: Option<Instead>,
    /// It leads by less than 0.2: ask.
    pub is_question: bool,
    /// One sentence on what to do.
    pub advice: String,
    /// The numbers of the readings and fittings that it rests on.
    pub facts: Vec<FactId>,
}

/// A fact that a finding rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FactId {
    /// A reading's number.
    Reading(i64),
    /// A fitting's number.
    Fitting(i64),
    /// The beginning of an isolation, in milliseconds.
    Isolation(i64),
}

/// A part as it is fitted now.
#[derive(Clone, Debug, PartialEq)]
pub struct PartHours {
    /// Its name.
    pub part: String,
    /// Its serial; `None`: no fitting is recorded.
    pub serial: Option<String>,
    /// When it was put in, as recorded.
    pub fitted: Option<When>,
    /// When it was put in, as far as an isolation or the counter confirms the record.
    pub fitted_within: Option<When>,
    /// Hours that it has run; `None`: not known, `why_not` says why.
    pub hours: Option<Interval>,
    /// What is missing.
    pub why_not: Option<String>,
}

/// Events per 100 transmit hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// Over the whole log.
    pub per_100_h: f64,
    /// Over the last 500 transmit hours, or fewer if the log is shorter.
    pub recent_per_100_h: f64,
    /// How unlikely a rise as large is without one: the one-sided probability.
    pub chance_of_rise: f64,
}

/// The answer about one radar.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Account {
    /// Its name.
    pub radar: String,
    /// Its parts.
    pub parts: Vec<PartHours>,
    /// What disagrees, worst first.
    pub findings: Vec<Finding>,
    /// Drop-outs per 100 transmit hours.
    pub drop_outs: Option<Rate>,
    /// Short warm-ups per 100 transmit hours.
    pub short_warm_ups: Option<Rate>,
}
