//! The feed as CSV (RFC 4180), and its columns as W3C metadata for tabular data.

use super::{Line, line};
use crate::feed::Row;
use crate::{Error, Result};
use schemars::generate::SchemaSettings;
use serde_json::{Value, json};

/// CSV with a header row; what is not known is an empty cell.
///
/// # Errors
/// None is expected: it is written to memory.
pub fn csv(ship: &str, as_of_ms: i64, rows: &[Row]) -> Result<String> {
    let failed =
        |error: &dyn std::fmt::Display| Error::input(format!("the feed cannot be written ({error})"), "");
    let mut out = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    // A ship without parts has the header all the same.
    if rows.is_empty() {
        out.write_record(keys().iter().map(|(key, _)| key)).map_err(|error| failed(&error))?;
    }
    for row in rows {
        out.serialize(line(ship, as_of_ms, row)).map_err(|error| failed(&error))?;
    }
    let bytes = out.into_inner().map_err(|error| failed(&error))?;
    String::from_utf8(bytes).map_err(|error| failed(&error))
}

/// The columns and what each is, in their order.
fn keys() -> Vec<(String, Value)> {
    let schema =
        SchemaSettings::draft2020_12().for_serialize().into_generator().into_root_schema_for::<Line>();
    let of = |key: &str| schema.get(key).cloned().unwrap_or_default();
    let properties = of("properties");
    // Each is always there, so that `required` has all of them, in the order in which they are written.
    let required = of("required");
    let names = required.as_array().into_iter().flatten().filter_map(Value::as_str);
    names.map(|name| (name.to_owned(), properties[name].clone())).collect()
}

/// The columns as metadata (W3C Recommendation *Metadata Vocabulary for Tabular Data*).
#[must_use]
pub fn columns() -> String {
    let column = |(name, schema): (String, Value)| {
        let text = schema["type"].to_string();
        let timed = name.ends_with("_at") || ["as_of", "counted_to", "order_by"].contains(&name.as_str());
        let timed =
            timed || name.starts_with("due_p") || ["planned_from", "planned_to"].contains(&name.as_str());
        let datatype = match () {
            () if timed => "dateTimeStamp",
            () if text.contains("number") => "decimal",
            () if text.contains("integer") => "nonNegativeInteger",
            () => "string",
        };
        json!({
            "name": name,
            "titles": name,
            "datatype": datatype,
            "dc:description": schema["description"],
            "required": !text.contains("null") && name != "note",
        })
    };
    let metadata = json!({
        "@context": "http://www.w3.org/ns/csvw",
        "dc:title": "halfglass feed csv",
        "dialect": { "encoding": "utf-8", "header": true, "delimiter": ",", "quoteChar": "\"", "doubleQuote": true },
        "tableSchema": { "columns": keys().into_iter().map(column).collect::<Vec<_>>() },
    });
    serde_json::to_string_pretty(&metadata).unwrap_or_default()
}
