//! The live page in the units of its reader.

use super::bench::Bench;
use trundle_show::live::page::{Shown, in_units, shown};
use trundle_show::reading::{LengthUnit, Reading, SpeedUnit};

fn both(bench: &mut Bench, reading: &Reading) -> (Shown, Shown) {
    let view = bench.view();
    (shown(&view), in_units(shown(&view), &view, reading))
}

#[test]
fn nothing_changes_for_a_reader_of_km_h_and_metres() {
    let mut bench = Bench::new();
    bench.start(1);
    bench.drive(60.0);
    let (plain, same) = both(&mut bench, &Reading::default());
    assert_eq!(plain, same);
}

#[test]
fn speeds_and_distances_to_the_peg_are_in_the_readers_units() {
    let feet = Reading { speed: SpeedUnit::Mph, length: LengthUnit::Feet, ..Reading::default() };
    let mut bench = Bench::new();
    bench.start(1);
    bench.drive(60.0);
    let km_h = bench.view().speeds.satellite.km_h.unwrap();
    let (plain, own) = both(&mut bench, &feet);
    // A mile is 1.609344 km (NIST SP 811, B.8, from memory).
    let mph = format!("{:.1}", km_h / 1.609_344);
    let of = |shown: &Shown| {
        let satellite = shown.speeds.iter().find(|value| value.label.contains("satellite"));
        satellite.map(|value| (value.value.clone(), value.unit)).unwrap()
    };
    assert_eq!(of(&plain), (format!("{km_h:.1}"), "km/h"));
    assert_eq!(of(&own), (mph, "mph"));
    // 60 m are 197 ft, the 40 m that are left 131 ft.
    assert!(plain.strip.words.contains("60 m from the start, about 40 m"), "{}", plain.strip.words);
    assert!(own.strip.words.contains("197 ft from the start, about 131 ft"), "{}", own.strip.words);
    assert!(
        plain.next.contains(" 40 m to go") && own.next.contains(" 131 ft to go"),
        "{}",
        own.next
    );
}
