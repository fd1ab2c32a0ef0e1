//! Tables that go out, read back by readers that are not ours; `.ci/75-export-python.sh` does the
//! same for Parquet and with other engines.
//!
//! Outside sources: RFC 4180 through the crate `csv`, JSON Schema draft 2020-12 through the crate
//! `jsonschema`, GPX 1.1 through the crate `gpx`, RFC 7946 through the crate `geojson`; the first
//! characters that make a formula are those of OWASP's page on CSV injection (from memory).

use geojson::{FeatureCollection, GeoJson};
use serde_json::Value;
use std::collections::BTreeSet;
use std::sync::LazyLock;
use trundle_core::result::record_v1::RecordV1;
use trundle_core::session::trail::THINNED_US;
use trundle_core::survey::speeds::SpeedsOptions;
use trundle_show::export::slip::Origin;
use trundle_show::export::{
    Cell, CellKind, Export, ExportRefusal, Format, passes, records, slip, speeds,
};
use trundle_sim::{ReceiverClass, Scenario};
use trundle_tests::export_schema;
use trundle_tests::headland::{drive, headland};
use trundle_tests::held::keeps;
use trundle_tests::signed::season;
use trundle_tests::{replay_with_trail, simulate};

const SCHEMA: &str = include_str!("../../host/schemas/trundle-export-1.schema.json");

fn origin(name: &str) -> Origin {
    Origin {
        capture: name.to_owned(),
        capture_sha256: "ab".repeat(32),
        started_utc: "2026-05-01T08:00:00.000Z".to_owned(),
        practice: true,
    }
}

static SEASON: LazyLock<Vec<RecordV1>> = LazyLock::new(season);

/// One of each kind, two captures of slip.
static EXPORTS: LazyLock<Vec<Export>> = LazyLock::new(|| {
    let driven = drive(&headland(ReceiverClass::Corrected), 1).slip().unwrap();
    let slips = [(origin("-first.capture"), driven.clone()), (origin("second.capture"), driven)];
    let steps = Scenario::named("speed-steps").unwrap();
    let (log, _) = simulate(&steps, 1, None);
    let trail = replay_with_trail(&log, THINNED_US).trail().unwrap();
    let compared = trundle_core::survey::speeds::speeds(&trail, SpeedsOptions::default()).unwrap();
    vec![
        records::export(&SEASON).unwrap(),
        passes::export(&SEASON).unwrap(),
        speeds::export(&[(origin("a.capture"), compared)]),
        slip::export(&slips),
    ]
});

fn text(export: &Export, format: Format, raw: bool) -> String {
    String::from_utf8(export.bytes(format, raw).unwrap()).unwrap()
}

fn json(export: &Export) -> Value {
    serde_json::from_str(&text(export, Format::Json, false)).unwrap()
}

#[test]
fn every_table_keeps_to_the_schema_that_its_columns_ask_for() {
    let committed: Value = serde_json::from_str(SCHEMA).unwrap();
    let asked = export_schema::schema();
    assert_eq!(committed, asked, "the bin make-exports writes the schema anew");
    let all: Vec<Value> = EXPORTS.iter().map(json).collect();
    keeps(SCHEMA, &all);
    let validator = jsonschema::draft202012::new(&committed).unwrap();
    for value in all {
        assert!(!value["rows"].as_array().unwrap().is_empty());
        let mut wrong = value.clone();
        wrong["table"] = "wheels".into();
        assert!(!validator.is_valid(&wrong), "a table that is not described");
        let mut wrong = value;
        wrong["rows"][0]["surplus"] = 1.into();
        assert!(!validator.is_valid(&wrong), "a column that is not described");
    }
}

