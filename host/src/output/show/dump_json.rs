//! A dump as JSON.

use super::{Contents, cause, damage_words, days, lines_of, source};
use crate::time;
use crate::timeline::{TENTHS_PER_HOUR, way};
use serde_json::{Value, json};

/// The dump as JSON, version 1. Hours are floating-point, instants RFC 3339 in UTC.
#[must_use]
pub fn dump_json(contents: &Contents<'_>) -> String {
    let Contents { header, lost, not_known, timeline, dating } = contents;
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
        "not_known": not_known,
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
        "way": way::stretches(timeline, dating).iter().map(|stretch| {
            let known = dating.is_anchored();
            json!({
                "from": (known && !stretch.from.is_open_below()).then(|| instant(stretch.from.best_ms())),
                "to": known.then(|| instant(stretch.to.best_ms())),
                "making_way": stretch.making_way,
                "hours": stretch.tenths as f64 / TENTHS_PER_HOUR,
            })
        }).collect::<Vec<_>>(),
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
