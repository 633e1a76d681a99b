//! How the answers of `show` look.

mod dump_json;
mod dump_text;
mod folder;

pub use dump_json::dump_json;
pub use dump_text::dump_text;
pub use folder::{Held, Holdings, Listed, folder_json, folder_text};

use super::screen::Screen;
use super::table::Sheet;
use crate::timeline::curve::Curve;
use crate::timeline::dating::Dating;
use crate::timeline::{TENTHS_PER_HOUR, Timeline};
use halfglass_protocol::config::{Config, Line, Role};
use halfglass_protocol::dump::Header;
use halfglass_protocol::record::{Cause, ClockSource, Damage, Totals};

/// What a dump holds.
pub struct Contents<'a> {
    /// Its header.
    pub header: Header,
    /// Records that the logger had lost.
    pub lost: usize,
    /// Records of a kind that a later version has added.
    pub not_known: usize,
    /// Its records joined.
    pub timeline: &'a Timeline,
    /// Their dates.
    pub dating: &'a Dating,
}

const DAY_MS: i64 = 86_400_000;

fn section(title: &str, sheet: &Sheet<'_>, screen: Screen) -> String {
    if sheet.is_empty() {
        return format!("\n{title}: none\n");
    }
    format!("\n{title}\n{}\n", sheet.on(screen))
}

/// The inputs that have a role, by the newest configuration; all inputs with a total if there is none.
fn lines_of(timeline: &Timeline) -> Vec<(usize, String)> {
    let two_radars = |config: &Config| config.lines.iter().any(|l| l.role != Role::Unused && l.radar > 0);
    match timeline.configs.last() {
        Some((_, config)) => {
            let wired = config.lines.iter().enumerate().filter(|(_, line)| line.role != Role::Unused);
            let name = |line: &Line| match two_radars(config) {
                true => format!("{} {}", line.role.name(), line.radar + 1),
                false => line.role.name().to_owned(),
            };
            wired.map(|(input, line)| (input, name(line))).collect()
        }
        None => {
            let last = timeline.points.last().map(|point| point.totals).unwrap_or_default();
            let used = last.on_tenths.iter().enumerate().filter(|(_, tenths)| **tenths > 0);
            used.map(|(input, _)| (input, format!("input {input}"))).collect()
        }
    }
}

/// Days, with the hours powered and the hours of each line.
fn days(timeline: &Timeline, dating: &Dating, lines: &[(usize, String)]) -> Vec<(i64, Vec<f64>)> {
    if !dating.is_anchored() {
        return Vec::new();
    }
    let curve = |value: &dyn Fn(&Totals) -> u64| {
        Curve::of(timeline, dating, i64::MAX, |totals| value(totals) as f64 / TENTHS_PER_HOUR)
    };
    let mut curves = vec![curve(&|totals| totals.uptime_tenths)];
    curves.extend(lines.iter().map(|(input, _)| curve(&|totals| totals.on_tenths[*input])));
    let (Some(first), Some(last)) = (curves[0].first(), curves[0].last()) else { return Vec::new() };
    let mut day_ms = first.when.best_ms().div_euclid(DAY_MS) * DAY_MS;
    let end_ms = last.when.best_ms();
    let mut days = Vec::new();
    while day_ms < end_ms {
        let values = curves.iter().map(|curve| curve.best_at(day_ms + DAY_MS) - curve.best_at(day_ms));
        days.push((day_ms, values.collect()));
        day_ms += DAY_MS;
    }
    days
}

const fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::Power => "power",
        Cause::Watchdog => "watchdog",
        Cause::Fault => "firmware fault",
        Cause::Request => "reset",
    }
}

const fn source(source: ClockSource) -> &'static str {
    match source {
        ClockSource::Host => "computer",
        ClockSource::Battery => "battery clock",
        ClockSource::Ship => "ship's clock",
    }
}

const fn way_words(making_way: bool) -> &'static str {
    if making_way { "made way" } else { "made no way" }
}

fn damage_words(damage: Damage) -> String {
    let region =
        |region: u8| ["totals", "history", "configuration"].get(usize::from(region)).copied().unwrap_or("?");
    match damage {
        Damage::PageRetired { region: of, page } => {
            format!("page {page} of the {} failed and is no longer used", region(of))
        }
        Damage::HeadInvalid { region: of, page } => {
            format!("page {page} of the {} had a damaged head; the page before was replayed", region(of))
        }
        Damage::WordsLost { words } => {
            format!("{words} words could not be read; totals may be short by them")
        }
        Damage::ConfigLost => "the configuration could not be read; the one in the guide is used".to_owned(),
    }
}