#[test]
fn columns_have_names_of_their_own_with_their_units() {
    let unit = [
        "_m",
        "_s",
        "_hz",
        "_deg",
        "_kpa",
        "_kg",
        "_c",
        "_percent",
        "_per_100m",
        "_bytes",
        "_per_revolution",
    ];
    let without = [
        "slip",
        "standard_uncertainty",
        "impulses",
        "coverage_factor",
        "coverage_probability",
        "degrees_of_freedom",
        "wheel_deviation",
        "radar_deviation",
        "as_left_shown_over_true",
        "as_left_shown_over_true_expanded_uncertainty",
    ];
    for table in export_schema::tables() {
        let names: BTreeSet<&str> = table.heads.iter().map(|head| head.name).collect();
        assert_eq!(names.len(), table.heads.len(), "{}", table.name);
        for head in table.heads {
            let named = match head.kind {
                CellKind::Number => {
                    unit.iter().any(|unit| head.name.ends_with(unit))
                        || without.contains(&head.name)
                }
                CellKind::Time => head.name.ends_with("utc"),
                _ => true,
            };
            assert!(named, "{}: {} has no unit", table.name, head.name);
        }
    }
}

#[test]
fn every_column_has_a_value_somewhere() {
    // Nobody told these of the invented records, and nothing was wrong with the drives.
    let empty = [
        "tyre_wear_percent",
        "tyre_ballast_kg",
        "customer",
        "inflation_kpa",
        "as_left_per_100m",
        "accepted_because",
        "flags",
    ];
    for export in EXPORTS.iter() {
        for (at, head) in export.table.heads.iter().enumerate() {
            let told = export.table.column(at).any(|cell| match cell {
                Cell::Empty => false,
                Cell::Words(words) => !words.is_empty(),
                _ => true,
            });
            assert!(told || empty.contains(&head.name), "{}: {}", export.table.name, head.name);
        }
    }
}

#[test]
fn csv_says_what_the_json_says() {
    for export in EXPORTS.iter() {
        let name = export.table.name;
        let values = json(export);
        for raw in [false, true] {
            let written = text(export, Format::Csv, raw);
            let mut reader = csv::Reader::from_reader(written.as_bytes());
            let names = reader.headers().unwrap().clone();
            let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
            assert_eq!(rows.len(), values["rows"].as_array().unwrap().len(), "{name}");
            for (row, value) in rows.iter().zip(values["rows"].as_array().unwrap()) {
                for (key, cell) in names.iter().zip(row) {
                    same(cell, &value[key], raw);
                }
            }
        }
    }
}

/// A cell of CSV and a value of JSON: numbers to the last bit.
fn same(cell: &str, value: &Value, raw: bool) {
    let guarded = |said: &str| {
        let formula = said.starts_with(['=', '+', '-', '@', '\t', '\r', '＝', '＋', '－', '＠']);
        if formula && !raw { format!("'{said}") } else { said.to_owned() }
    };
    match value {
        Value::Null => assert_eq!(cell, ""),
        Value::Bool(truth) => assert_eq!(cell, truth.to_string()),
        Value::Number(number) => {
            let (here, there) = (cell.parse::<f64>().unwrap(), number.as_f64().unwrap());
            assert_eq!(here.to_bits(), there.to_bits(), "{cell}");
        }
        Value::String(said) => assert_eq!(cell, guarded(said)),
        Value::Array(words) => {
            let words: Vec<&str> = words.iter().map(|word| word.as_str().unwrap()).collect();
            assert_eq!(cell, guarded(&words.join(" ")));
        }
        Value::Object(_) => panic!("a cell is no object"),
    }
}

#[test]
fn spreadsheets_get_no_formulas_and_keep_their_numbers() {
    let signed = &EXPORTS[0];
    let written = text(signed, Format::Csv, false);
    assert!(written.contains(",'=SUM(A1:A9),"), "the operator's name");
    assert!(written.contains("'－ full width, größer"));
    assert!(written.contains(",-3.5,"), "degrees below zero stay a number");
    let raw = text(signed, Format::Csv, true);
    assert!(raw.contains(",=SUM(A1:A9),") && !raw.contains("'="));
    // RFC 4180, 2.6 and 2.7: line ends and quotes inside a cell.
    assert!(written.contains("\"Field \"\"behind the barn\"\", north\r\nend\""));
}

