//! Results held against their schema, and the schema against them.

use serde_json::{Value, json};

/// Every value keeps to the schema (JSON Schema draft 2020-12, json-schema.org, as the crate
/// `jsonschema` checks it), and no key of any may be missing or be anything.
///
/// # Panics
/// When that is not so.
pub fn keeps(schema: &str, values: &[Value]) {
    let schema: Value = serde_json::from_str(schema).expect("a schema is JSON");
    assert!(jsonschema::meta::is_valid(&schema), "the schema itself is no valid schema");
    let validator = jsonschema::draft202012::new(&schema).expect("a valid schema");
    for value in values {
        let faults: Vec<String> =
            validator.iter_errors(value).map(|e| format!("{}: {e}", e.instance_path())).collect();
        assert!(faults.is_empty(), "{faults:#?}\n{value:#}");
        for key in value.as_object().expect("a result is an object").keys() {
            let with = |other: Option<Value>| {
                let mut spoilt = value.clone();
                let object = spoilt.as_object_mut().expect("a result is an object");
                object.remove(key);
                object.extend(other.map(|other| (key.clone(), other)));
                spoilt
            };
            assert!(!validator.is_valid(&with(None)), "{key} may be missing");
            assert!(
                !validator.is_valid(&with(Some(json!({"surplus": 1})))),
                "{key} may be anything"
            );
        }
    }
}

/// Every key that the schema describes has a value in some result.
///
/// # Panics
/// When one has none.
pub fn all_written(schema: &str, values: &[Value]) {
    let schema: Value = serde_json::from_str(schema).expect("a schema is JSON");
    for key in schema["properties"].as_object().expect("a schema of an object").keys() {
        assert!(values.iter().any(|value| !value[key].is_null()), "{key} never has a value");
    }
}
