//! A proof drive signed off through the built program, with its course and alone: took, did not
//! take, nothing read; verified after the register has changed, listed, printed, sent out, amended.

use super::Desk;
use super::visit::{id, outcomes, recorded};
use crate::support::json;
use serde_json::Value;
use trundle_sim::{Keyed, Scenario, Terminal, Truth};

/// One tractor throughout.
const SEED: u64 = 7;
/// Found in its terminal before.
const OLD: f64 = 13_400.0;
const COURSE: &str =
    "[course]\nnominal_m = 100.0\n\n[tape]\nclass = \"II\"\ntemperature_c = 20.0\n";

/// A desk with the capture of a course, taken for a real one, and what it gives to enter.
fn desk() -> (Desk, String, f64) {
    let desk = Desk::with_rig();
    let scenario = Scenario { passes: 6, ..Scenario::default() };
    let course = recorded(&scenario, SEED, Some(COURSE), false, |_| Vec::new());
    let course = desk.folder.write("course.capture", &course);
    let work = json(&desk.run(&["work", &course, "--json"]).stdout);
    let to_enter = work["channels"]["wheel"]["value_to_enter"].as_f64().unwrap();
    (desk, course, to_enter)
}

/// The capture of a proof drive over that course with this value in force, its distance read at
/// both pegs of two passes.
fn proof_drive(desk: &Desk, in_force: f64) -> String {
    let terminal = Terminal { keyed: Keyed::Value(in_force), ..Terminal::default() };
    let scenario = Scenario { passes: 2, terminal: Some(terminal), ..Scenario::default() };
    let typed = |truth: &Truth| {
        let shown = truth.terminal.iter().flat_map(|terminal| &terminal.shown);
        let at_pegs = shown.filter(|shown| shown.pass.is_some());
        let note = |shown: &trundle_sim::Shown| {
            let text = shown.distance_text(terminal.distance_step_m);
            (shown.sim_us as f64 * 1e-6 + 1.5, format!("shown distance {text}"))
        };
        at_pegs.map(note).collect()
    };
    let bytes = recorded(&scenario, SEED, Some(COURSE), false, typed);
    desk.folder.write(&format!("proof-{in_force}.capture"), &bytes)
}

fn part(record: &Value) -> &Value {
    record["parts"].as_array().unwrap().last().unwrap()
}

fn known<'a>(record: &'a Value, origin: &str) -> Vec<&'a Value> {
    let known = part(record)["method"]["known"].as_array().unwrap();
    let mine = known.iter().filter(|one| one["origin"] == origin);
    mine.map(|one| &one["impulses_per_100m"]).collect()
}

#[test]
fn the_value_left_is_measured_by_a_proof_drive_and_verified_when_the_register_has_changed() {
    let (desk, course, to_enter) = desk();
    let drive = proof_drive(&desk, to_enter);
    let sign = ["sign", &course, "--as-found", "13400", "--proof", &drive, "--json"];
    let record = json(&desk.done(&sign));
    assert_eq!(part(&record)["result"]["state"], "took", "{record:#}");
    assert_eq!((&record["practice"], &record["as_left"]), (&Value::Bool(false), &Value::Null));
    assert_eq!(known(&record, "entered"), [to_enter]);
    assert_eq!(known(&record, "old"), [OLD]);
    // The very bytes of its own command, told the same.
    let shown = desk.done(&["record", "show", &id(&record), "--json"]);
    let (entered, other) = (to_enter.to_string(), known(&record, "other_sensor")[0].to_string());
    let told = ["--entered", &entered, "--old", "13400", "--other", &other, "--source", "wheel"];
    let own = desk.done(&[&["proof", &drive, "--json"][..], &told].concat());
    assert!(shown.contains(own.trim_end()), "{own}");
    let said = desk.done(&["record", "show", &id(&record)]);
    assert!(said.contains("; as left, measured: took, shown over true"), "{said}");
    let listed = desk.done(&["record", "list"]);
    assert!(listed.contains("with proof drive: took"), "{listed}");

    // A newer record of the rig would make the register say other values, of which nothing reaches
    // the record that is there.
    let newer = json(&desk.done(&["sign", &course, "--as-left", "12000", "--json"]));
    let verdict = json(&desk.done(&["record", "verify", &id(&record), "--json"]));
    assert_eq!(verdict["records"][0]["outcome"], "same bytes");
    assert_eq!(outcomes(&verdict), ["same bytes"]);
    // Alone, the drive goes by what the register says now: another value is taken for keyed in.
    let alone = ["sign", "--proof", &drive, "--json", "--because", "a test"];
    let alone = json(&desk.done(&alone));
    assert_eq!(known(&alone, "entered"), [12_000.0]);
    assert!(known(&alone, "old").contains(&&Value::from(to_enter)), "{alone:#}");
    assert_eq!(part(&alone)["result"]["state"], "did_not_take");
    assert!(desk.done(&["record", "verify", "--all"]).contains("3 of 3 records hold"));
    assert_ne!(id(&newer), id(&alone));
}

