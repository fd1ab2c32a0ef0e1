//! A slip log on the page: slip, totals and a map while it goes on, and its result at the end.

use super::client::Served;
use super::job::until_over;
use crate::support::job::kept_up;
use crate::support::{LIMIT, json, trundle};
use std::time::Instant;
use trundle_sim::Scenario;

#[test]
fn a_slip_log_is_shown_with_its_map_and_finished_from_the_page() {
    kept_up(5.0, logs);
}

fn logs(pace: f64) -> Option<()> {
    let mut scenario = Scenario::named("wet-headland").unwrap();
    scenario.passes = 2;
    scenario.lead_in_s = 40.0;
    let (_, truth) = trundle_sim::record_all(&scenario, 7);
    let figure = truth.wheel_impulses_per_100m.to_string();
    let arms = ["slip", "--zero-slip-value", &figure, "--right", "0.4", "--ahead", "1.5"];
    let served = Served::with(&scenario, pace, &arms);

    // Before there is any slip the page says what it waits for, and there is no map.
    let first = served.shown();
    assert_eq!(
        (first["slip"]["map"].as_u64(), first["main"]["value"].as_str()),
        (Some(0), Some("-"))
    );
    assert!(first["next"].as_str().unwrap().contains("drive off"), "{first}");
    assert_eq!(served.get("/map.svg").status, 404);
    let page = served.get("/").body;
    assert!(page.contains("id=\"map\"") && !page.contains("id=\"start\""), "{page}");

    let since = Instant::now();
    let shown = loop {
        let shown = served.shown();
        if shown["slip"]["map"].as_u64() >= Some(2) {
            break shown;
        }
        assert!(since.elapsed() < LIMIT, "no map: {shown}");
        std::thread::sleep(std::time::Duration::from_millis(200));
    };
    let value: f64 = shown["main"]["value"].as_str().unwrap().parse().unwrap();
    // The simulated soil: 4 % everywhere and 14 % more where it is wet.
    assert!((-2.0..30.0).contains(&value) && shown["main"]["unit"] == "%", "{shown}");
    assert!(!shown["slip"]["sections"].as_array().unwrap().is_empty(), "{shown}");
    assert_eq!(shown["start"]["on"], false);

    // A drawing that is one well-formed file and may load nothing.
    let map = served.get("/map.svg");
    assert_eq!((map.status, map.header("content-type")), (200, Some("image/svg+xml")));
    let policy = map.header("content-security-policy").unwrap();
    assert!(policy.contains("default-src 'none'; style-src 'sha256-"), "{policy}");
    assert!(map.body.starts_with("<svg xmlns") && map.body.ends_with("</svg>"), "{}", map.body);
    assert!(map.body.contains("url(#narrow-hatch-") && map.body.contains("class=\"here\""));
    assert!(!map.body.contains("<script") && !map.body.contains("NaN"));

    let note = served.press("/note", r#"{"key":"b0","text":"wet by the hedge"}"#);
    assert_eq!(note.json()["stands"], true, "{note:?}");
    let worked = served.press("/result", r#"{"key":"b1"}"#);
    assert_eq!(worked.json()["stands"], true, "{worked:?}");
    assert!(served.get("/result").body.contains("Slip along the drive"));

    let mut stream = served.listen("last");
    assert_eq!(served.press("/end", r#"{"key":"b2"}"#).json()["stands"], true);
    let said = until_over(&mut stream);
    assert!(said.contains(&served.capture), "{said}");
    let result = served.get("/result").body;
    assert!(result.contains("The recording has ended") && result.contains("id=\"map\""));
    drop(stream);
    let Served { program, capture, tractor, folder, .. } = served;
    let finished = program.finish();
    tractor.stop();
    assert!(finished.stdout.contains("Slip") || finished.stdout.contains("slip"), "{finished:?}");
    let again = trundle(&[&["slip", &capture, "--json"], &arms[1..]].concat());
    assert!(!json(&again.stdout)["sections"].as_array().unwrap().is_empty());
    drop(folder);
    let refused = trundle(&["slip", &capture, "--page"]);
    assert_eq!(refused.code, Some(2), "{}", refused.stderr);
    Some(())
}
