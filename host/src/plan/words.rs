//! Reasons in words.

use super::{Why, Worse};

impl Why {
    /// As a clause, without a full stop.
    #[must_use]
    pub fn clause(&self, instant: impl Fn(i64) -> String) -> String {
        match self {
            Why::Cancelled => "the call is cancelled".to_owned(),
            Why::NoAloft => "nobody may go aloft there".to_owned(),
            Why::NoTransmission => "the set may not transmit there, so it cannot be run up".to_owned(),
            Why::TransmissionUnknown => {
                "nobody said whether the set may transmit there (`transmit` of the window)".to_owned()
            }
            Why::WorkHoursUnknown => {
                "how long the work takes is not known (`work_hours` in ship.toml)".to_owned()
            }
            Why::TooShort { there_h, needed_h } => {
                format!("too short: surely {} h, the work takes {} h", tenths(*there_h), tenths(*needed_h))
            }
            Why::DaylightUnknown => {
                "nobody said how long it is light there (`daylight` of the window)".to_owned()
            }
            Why::NoDaylight { light_h, needed_h } => format!(
                "not enough daylight: {} h of one day, the work aloft takes {} h",
                tenths(*light_h),
                tenths(*needed_h)
            ),
            Why::NoSpare => "no spare is aboard by then, and none can be delivered there".to_owned(),
            Why::LeadTimeUnknown => {
                "no spare is aboard, and how long one takes to come is not known (`lead_time_days` in ship.toml)"
                    .to_owned()
            }
            Why::SpareTooLate { there_ms } => {
                format!("a spare ordered now comes too late: {}", instant(*there_ms))
            }
        }
    }
}

impl Worse {
    /// As a clause, without a full stop.
    #[must_use]
    pub fn clause(&self) -> String {
        match self {
            Worse::Chance(there, planned) => format!(
                "the limit would pass first with {}, as planned with {}",
                percent(*there),
                percent(*planned)
            ),
            Worse::Both => "both radars would be opened there".to_owned(),
            Worse::DaysOver(days) => format!("the limit would be passed for {days:.0} days longer"),
            Worse::Isolation => "the radar would be isolated once more".to_owned(),
            Worse::GivenUp(Some(hours)) => format!("{hours:.0} h of life more would be given up"),
            Worse::GivenUp(None) => "more life would be given up".to_owned(),
            Worse::NoRoom => "there is no room for it beside what is planned there".to_owned(),
            Worse::Nothing => "it would do as well".to_owned(),
        }
    }
}

/// A chance for people: in whole percent, its ends in words.
#[must_use]
pub fn percent(chance: f64) -> String {
    match chance {
        chance if chance <= 0.0 => "0 %".to_owned(),
        chance if chance < 0.005 => "under 1 %".to_owned(),
        chance if chance >= 1.0 => "100 %".to_owned(),
        chance if chance > 0.995 => "over 99 %".to_owned(),
        chance => format!("{:.0} %", chance * 100.0),
    }
}

fn tenths(hours: f64) -> String {
    let rounded = (hours * 10.0).floor() / 10.0;
    format!("{rounded}")
}
