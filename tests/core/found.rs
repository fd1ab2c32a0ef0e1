//! The figure found against the figure measured, and the rolling circumference implied.
//!
//! Outside sources stand beside each check.

use trundle_core::figure::found::{FoundFault, as_found};
use trundle_core::figure::rolling::{rolling, socket_hint};
use trundle_core::stats::budget::{Quantity, Source, Sources};

/// A measured figure with a normal relative doubt.
fn measured(value: f64, relative: f64) -> (Quantity, Sources) {
    let mut sources = Sources::new();
    let id = sources.add(Source::normal("figure", "the value", value * relative));
    (Quantity::from_source(value, id, &sources), sources)
}

/// The controller holds litres per hectare for the speed it believes, and rate = flow over speed
/// and width (Wunderlich and Giles, University of California), so that a figure e % too high
/// applies -e/(1 + e): seven rows computed exactly from that relation.
#[test]
fn a_figure_too_high_applies_too_little_by_e_over_one_plus_e() {
    let rows = [
        (-5.0, 5.263_158),
        (-2.0, 2.040_816),
        (-1.0, 1.010_101),
        (1.0, -0.990_099),
        (2.0, -1.960_784),
        (5.0, -4.761_905),
        (10.0, -9.090_909),
    ];
    for (figure_percent, rate_percent) in rows {
        let (figure, sources) = measured(13_000.0, 1e-4);
        let found = 13_000.0 * (1.0 + figure_percent / 100.0);
        let a = as_found(found, &figure, &sources, None).unwrap();
        assert!((100.0 * a.value_error.value - figure_percent).abs() < 1e-9);
        let rate = 100.0 * a.applied_rate_error.value;
        assert!((rate - rate_percent).abs() < 5e-7, "{figure_percent}: {rate}");
        assert!(a.significant);
    }
}

/// Rate worked twice over, from flow and true speed: l/ha = 600 q/(v w), printed as 1.3 l/min at
/// 7.8 km/h and 0.5 m giving 200 l/ha (farm press quoting advisory formulae). The controller sets
/// the flow for the believed speed; what that gives at the true speed must be what is told.
#[test]
fn the_litres_per_hectare_follow_from_flow_and_true_speed() {
    let (v_km_h, width_m, wanted) = (7.8, 0.5, 200.0);
    let rate_l_per_ha = |flow_l_per_min: f64| 600.0 * flow_l_per_min / (v_km_h * width_m);
    assert!((rate_l_per_ha(1.3) - wanted).abs() < 1e-9);
    let (figure, sources) = measured(12_500.0, 2e-4);
    for found in [11_900.0, 13_400.0] {
        let a = as_found(found, &figure, &sources, Some(wanted)).unwrap();
        let impulses_per_s = 12_500.0 / 100.0 * v_km_h / 3.6;
        let believed_km_h = impulses_per_s / found * 100.0 * 3.6;
        assert!((v_km_h * (1.0 + a.applied_rate_error.value) - believed_km_h).abs() < 1e-9);
        let flow = wanted * believed_km_h * width_m / 600.0;
        let applied = rate_l_per_ha(flow);
        assert!((wanted + a.difference_l_per_ha.unwrap() - applied).abs() < 1e-9, "{found}");
    }
}

#[test]
fn the_sentence_has_the_signs_right() {
    let (figure, sources) = measured(13_000.0, 2e-4);
    let high = as_found(13_400.0, &figure, &sources, None).unwrap().sentence;
    assert_eq!(
        high,
        "The old value 13400 was 3.1 % too high (±0.04 %): the implement believed it drove 3.0 % \
         slower than it did, and applied 3.0 % too little."
    );
    let low = as_found(12_350.0, &figure, &sources, Some(200.0)).unwrap().sentence;
    assert_eq!(
        low,
        "The old value 12350 was 5.0 % too low (±0.04 %): the implement believed it drove 5.3 % \
         faster than it did, and applied 5.3 % too much. Set to 200 l/ha it put out 210.5 \
         l/ha, 10.5 l/ha more than wanted."
    );
    let thousand = as_found(130_000.0, &figure, &sources, None).unwrap().sentence;
    assert!(thousand.contains("another length than 100 m"), "{thousand}");
}

