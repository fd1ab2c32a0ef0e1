//! The frozen evidence of `logs/` through the built program: `trundle work` gives the stored
//! result to the byte, in any time zone and locale. What those results are worth is judged in
//! the test package.

use crate::support::{ELSEWHERE, in_tree, json, trundle_in};

#[test]
fn work_gives_the_stored_results_here_and_elsewhere() {
    let mut seen = 0;
    for entry in std::fs::read_dir(in_tree("logs")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|end| end != "capture") {
            continue;
        }
        let name = path.file_stem().unwrap().to_str().unwrap();
        let golden = in_tree(&format!("tests/data/golden/{name}.work.json"));
        let golden = std::fs::read_to_string(golden).unwrap();
        let code = if json(&golden)["state"] == "valid" { 0 } else { 1 };
        for variables in [&[][..], &ELSEWHERE] {
            let path = path.display().to_string();
            let worked = trundle_in(&["work", &path, "--json"], variables);
            assert_eq!(worked.stdout, golden, "{name} under {variables:?}");
            assert_eq!(worked.code, Some(code), "{name}");
        }
        seen += 1;
    }
    assert!(seen >= 4, "{seen} captures");
}
