//! `trundle demo --inside`: the lines stay within the program, as they do on Windows.

use crate::support::job::kept_up;
use crate::support::{TempDir, best, json, trundle};

#[test]
fn without_pseudo_terminals_the_demonstration_measures_the_same_job() {
    kept_up(40.0, demonstrate);
}

fn demonstrate(pace: f64) -> Option<()> {
    let (folder, pace) = (TempDir::new(), pace.to_string());
    let out = folder.file("inside");
    let ran = trundle(&["demo", "--inside", "--pace", &pace, "--passes", "2", "--out", &out]);
    let written = std::fs::read_to_string(format!("{out}/demo.json")).unwrap();
    let again = trundle(&["work", &format!("{out}/demo.capture"), "--json"]);
    assert_eq!(written.trim_end(), again.stdout.trim_end(), "demo.json is not what work gives");
    let result = json(&again.stdout);
    assert_eq!(ran.code, again.code, "{}", ran.stderr);
    let passes = result["channels"]["wheel"]["passes"].as_array().unwrap().len();
    assert_eq!(passes, 2, "{}", again.stdout);
    let (figure, half_width) = best(&result, "wheel").unwrap();
    assert!(half_width / figure < 0.02, "{figure} ± {half_width}");
    assert!(ran.stdout.contains("The simulated wheel truly gives"), "{}", ran.stdout);
    assert!(!ran.stderr.contains("lost"), "a line was lost: {}", ran.stderr);
    Some(())
}
