//! Holds a JSON value against a JSON Schema: as much of draft 2020-12 as the program's own schemas use. What it does not
//! know it refuses, so that nothing passes unread. The same answers were once held against the same schemas by the Python
//! package jsonschema 4.26.0, which agreed.

use serde_json::Value;

/// Keys that say nothing about a value.
const WORDS: [&str; 5] = ["$schema", "$defs", "title", "description", "format"];

/// Checks a value against a schema.
///
/// # Errors
/// Where it differs and how, or a key of the schema that is not known here.
pub fn check(schema: &Value, value: &Value) -> Result<(), String> {
    at(schema, schema, value, "$")
}

fn at(root: &Value, schema: &Value, value: &Value, path: &str) -> Result<(), String> {
    let keys = schema.as_object().ok_or_else(|| format!("{path}: the schema is no object"))?;
    for (key, says) in keys {
        let sound = match key.as_str() {
            key if WORDS.contains(&key) => true,
            "$ref" => {
                let name = says.as_str().and_then(|says| says.strip_prefix("#/$defs/")).unwrap_or("");
                let named = root["$defs"].get(name).ok_or_else(|| format!("{path}: there is no {says}"))?;
                at(root, named, value, path)?;
                true
            }
            "type" => match says {
                Value::Array(any) => any.iter().any(|one| is(value, one)),
                one => is(value, one),
            },
            "enum" => says.as_array().is_some_and(|all| all.contains(value)),
            "minimum" => value.as_f64().is_none_or(|value| says.as_f64().is_some_and(|least| value >= least)),
            "maximum" => value.as_f64().is_none_or(|value| says.as_f64().is_some_and(|most| value <= most)),
            "anyOf" => {
                let any = says.as_array().into_iter().flatten();
                any.map(|one| at(root, one, value, path)).any(|checked| checked.is_ok())
            }
            "oneOf" => {
                let all = says.as_array().into_iter().flatten();
                all.map(|one| at(root, one, value, path)).filter(Result::is_ok).count() == 1
            }
            "const" => says == value,
            "required" => says
                .as_array()
                .into_iter()
                .flatten()
                .filter_map(Value::as_str)
                .all(|key| value.get(key).is_some()),
            "properties" => {
                for (key, schema) in says.as_object().into_iter().flatten() {
                    if let Some(value) = value.get(key) {
                        at(root, schema, value, &format!("{path}.{key}"))?;
                    }
                }
                true
            }
            "items" => {
                for (n, value) in value.as_array().into_iter().flatten().enumerate() {
                    at(root, says, value, &format!("{path}[{n}]"))?;
                }
                true
            }
            _ => return Err(format!("{path}: the schema's `{key}` is not known here")),
        };
        if !sound {
            return Err(format!("{path}: {value} is not as `{key}`: {says} says"));
        }
    }
    Ok(())
}

fn is(value: &Value, name: &Value) -> bool {
    match name.as_str() {
        Some("null") => value.is_null(),
        Some("boolean") => value.is_boolean(),
        Some("string") => value.is_string(),
        Some("number") => value.is_number(),
        Some("integer") => value.is_u64() || value.is_i64(),
        Some("array") => value.is_array(),
        Some("object") => value.is_object(),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::check;
    use serde_json::json;

    #[test]
    fn what_differs_is_found() {
        let schema = json!({
            "type": "object", "required": ["a"],
            "properties": { "a": { "$ref": "#/$defs/A" }, "b": { "type": ["string", "null"] } },
            "$defs": { "A": { "type": "array", "items": { "enum": [1, 2] } } }
        });
        assert_eq!(check(&schema, &json!({ "a": [1, 2], "b": null, "more": 5 })), Ok(()));
        for wrong in
            [json!([]), json!({}), json!({ "a": 1 }), json!({ "a": [3] }), json!({ "a": [], "b": 5 })]
        {
            assert!(check(&schema, &wrong).is_err(), "{wrong}");
        }
        let one =
            json!({ "oneOf": [{ "const": 1 }, { "const": 2 }, { "type": "string" }, { "const": "x" }] });
        for (value, sound) in [(json!(1), true), (json!(3), false), (json!("y"), true), (json!("x"), false)] {
            assert_eq!(check(&one, &value).is_ok(), sound, "{value}");
        }
        assert!(check(&json!({ "pattern": "x" }), &json!("x")).unwrap_err().contains("not known"));
    }
}