/// The law of propagation on a ratio with one doubtful part (JCGM 100, 5.1.6): relative doubts
/// carry over; normal, so k is 1.959964 (JCGM 100, table G.2, infinite degrees of freedom).
#[test]
fn within_the_doubt_nothing_is_said_to_be_wrong() {
    let (figure, sources) = measured(13_000.0, 1e-3);
    let a = as_found(13_020.0, &figure, &sources, None).unwrap();
    assert!(!a.significant);
    assert!(a.sentence.contains("nothing shows that it was wrong"), "{}", a.sentence);
    let expanded = a.value_error.expanded.expanded_uncertainty;
    assert!((expanded - 1.959_964e-3 * 13_020.0 / 13_000.0).abs() < 1e-8, "{expanded}");
    let rate = a.applied_rate_error.expanded.standard_uncertainty;
    assert!((rate - 1e-3 * 13_000.0 / 13_020.0).abs() < 1e-12, "{rate}");
    assert!(as_found(13_040.0, &figure, &sources, None).unwrap().significant);
}

#[test]
fn numbers_that_cannot_be_are_refused() {
    let (figure, sources) = measured(13_000.0, 1e-3);
    for found in [0.0, -13_000.0, f64::NAN, f64::INFINITY] {
        let refused = as_found(found, &figure, &sources, None).unwrap_err();
        assert!(matches!(refused, FoundFault::Figure(_)), "{found}");
    }
    assert!(as_found(13_000.0, &figure, &sources, Some(-1.0)).is_err());
    for (turn, tyre) in [(0.0, None), (f64::NAN, None), (60.0, Some(461.0))] {
        assert!(rolling(&figure, &sources, turn, tyre).is_err(), "{turn} {tyre:?}");
    }
}

/// Circumference from geometry: a wheel of rolling radius 0.47 m rolls 2 pi 0.47 = 2.953097 m in
/// a turn (the radius of a printed examination example: GATE agricultural engineering, nominal
/// 0.5 m less 6 %; 20 turns 59.0619 m), so that 60 impulses per turn are 2031.7653 per 100 m.
#[test]
fn the_rolling_circumference_is_that_of_the_wheel() {
    let circumference_m = 59.0619 / 20.0;
    let (figure, sources) = measured(60.0 * 100.0 / circumference_m, 5e-4);
    let r = rolling(&figure, &sources, 60.0, None).unwrap();
    assert!((r.circumference.value() - 2.0 * std::f64::consts::PI * 0.47).abs() < 1e-5);
    let relative = r.circumference.standard_uncertainty() / r.circumference.value();
    assert!((relative - 5e-4).abs() < 1e-12);
    assert_eq!(r.plausible, None);
}

/// Load and pressure change the rolling circumference by 0.5 to 3 % (from memory): the tolerance.
#[test]
fn tyre_data_fit_within_tolerance_and_doubt() {
    let (figure, sources) = measured(1300.0, 1e-3);
    let implied_m = 100.0 * 60.0 / 1300.0;
    for (factor, fits) in [(1.0, true), (1.029, true), (0.972, true), (1.05, false), (0.9, false)] {
        let tyre = implied_m / factor;
        let r = rolling(&figure, &sources, 60.0, Some(tyre)).unwrap();
        assert!((r.difference.unwrap() - (factor - 1.0)).abs() < 1e-12);
        assert_eq!(r.plausible, Some(fits), "{factor}");
        let word = if factor > 1.0 { "more than" } else { "less than" };
        assert!(factor == 1.0 || r.sentence.contains(word), "{}", r.sentence);
    }
}

/// ISO 11786:1995, 5.2.3 (restated in public, number from memory): 130 per metre, 5 % either way,
/// 12350 to 13650 per 100 m.
#[test]
fn the_socket_standard_is_a_hint_only() {
    for (figure, place) in [
        (12_349.0, "outside"),
        (12_350.0, "within"),
        (13_000.0, "within"),
        (13_650.0, "within"),
        (13_651.0, "outside"),
    ] {
        let hint = socket_hint(figure);
        let start = format!("The value is {place} the socket standard's tolerance");
        assert!(hint.starts_with(&start), "{hint}");
        assert!(hint.contains("that is no proof"), "{hint}");
    }
}