#[test]
fn a_value_that_did_not_take_is_said_on_both_papers_in_lists_and_in_columns() {
    let (desk, course, to_enter) = desk();
    let drive = proof_drive(&desk, OLD);
    let left = to_enter.to_string();
    let sign = [
        "sign",
        &course,
        "--as-found",
        "13400",
        "--as-left",
        &left,
        "--rate",
        "200",
        "--proof",
        &drive,
    ];
    let refused = desk.refused(&sign, 1);
    assert!(refused.contains("The proof drive (proof-13400.capture) is flagged"), "{refused}");
    assert!(refused.contains("the old value 13400 is still in force"), "{refused}");
    let signed =
        desk.done(&[&sign[..], &["--because", "the dealer sees to it", "--json"]].concat());
    let record = id(&json(&signed));
    let contradicted = format!(
        "Typed as left in the terminal: {left}; as left, measured: it did not take: the old value \
         13400 is still in force."
    );
    let said = desk.done(&["record", "show", &record]);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains(&contradicted), "{said}");
    for short in [&[][..], &["--short"]] {
        let file = desk.folder.file("page.html");
        desk.done(&[&["record", "print", &record, "--to", &file], short].concat());
        let page = std::fs::read_to_string(file).unwrap();
        assert!(page.contains(&contradicted) && page.contains("DID NOT TAKE"), "{page}");
        assert!(page.contains("l/ha"), "what it does to the rate: {page}");
    }
    let listed = desk.done(&["record", "list"]);
    assert!(listed.contains("flagged  with proof drive: DID NOT TAKE"), "{listed}");
    let listed = json(&desk.done(&["record", "list", "--json"]));
    assert_eq!(listed["records"][0]["as_left_measured"], "did_not_take");
    let columns = json(&desk.done(&["export", "records", "--format", "json"]));
    assert_eq!(columns["rows"][0]["as_left_measured"], "did_not_take", "{columns:#}");
    let ratio = columns["rows"][0]["as_left_shown_over_true"].as_f64().unwrap();
    assert!((ratio - to_enter / OLD).abs() < 0.002, "{ratio}");

    // Driven again after it was mended: the newer record says so; and the part can be left out.
    let again = proof_drive(&desk, to_enter);
    let amend = ["record", "amend", &record, "--reason", "keyed in again", "--json"];
    let newer = json(&desk.done(&[&amend[..], &["--proof", &again]].concat()));
    assert_eq!(part(&newer)["result"]["state"], "took", "{newer:#}");
    assert_eq!(known(&newer, "entered"), [to_enter]);
    let amend = ["record", "amend", &id(&newer), "--reason", "another tractor", "--json"];
    let less = json(&desk.done(&[&amend[..], &["--without", "proof"]].concat()));
    assert!(less.get("parts").is_none(), "{less:#}");
    let compared = desk.done(&["record", "compare", &record, &id(&newer)]);
    assert!(compared.contains("parts.proof.shown_over_true"), "{compared}");
}

/// The drive stays as it was judged; that the value typed now is another one is said.
#[test]
fn another_value_as_left_alone_is_held_against_the_proof_drive_that_is_there() {
    let (desk, course, to_enter) = desk();
    let drive = proof_drive(&desk, to_enter);
    let left = to_enter.to_string();
    let sign = ["sign", &course, "--as-left", &left, "--proof", &drive, "--json"];
    let record = json(&desk.done(&sign));
    let (old, other) = (id(&record), (to_enter + 300.0).to_string());
    let amend = ["record", "amend", &old, "--reason", "read again", "--as-left", &other, "--json"];
    let contradicted =
        format!("yped as left in the terminal: {other}; as left, measured: it works");
    let refused = desk.refused(&amend, 1);
    assert!(refused.contains(&contradicted), "{refused}");
    let newer = json(&desk.done(&[&amend[..], &["--because", "a test"]].concat()));
    assert_eq!(part(&newer)["result"], part(&record)["result"]);
    assert_eq!(known(&newer, "entered"), [to_enter]);
    let said = desk.done(&["record", "show", &id(&newer)]);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains(&contradicted), "{said}");
    for short in [&[][..], &["--short"]] {
        let file = desk.folder.file("page.html");
        desk.done(&[&["record", "print", &id(&newer), "--to", &file], short].concat());
        let page = std::fs::read_to_string(file).unwrap();
        assert!(page.contains(&contradicted), "{page}");
    }
    let listed = desk.done(&["record", "list"]);
    assert!(listed.contains("with proof drive: ANOTHER VALUE IS IN FORCE"), "{listed}");
}

#[test]
fn what_is_told_of_no_proof_drive_and_a_drive_without_readings_are_refused() {
    let (desk, course, _) = desk();
    let refused = desk.refused(&["sign", "--proof", &course], 1);
    assert!(
        refused.contains("there is no result for the proof drive: nothing was typed"),
        "{refused}"
    );
    let refused = desk.refused(&["sign", &course, "--entered", "12700"], 2);
    assert!(refused.contains("proof drive was given, no capture of it"), "{refused}");
    let refused = desk.refused(&["sign", &course, "--rate", "200"], 2);
    assert!(refused.contains("--as-found, or a proof drive with --proof"), "{refused}");
}
