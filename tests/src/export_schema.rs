//! The schema of `trundle-export` as the columns ask for it: names, types and meanings stand in one
//! list in the program, and the committed schema must say the same.

use serde_json::{Map, Value, json};
use trundle_show::export::{CellKind, Head, Table, passes, records, slip, speeds};

/// All tables, without rows.
///
/// # Panics
/// Never: there is no record that could not be read.
#[must_use]
pub fn tables() -> Vec<Table> {
    let signed = "no record, none unreadable";
    vec![
        records::export(&[]).expect(signed).table,
        passes::export(&[]).expect(signed).table,
        speeds::export(&[]).table,
        slip::export(&[]).table,
    ]
}

fn column(head: &Head) -> Value {
    let about = head.about;
    let or_null = |word: &str| json!({ "description": about, "type": [word, "null"] });
    match head.kind {
        CellKind::Text => or_null("string"),
        CellKind::Number => or_null("number"),
        CellKind::Whole => or_null("integer"),
        CellKind::Truth => or_null("boolean"),
        CellKind::Words => json!({
            "description": about,
            "type": "array",
            "items": { "description": "A word.", "type": "string", "minLength": 1 },
        }),
        CellKind::Time => json!({
            "description": about,
            "type": ["string", "null"],
            "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\\.[0-9]{3,6}Z$",
        }),
    }
}

fn row(table: &Table) -> Value {
    let properties: Map<String, Value> =
        table.heads.iter().map(|head| (head.name.to_owned(), column(head))).collect();
    let required: Vec<&str> = table.heads.iter().map(|head| head.name).collect();
    json!({
        "description": format!("One row of {}.", table.name),
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": false,
    })
}

/// The whole schema.
#[must_use]
pub fn schema() -> Value {
    let tables = tables();
    let names: Vec<&str> = tables.iter().map(|table| table.name).collect();
    let kinds: Vec<Value> = names
        .iter()
        .map(|name| {
            let rows = json!({ "items": { "$ref": format!("#/$defs/{name}") } });
            json!({ "properties": { "table": { "const": name }, "rows": rows } })
        })
        .collect();
    let rows: Map<String, Value> =
        tables.iter().map(|table| (table.name.to_owned(), row(table))).collect();
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:trundle:schema:trundle-export-1",
        "title": "trundle-export, version 1",
        "description": "A table that goes out, one JSON object. Columns are only ever added.",
        "type": "object",
        "properties": {
            "format": { "description": "Name of this format.", "const": "trundle-export" },
            "version": { "description": "Version of this format.", "const": 1 },
            "software": {
                "description": "Version of the software that wrote it.",
                "type": "string",
                "minLength": 1,
            },
            "table": { "description": "The kind of row.", "enum": names },
            "rows": { "description": "The rows, in order.", "type": "array" },
        },
        "required": ["format", "version", "software", "table", "rows"],
        "additionalProperties": false,
        "oneOf": kinds,
        "$defs": rows,
    })
}
