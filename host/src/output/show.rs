//! How the answers of `show` look.

use super::table::{hours, table};
use crate::ship::facts::{Fitting, Reading};
use crate::store::Kept;
use crate::time;
use crate::timeline::curve::Curve;
use crate::timeline::dating::{Dating, When};
use crate::timeline::{TENTHS_PER_HOUR, Timeline};
use halfglass_protocol::config::{Config, Role};
use halfglass_protocol::dump::Header;
use halfglass_protocol::record::{Cause, ClockSource, Damage, Totals};
use serde_json::{Value, json};

/// What a dump holds.
pub struct Contents<'a> {
    /// Its header.
    pub header: Header,
    /// Records that the logger had lost.
    pub lost: usize,
    /// Its records joined.
    pub timeline: &'a Timeline,
    /// Their dates.
    pub dating: &'a Dating,
}

/// What a ship folder holds.
pub struct Holdings {
    /// Loggers: device id, dumps, records.
    pub loggers: Vec<(String, u32, u32)>,
    /// Readings that stand.
    pub readings: Vec<Kept<Reading>>,
    /// Fittings that stand.
    pub fittings: Vec<Kept<Fitting>>,
}

const DAY_MS: i64 = 86_400_000;

/// The dump in tables.
#[must_use]
pub fn dump_text(contents: &Contents<'_>) -> String {
    let Contents { header, lost, timeline, dating } = contents;
    let [major, minor, patch] = header.firmware_version;
    let mut text = format!(
        "Logger {:016x}, firmware {major}.{minor}.{patch}, {} inputs\nRecords {} to {}: {}, {lost} of them lost\n",
        header.device_id,
        header.lines,
        header.from,
        header.to.saturating_sub(1),
        header.to - header.from,
    );
    let lines = lines_of(timeline);
    if let Some(last) = timeline.points.last() {
        let first = timeline.points.first().unwrap_or(last);
        let rows: Vec<Vec<String>> = lines
            .iter()
            .map(|(input, name)| {
                let grown = last.totals.on_tenths[*input].saturating_sub(first.totals.on_tenths[*input]);
                vec![
                    format!("{input}"),
                    name.clone(),
                    hours(last.totals.on_tenths[*input] as f64 / TENTHS_PER_HOUR),
                    hours(grown as f64 / TENTHS_PER_HOUR),
                    last.totals.starts[*input].to_string(),
                ]
            })
            .collect();
        let heading = ["Input", "Line", "Lifetime h", "In this dump h", "Starts"];
        text.push_str(&format!(
            "\nTotals at the end; the logger was powered for {} h in its life\n{}\n",
            hours(last.totals.uptime_tenths as f64 / TENTHS_PER_HOUR),
            table(&heading, &heading[2..], &rows)
        ));
    }
    text.push_str(&sessions_text(timeline, dating));
    text.push_str(&anchors_text(timeline));
    text.push_str(&days_text(timeline, dating, &lines));
    text.push_str(&trouble_text(timeline));
    text.trim_end().to_owned()
}

fn sessions_text(timeline: &Timeline, dating: &Dating) -> String {
    let rows: Vec<Vec<String>> = timeline
        .sessions
        .iter()
        .map(|start| {
            let session = &start.session;
            let when = dating.when(session.session, session.uptime_tenths);
            vec![
                session.session.to_string(),
                shown(dating, when),
                cause(session.cause).to_owned(),
                format!("{:.1}", f64::from(session.lost_max_tenths) / 10.0),
                if session.usb_only { "USB only".to_owned() } else { "supply".to_owned() },
            ]
        })
        .collect();
    let heading = ["Session", "Began (UTC)", "Why", "Lost before, at most s", "Fed by"];
    section("Sessions", &heading, &heading[3..4], &rows)
}

fn anchors_text(timeline: &Timeline) -> String {
    let rows: Vec<Vec<String>> = timeline
        .anchors
        .iter()
        .map(|anchor| {
            vec![
                time::minute(i64::try_from(anchor.utc_ms).unwrap_or(i64::MAX)),
                source(anchor.source).to_owned(),
                anchor.session.to_string(),
                format!("{:.1}", f64::from(anchor.uncertainty_ms) / 1000.0),
            ]
        })
        .collect();
    section("Clock settings", &["UTC", "By", "Session", "Right to s"], &["Session", "Right to s"], &rows)
}

