//! `trundle export` through the built program.

use crate::support::{Finished, TempDir, in_tree, json, trundle};

fn log(name: &str) -> String {
    in_tree(&format!("logs/{name}.capture")).display().to_string()
}

#[test]
fn speeds_of_two_captures_go_into_one_file() {
    let folder = TempDir::new();
    let (first, second) = (log("simulated-rtk"), log("simulated-corrected"));
    let Finished { code, stdout, .. } =
        trundle(&["export", "speeds", &first, &second, "--format", "json"]);
    assert_eq!(code, Some(0), "{stdout}");
    let result = json(&stdout);
    assert_eq!((&result["format"], &result["table"]), (&"trundle-export".into(), &"speeds".into()));
    let rows = result["rows"].as_array().unwrap();
    let of = |name: &str| rows.iter().filter(|row| row["capture"] == name).count();
    let (here, there) = (of("simulated-rtk.capture"), of("simulated-corrected.capture"));
    assert!(here > 0 && there > 0 && here + there == rows.len());
    for end in ["csv", "json", "parquet"] {
        let file = folder.file(&format!("speeds.{end}"));
        let done = trundle(&["export", "speeds", &first, &second, "--to", &file]);
        assert_eq!((done.code, done.stdout.as_str()), (Some(0), ""), "{}", done.stderr);
        assert!(done.stderr.contains(&format!("{} rows of speeds", rows.len())));
        let bytes = std::fs::read(&file).unwrap();
        assert!(end == "parquet" || bytes.ends_with(b"\n"), "{end}: the last line is not ended");
        if end == "json" {
            assert_eq!(String::from_utf8(bytes).unwrap(), stdout);
        }
    }
}

#[test]
fn what_cannot_be_had_is_refused_with_the_reason() {
    let folder = TempDir::new();
    let rtk = log("simulated-rtk");
    let map = folder.file("speeds.gpx");
    let odd = folder.file("speeds.table");
    for (args, said) in [
        (vec!["speeds", &rtk, "--to", &map], "speeds have no coordinates"),
        (vec!["speeds", &rtk, "--to", &odd], "--format"),
        (vec!["speeds", &rtk], "--to"),
        (vec!["speeds", &rtk, "--format", "xml"], "geojson"),
        (vec!["speeds"], "CAPTURE"),
    ] {
        let done = trundle(&[&["export"], &args[..]].concat());
        assert_eq!((done.code, done.stdout.as_str()), (Some(2), ""), "{}", done.stderr);
        assert!(done.stderr.contains(said), "{said}: {}", done.stderr);
    }
    // Without a figure on firm ground there is no slip: told, and nothing written.
    let file = folder.file("slip.csv");
    let done = trundle(&["export", "slip", &rtk, "--to", &file]);
    assert_eq!((done.code, done.stdout.as_str()), (Some(1), ""), "{}", done.stderr);
    assert!(done.stderr.contains("nothing was written"), "{}", done.stderr);
    let none = trundle(&["export", "speeds", &folder.file("none.capture"), "--to", &file]);
    assert_eq!(none.code, Some(5), "{}", none.stderr);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}
