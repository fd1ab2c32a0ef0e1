//! The implement bus on the live screens: the same words in the terminal and on the page.

use super::bench::{Bench, MS, picture};
use super::render;
use trundle_core::capture::PortRole;
use trundle_core::fitness::Loss;
use trundle_core::fitness::look::{LinkLook, LiveEvent};
use trundle_core::session::bus::BusKey;
use trundle_core::wire::bus::message::{BusSpeed, SelectedSource};
use trundle_core::wire::bus::reader::BusSample;
use trundle_show::live::keys::Open;
use trundle_show::live::page::{Shown, Value, shown};
use trundle_show::model::View;

const UNIT: u8 = 0xF0;

fn listening() -> Bench {
    let mut bench = Bench::new();
    bench.look.bus = Some(LinkLook { open: true, age_s: Some(0.01) });
    bench
}

fn says(
    bench: &mut Bench,
    sender: u8,
    kind: BusSpeed,
    speed_mm_s: Option<u16>,
    source: Option<SelectedSource>,
) {
    let (host_ns, distance, direction) = (bench.look.now_ns, None, None);
    let sample = BusSample { host_ns, sender, kind, speed_mm_s, distance, direction, source };
    bench.look.bus_now.speeds.insert(BusKey { sender, kind }, sample);
}

/// Wheel and ground, and the ground-based one handed on.
fn three(bench: &mut Bench) {
    says(bench, UNIT, BusSpeed::Wheel, Some(2_250), None);
    says(bench, UNIT, BusSpeed::Ground, Some(2_222), None);
    says(bench, UNIT, BusSpeed::Selected, Some(2_222), Some(SelectedSource::Ground));
}

/// What both show: rows of the terminal that speak of the bus, and the page.
fn both(view: &View) -> (String, Shown) {
    let drawn = picture(&render(view, &Open::Job, (132, 50), true));
    let rows = drawn.lines().filter(|row| row.starts_with("Bus")).collect();
    (rows, shown(view))
}

fn values(shown: &Shown) -> Vec<String> {
    let value = |value: &Value| {
        let since = value.stale.as_deref().map_or(String::new(), |at| format!(" since {at}"));
        format!("{} {} {}{since}", value.label, value.value, value.unit).trim_end().to_owned()
    };
    shown.bus.iter().map(value).collect()
}

fn link(shown: &Shown) -> Option<(&str, bool)> {
    let bus = shown.links.iter().find(|line| line.label == "Bus");
    bus.map(|line| (line.words.as_str(), line.beware))
}

#[test]
fn the_speeds_on_the_bus_stand_beside_the_others_and_which_one_is_handed_on() {
    let (row, shown) = both(&Bench::new().view());
    assert_eq!((row.as_str(), link(&shown), shown.bus.len()), ("", None, 0), "no adapter");
    let mut bench = listening();
    let (row, shown) = both(&bench.view());
    assert_eq!(row, "Bus       no usable data yet");
    assert_eq!((link(&shown), shown.bus.len()), (Some(("no usable data yet", true)), 0));
    three(&mut bench);
    let (row, shown) = both(&bench.view());
    assert_eq!(row, "Bus       wheel 8.1 km/h   ground 8.0 km/h   selected (from ground) 8.0 km/h");
    assert_eq!(
        values(&shown),
        ["Bus: wheel 8.1 km/h", "Bus: ground 8.0 km/h", "Bus: selected (from ground) 8.0 km/h"]
    );
    assert_eq!(link(&shown), Some(("live: speeds received", false)));
}

#[test]
fn what_is_not_available_on_the_bus_is_absent_and_a_made_up_speed_is_called_so() {
    let mut bench = listening();
    three(&mut bench);
    says(&mut bench, UNIT, BusSpeed::Ground, None, None);
    says(&mut bench, UNIT, BusSpeed::Selected, Some(2_222), Some(SelectedSource::Simulated));
    let (row, shown) = both(&bench.view());
    assert_eq!(row, "Bus       wheel 8.1 km/h   ground -   selected (SIMULATED) 8.0 km/h");
    let expected = ["Bus: wheel 8.1 km/h", "Bus: ground -", "Bus: selected (SIMULATED) 8.0 km/h"];
    assert_eq!(values(&shown), expected);
    says(&mut bench, 0x17, BusSpeed::Wheel, Some(2_500), None);
    let (row, _) = both(&bench.view());
    assert!(row.contains("wheel of 23 9.0 km/h") && row.contains("wheel of 240 8.1 km/h"), "{row}");
    assert!(row.contains("selected of 240 (SIMULATED) 8.0 km/h"), "{row}");
}

#[test]
fn an_adapter_that_is_lost_and_found_again_is_told_on_both_screens() {
    let mut bench = listening();
    three(&mut bench);
    let detail = String::new();
    let (role, loss) = (PortRole::Bus, Loss::Gone);
    bench.happened(&LiveEvent::PortLost { role, loss, detail });
    bench.look.bus.as_mut().unwrap().open = false;
    bench.wait_ms(6_000);
    let since = bench.look.at(bench.look.now_ns - 6_000 * MS);
    let (row, shown) = both(&bench.view());
    assert!(row.contains(&format!("DISCONNECTED, no data since {since}")), "{row}");
    assert!(row.contains("wheel STALE (8.1 km/h)"), "{row}");
    assert_eq!(values(&shown)[0], format!("Bus: wheel 8.1 km/h since {since}"));
    assert_eq!(link(&shown).map(|line| line.1), Some(true));
    let told =
        |shown: &Shown| shown.troubles.iter().any(|found| found.words.contains("bus adapter"));
    assert!(told(&shown), "{:?}", shown.troubles);
    bench.happened(&LiveEvent::PortFound { role, place: None });
    bench.look.bus.as_mut().unwrap().open = true;
    // Open again, and nothing has come yet.
    let (row, shown) = both(&bench.view());
    assert!(row.contains(&format!("STALE, no data since {since}")) && !told(&shown), "{row}");
    three(&mut bench);
    let (row, shown) = both(&bench.view());
    assert!(row.starts_with("Bus       wheel 8.1 km/h"), "{row}");
    assert!(shown.said[0].contains("The bus adapter is connected again"), "{:?}", shown.said);
}

/// The others on the bus talk on, and the port is as alive as ever.
#[test]
fn a_control_unit_that_falls_silent_among_others_is_stale() {
    let mut bench = listening();
    three(&mut bench);
    bench.wait_ms(3_000);
    says(&mut bench, UNIT, BusSpeed::Ground, Some(2_222), None);
    let (row, shown) = both(&bench.view());
    assert!(row.contains("wheel STALE (8.1 km/h)   ground 8.0 km/h"), "{row}");
    assert_eq!(link(&shown), Some(("live: speeds received", false)));
    assert!(values(&shown)[0].contains("since"), "{:?}", values(&shown));
    bench.wait_ms(3_000);
    let (row, _) = both(&bench.view());
    assert!(row.starts_with("Bus       STALE, no data since"), "{row}");
}
