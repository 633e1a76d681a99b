//! Where each kind of fact is kept.

use crate::ship::facts::{
    Answer, Condition, Deferral, Fact, Fitting, Leg, LoggerExchange, Reading, Window, Work, Zone,
};

/// A kind of fact that has a table.
pub trait Kind: Fact {
    /// Its table.
    const TABLE: &'static str;
}

impl Kind for Reading {
    const TABLE: &'static str = "readings";
}

impl Kind for Fitting {
    const TABLE: &'static str = "fittings";
}

impl Kind for Zone {
    const TABLE: &'static str = "zones";
}

impl Kind for Condition {
    const TABLE: &'static str = "conditions";
}

impl Kind for Leg {
    const TABLE: &'static str = "legs";
}

impl Kind for Window {
    const TABLE: &'static str = "windows";
}

impl Kind for Work {
    const TABLE: &'static str = "works";
}

impl Kind for Answer {
    const TABLE: &'static str = "answers";
}

impl Kind for Deferral {
    const TABLE: &'static str = "deferrals";
}

impl Kind for LoggerExchange {
    const TABLE: &'static str = "logger_exchanges";
}
