//! `trundle demo`, as the README gives it, only shorter.

use crate::support::job::kept_up;
use crate::support::{TempDir, best, json, trundle};

#[test]
fn the_demonstration_measures_a_job_and_leaves_its_three_files() {
    kept_up(40.0, demonstrate);
}

fn demonstrate(pace: f64) -> Option<()> {
    let (folder, pace) = (TempDir::new(), pace.to_string());
    let out = folder.file("demonstration");
    let ran = trundle(&["demo", "--pace", &pace, "--passes", "2", "--out", &out]);
    let capture = format!("{out}/demo.capture");
    let written = std::fs::read_to_string(format!("{out}/demo.json")).unwrap();
    let again = trundle(&["work", &capture, "--json"]);
    assert_eq!(written.trim_end(), again.stdout.trim_end(), "demo.json is not what work gives");
    let result = json(&again.stdout);
    // Two passes are few, which is flagged; the code says so.
    let code = if result["state"] == "valid" { 0 } else { 1 };
    assert_eq!((ran.code, again.code), (Some(code), Some(code)), "{}", ran.stderr);
    let (figure, half_width) = best(&result, "wheel").unwrap();
    assert!(half_width / figure < 0.02, "{figure} ± {half_width}");
    assert!(ran.stdout.contains("The simulated wheel truly gives"), "{}", ran.stdout);
    assert!(ran.stdout.contains(&capture), "{}", ran.stdout);
    let page = std::fs::read_to_string(format!("{out}/demo.html")).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>") && page.ends_with("</html>\n"));
    assert!(written.ends_with("}\n"), "the last line is not ended");
    let names = std::fs::read_dir(&out).unwrap().count();
    assert_eq!(names, 3, "files beside the three");
    Some(())
}

#[test]
fn a_demonstration_does_not_write_into_a_folder_that_is_there() {
    let folder = TempDir::new();
    let kept = folder.write("kept", b"mine");
    let ran = trundle(&["demo", "--json", "--out", &folder.path().display().to_string()]);
    assert_eq!((ran.code, ran.stdout.as_str()), (Some(6), ""), "{}", ran.stderr);
    assert_eq!(ran.stderr.lines().count(), 3, "{}", ran.stderr);
    assert_eq!(std::fs::read(kept).unwrap(), b"mine");
}