fn days_text(timeline: &Timeline, dating: &Dating, lines: &[(usize, String)]) -> String {
    let days = days(timeline, dating, lines);
    if days.is_empty() {
        return match timeline.points.is_empty() || dating.is_anchored() {
            true => String::new(),
            false => "\nDays: not known, the logger's clock was never set.\n".to_owned(),
        };
    }
    let mut heading = vec!["Day (UTC)", "Powered h"];
    heading.extend(lines.iter().map(|(_, name)| name.as_str()));
    let rows: Vec<Vec<String>> = days
        .iter()
        .map(|(day_ms, values)| {
            let mut row = vec![time::date(*day_ms)];
            row.extend(values.iter().map(|h| format!("{h:.1}")));
            row
        })
        .collect();
    section("Hours per day", &heading, &heading[1..], &rows)
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

fn trouble_text(timeline: &Timeline) -> String {
    let mut lines = Vec::new();
    for (from, to) in &timeline.gaps {
        lines.push(format!("Records {from} to {} are missing; the next base gave their hours back.", to - 1));
    }
    for index in &timeline.contradictions {
        lines.push(format!(
            "Record {index} says less than the records before it: the logger's memory is damaged."
        ));
    }
    for (index, _, damage) in &timeline.damage {
        lines.push(format!("Record {index}: {}.", damage_words(*damage)));
    }
    if !timeline.coalesced.is_empty() {
        lines.push(format!(
            "Edges came so fast that they were merged per heartbeat (begun {} times): on-times and starts are right, \
             drop-outs may be missing.",
            timeline.coalesced.len()
        ));
    }
    if timeline.runs_skipped > 0 {
        lines.push(format!(
            "{} runs were not kept one by one; their hours are counted.",
            timeline.runs_skipped
        ));
    }
    if lines.is_empty() {
        return "\nDamage and gaps: none\n".to_owned();
    }
    let list: String = lines.iter().map(|line| format!("  - {line}\n")).collect();
    format!("\nDamage and gaps\n{list}")
}

fn section(title: &str, heading: &[&str], right: &[&str], rows: &[Vec<String>]) -> String {
    if rows.is_empty() {
        return format!("\n{title}: none\n");
    }
    format!("\n{title}\n{}\n", table(heading, right, rows))
}

/// The inputs that have a role, by the newest configuration; all inputs with a total if there is none.
fn lines_of(timeline: &Timeline) -> Vec<(usize, String)> {
    let two_radars = |config: &Config| config.lines.iter().any(|l| l.role != Role::Unused && l.radar > 0);
    match timeline.configs.last() {
        Some((_, config)) => {
            let wired = config.lines.iter().enumerate().filter(|(_, line)| line.role != Role::Unused);
            let name = |line: &halfglass_protocol::config::Line| match two_radars(config) {
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

fn shown(dating: &Dating, when: When) -> String {
    if !dating.is_anchored() {
        return "not known".to_owned();
    }
    let apart_min = (when.hi_ms - when.lo_ms) / 60_000;
    match (when.is_open_below(), apart_min) {
        (true, _) => format!("before {}", time::minute(when.hi_ms)),
        (false, 0..=5) => time::minute(when.best_ms()),
        _ => format!("{} to {}", time::minute(when.lo_ms), time::minute(when.hi_ms)),
    }
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

/// The dump as JSON, version 1. Hours are floating-point, instants RFC 3339 in UTC.
#[must_use]
pub fn dump_json(contents: &Contents<'_>) -> String {
    let Contents { header, lost, timeline, dating } = contents;
    let [major, minor, patch] = header.firmware_version;
    let lines = lines_of(timeline);
    let instant = |ms: i64| Value::String(time::rfc3339(ms));
    let last = timeline.points.last().map(|point| point.totals).unwrap_or_default();
    let value = json!({
        "version": 1,
        "logger": format!("{:016x}", header.device_id),
        "firmware": format!("{major}.{minor}.{patch}"),
        "inputs": header.lines,
        "from": header.from,
        "to": header.to,
        "lost": lost,
        "uptime_tenths": last.uptime_tenths,
        "lines": lines.iter().map(|(input, name)| json!({
            "input": input,
            "line": name,
            "on_tenths": last.on_tenths[*input],
            "starts": last.starts[*input],
        })).collect::<Vec<_>>(),
        "drop_outs": last.drop_outs,
        "short_warm_ups": last.short_warm_ups,
        "sessions": timeline.sessions.iter().map(|start| {
            let when = dating.when(start.session.session, start.session.uptime_tenths);
            let known = dating.is_anchored();
            json!({
                "session": start.session.session,
                "from": (known && !when.is_open_below()).then(|| instant(when.lo_ms)),
                "to": known.then(|| instant(when.hi_ms)),
                "uptime_tenths": start.session.uptime_tenths,
                "cause": cause(start.session.cause),
                "lost_max_tenths": start.session.lost_max_tenths,
                "usb_only": start.session.usb_only,
            })
        }).collect::<Vec<_>>(),
        "anchors": timeline.anchors.iter().map(|anchor| json!({
            "session": anchor.session,
            "uptime_tenths": anchor.uptime_tenths,
            "utc": time::rfc3339(i64::try_from(anchor.utc_ms).unwrap_or(i64::MAX)),
            "uncertainty_ms": anchor.uncertainty_ms,
            "source": source(anchor.source),
        })).collect::<Vec<_>>(),
        "days": days(timeline, dating, &lines).iter().map(|(day_ms, values)| json!({
            "day": time::date(*day_ms),
            "powered_h": values[0],
            "on_h": lines.iter().map(|(_, name)| name.clone()).zip(values[1..].iter().map(|h| json!(h)))
                .collect::<serde_json::Map<_, _>>(),
        })).collect::<Vec<_>>(),
        "gaps": timeline.gaps.iter().map(|(from, to)| json!({"from": from, "to": to})).collect::<Vec<_>>(),
        "contradictions": timeline.contradictions,
        "damage": timeline.damage.iter().map(|(index, _, damage)| json!({
            "record": index,
            "what": damage_words(*damage),
        })).collect::<Vec<_>>(),
        "coalesced": timeline.coalesced.len(),
        "runs_skipped": timeline.runs_skipped,
    });
    serde_json::to_string_pretty(&value).unwrap_or_default()
}

/// The folder in tables.
#[must_use]
pub fn folder_text(holdings: &Holdings) -> String {
    let loggers: Vec<Vec<String>> = holdings
        .loggers
        .iter()
        .map(|(device, dumps, records)| vec![device.clone(), dumps.to_string(), records.to_string()])
        .collect();
    let readings: Vec<Vec<String>> = holdings
        .readings
        .iter()
        .map(|Kept { id, fact }| {
            vec![
                id.to_string(),
                time::minute(fact.at_ms),
                fact.radar.clone(),
                fact.quantity.clone(),
                format!("{}", fact.hours),
                fact.by.clone().unwrap_or_default(),
            ]
        })
        .collect();
    let fittings: Vec<Vec<String>> = holdings
        .fittings
        .iter()
        .map(|Kept { id, fact }| {
            vec![
                id.to_string(),
                time::minute(fact.at_ms),
                fact.radar.clone(),
                fact.part.clone(),
                fact.serial.clone(),
                fact.hours_at_fit.map_or_else(|| "new".to_owned(), |h| format!("{h}")),
                if fact.counter_zeroed { "yes" } else { "no" }.to_owned(),
                fact.by.clone().unwrap_or_default(),
            ]
        })
        .collect();
    let logger_heading = ["Logger", "Dumps", "Records"];
    let reading_heading = ["Number", "At (UTC)", "Radar", "Quantity", "Hours", "By"];
    let fitting_heading =
        ["Number", "At (UTC)", "Radar", "Part", "Serial", "Hours before", "Counter zeroed", "By"];
    let mut text = section("Loggers", &logger_heading, &logger_heading[1..], &loggers);
    text.push_str(&section("Readings", &reading_heading, &["Number", "Hours"], &readings));
    text.push_str(&section("Fittings", &fitting_heading, &["Number", "Hours before"], &fittings));
    text.trim().to_owned()
}

/// The folder as JSON, version 1.
#[must_use]
pub fn folder_json(holdings: &Holdings) -> String {
    let value = json!({
        "version": 1,
        "loggers": holdings.loggers.iter().map(|(device, dumps, records)| json!({
            "logger": device, "dumps": dumps, "records": records,
        })).collect::<Vec<_>>(),
        "readings": holdings.readings.iter().map(|Kept { id, fact }| json!({
            "number": id, "at": time::rfc3339(fact.at_ms), "radar": fact.radar, "quantity": fact.quantity,
            "hours": fact.hours, "source": fact.source, "by": fact.by,
        })).collect::<Vec<_>>(),
        "fittings": holdings.fittings.iter().map(|Kept { id, fact }| json!({
            "number": id, "at": time::rfc3339(fact.at_ms), "radar": fact.radar, "part": fact.part,
            "serial": fact.serial, "counter_zeroed": fact.counter_zeroed,
            "zeroed_at": fact.zeroed_at_ms.map(time::rfc3339), "counter_before": fact.counter_before,
            "counter_after": fact.counter_after, "hours_at_fit": fact.hours_at_fit,
            "removed_serial": fact.removed_serial, "removed_because": fact.removed_because, "by": fact.by,
        })).collect::<Vec<_>>(),
    });
    serde_json::to_string_pretty(&value).unwrap_or_default()
}