#[test]
fn records_say_what_was_signed_off() {
    let rows = json(&EXPORTS[0])["rows"].as_array().unwrap().clone();
    assert_eq!(rows.len(), SEASON.len());
    for (row, record) in rows.iter().zip(SEASON.iter()) {
        let work = record.worked().unwrap().unwrap();
        let best = work.channels["wheel"].best().unwrap();
        assert_eq!(row["id"], record.id);
        assert_eq!(row["issued_utc"], record.issued_utc);
        assert_eq!(row["value_per_100m"].as_f64(), Some(best.impulses_per_100m));
        let u = row["standard_uncertainty_per_100m"].as_f64();
        assert_eq!(u, Some(best.standard_uncertainty));
        assert_eq!(row["degrees_of_freedom"].as_f64(), best.degrees_of_freedom);
        assert_eq!(row["to_enter_per_100m"].as_i64(), record.to_enter);
        assert_eq!(row["tyre_inflation_kpa"].as_f64(), Some(120.0));
        assert_eq!(row["state"], work.state);
    }
    let last = rows.last().unwrap();
    assert_eq!(last["amends"], rows[2]["id"]);
    let passes = json(&EXPORTS[1]);
    let work = SEASON[0].worked().unwrap().unwrap();
    let of_first: Vec<&Value> = passes["rows"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|row| row["record"] == SEASON[0].id && row["channel"] == "wheel")
        .collect();
    assert_eq!(of_first.len(), work.channels["wheel"].passes.len());
    for (row, pass) in of_first.iter().zip(&work.channels["wheel"].passes) {
        assert_eq!(row["by_tape_per_100m"].as_f64(), pass.by_tape());
        assert_eq!(row["start_utc"].as_str(), pass.start_utc.as_deref());
        assert_eq!(row["signed_off"], true);
    }
}

#[test]
fn captures_stay_apart_on_the_map() {
    let slips = &EXPORTS[3];
    let read = gpx::read(text(slips, Format::Gpx, false).as_bytes()).unwrap();
    let sources: Vec<&str> = read.tracks.iter().map(|t| t.source.as_deref().unwrap()).collect();
    let half = sources.len() / 2;
    assert!(sources[..half].iter().all(|source| *source == "-first.capture"));
    assert!(sources[half..].iter().all(|source| *source == "second.capture"));
    let map: GeoJson = text(slips, Format::GeoJson, false).parse().unwrap();
    let GeoJson::FeatureCollection(FeatureCollection { features, .. }) = map else {
        panic!("no collection");
    };
    assert_eq!(features.len(), slips.table.rows.len());
    for (feature, row) in features.iter().zip(json(slips)["rows"].as_array().unwrap()) {
        let properties = Value::Object(feature.properties.clone().unwrap());
        assert_eq!(&properties, row, "the properties are the row");
    }
}

#[test]
fn what_has_no_places_makes_no_map() {
    for export in &EXPORTS[..3] {
        for format in [Format::GeoJson, Format::Gpx] {
            let refused = export.bytes(format, false).unwrap_err();
            let table = export.table.name;
            assert_eq!(refused, ExportRefusal::NoPlaces { format, table });
            assert!(refused.to_string().contains(table) && !refused.means().is_empty());
            assert!(refused.next().contains(".csv"));
        }
    }
}

#[test]
fn the_end_of_a_name_tells_the_format() {
    for format in Format::ALL {
        assert_eq!(Format::of_file(&format!("a.b.{}", format.word())), Ok(format));
        assert_eq!(Format::of_file(&format!("A.{}", format.word().to_uppercase())), Ok(format));
    }
    for name in ["csv", "a.xlsx", "a.", ""] {
        let refused = Format::of_file(name).unwrap_err();
        assert!(refused.next().contains("--format"), "{name}: {refused}");
    }
}
