//! A job with the implement bus: its speeds stand on the page beside those of board and receiver.

use super::client::Served;
use crate::support::LIMIT;
use std::time::{Duration, Instant};
use trundle_sim::Scenario;

#[test]
fn the_speeds_on_the_bus_are_on_the_page_and_which_one_is_handed_on() {
    let scenario = Scenario { lead_in_s: 3600.0, ..Scenario::named("bus").unwrap() };
    let served = Served::start(&scenario, 1.0);
    assert!(served.get("/").body.contains("id=\"bus\""));
    let since = Instant::now();
    let shown = loop {
        let shown = served.shown();
        let rows = shown["bus"].as_array().unwrap();
        if rows.len() == 3 && rows.iter().all(|row| row["stale"].is_null()) {
            break shown;
        }
        assert!(since.elapsed() < LIMIT, "{shown:#}");
        std::thread::sleep(Duration::from_millis(100));
    };
    let row = |n: usize, key: &str| shown["bus"][n][key].as_str().unwrap().to_owned();
    let labels = [row(0, "label"), row(1, "label"), row(2, "label")];
    assert_eq!(labels, ["Bus: wheel", "Bus: ground", "Bus: selected (from wheel)"]);
    assert_eq!((row(0, "value"), row(0, "unit")), ("0.0".to_owned(), "km/h".to_owned()));
    let link = shown["links"].as_array().unwrap().iter().find(|link| link["label"] == "Bus");
    assert_eq!(link.unwrap()["words"], "live: speeds received", "{shown:#}");
    let Served { program, tractor, .. } = served;
    drop(program);
    tractor.stop();
}
