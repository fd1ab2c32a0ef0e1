//! Values that must stay honest where the data is not what the maths would like: coarse sensors,
//! a rocking antenna, a speed that is off, a receiver that smooths, a course that bends.

use crate::figure_laws::synthetic::{Pass, window};
use trundle_core::course::tape::{CourseSpec, TapeMaterial, course_length};
use trundle_core::figure::{COVERAGE, ChannelFigures, Job, Work, WorkOptions, work};
use trundle_core::flags::Code;
use trundle_core::geodesy::{Enu, LocalPlane};
use trundle_core::session::Totals;
use trundle_core::session::window::PassWindow;
use trundle_core::stats::budget::{Quantity, Sources, cover};
use trundle_core::wire::fix::{Fix, Quality};
use trundle_tests::{change, plain_course};

const DRIVEN_M: f64 = 100.0;
const FINE_PER_M: f64 = 126.75;

fn passes(per_m: f64, count: u32) -> Vec<PassWindow> {
    let pass = |number| Pass { number, per_m, driven_m: DRIVEN_M, azimuth_deg: 70.0, fixes: true };
    (1..=count).map(|number| window(&pass(number))).collect()
}

fn worked(passes: &[PassWindow], course: Option<CourseSpec>) -> Work {
    let job = Job { passes, totals: &Totals::default(), whole: true };
    work(&job, &WorkOptions { course, ..WorkOptions::default() })
}

fn taped(passes: &[PassWindow]) -> Work {
    worked(passes, Some(plain_course(DRIVEN_M)))
}

fn channel<'w>(work: &'w Work, name: &str) -> &'w ChannelFigures {
    work.channels.iter().find(|channel| channel.name == name).unwrap()
}

fn half(quantity: &Quantity, of: &ChannelFigures) -> f64 {
    cover(quantity, &of.sources, COVERAGE).expanded_uncertainty
}

fn codes(work: &Work) -> Vec<Code> {
    work.all_flags().filter(|flag| !flag.code.is_remark()).map(|flag| flag.code).collect()
}

/// Every fix of every pass, with the seconds since the first of its pass.
fn each_fix(passes: &mut [PassWindow], change: impl Fn(&mut Fix, f64)) {
    for pass in passes {
        let Some(first_ns) = pass.fixes.first().map(|fix| fix.utc_ns) else { continue };
        trundle_tests::change(&mut pass.fixes, |fix| {
            change(fix, (fix.utc_ns - first_ns) as f64 * 1e-9);
        });
    }
}

fn shift(fix: &mut Fix, east_m: f64, north_m: f64) {
    let plane = LocalPlane::new(fix.lat_deg, fix.lon_deg, fix.height_m.unwrap_or(0.0));
    (fix.lat_deg, fix.lon_deg) = plane.lat_lon_deg(Enu { east_m, north_m });
}

#[test]
fn a_radar_is_read_at_its_own_rest_and_not_between_the_edges_of_a_coarse_wheel() {
    let mut coarse = passes(1.5, 6);
    for (pass, fine) in coarse.iter_mut().zip(passes(FINE_PER_M, 6)) {
        let mut others = fine.counts.iter();
        change(&mut pass.counts, |sample| {
            let Some(other) = others.next() else { return };
            sample.impulses[1] = other.impulses[0];
            sample.last_edge_us[1] = other.last_edge_us[0];
        });
    }
    let work = taped(&coarse);
    let radar = channel(&work, "radar");
    for side in [&radar.tape, &radar.satellite] {
        let off = side.as_ref().unwrap().value() / (100.0 * FINE_PER_M) - 1.0;
        assert!(off.abs() < 2e-4, "the radar is {off:e} off");
    }
}

#[test]
fn whole_counts_that_happen_to_be_equal_do_not_claim_to_be_exact() {
    let mut coarse = passes(1.5, 6);
    let work = taped(&coarse);
    let wheel = channel(&work, "wheel");
    let least = 100.0 / DRIVEN_M * 0.4 / 6.0_f64.sqrt();
    for side in [&wheel.tape, &wheel.satellite, &wheel.combined] {
        let half = half(side.as_ref().unwrap(), wheel);
        assert!(half > 1.5 * least, "±{half} impulses with whole counts of ±{least}");
    }
    // One impulse more in one pass is what whole counts do, and no outlier.
    let last = &mut coarse[5].counts;
    let before = last.first().unwrap().impulses[0];
    change(last, |sample| sample.impulses[0] += u64::from(sample.impulses[0] > before));
    let work = taped(&coarse);
    assert!(!codes(&work).contains(&Code::Outlier), "{:?}", codes(&work));
    assert!(!codes(&work).contains(&Code::Uneven), "{:?}", codes(&work));
}

#[test]
fn a_rocking_antenna_is_no_weaving_wheel() {
    for (hertz, amplitude_m) in [(0.37, 0.10), (0.5, 0.10), (0.69, 0.10)] {
        let mut rocking = passes(FINE_PER_M, 6);
        each_fix(&mut rocking, |fix, t| {
            let speed_m_s = fix.speed_m_s.unwrap();
            let turn = 2.0 * std::f64::consts::PI * hertz;
            let share = (speed_m_s / 2.0).min(1.0);
            let across_m = share * amplitude_m * (turn * t).sin();
            let across_m_s = share * amplitude_m * turn * (turn * t).cos();
            let along = fix.track_deg.unwrap().to_radians();
            shift(fix, across_m * along.cos(), -across_m * along.sin());
            if speed_m_s > 0.0 {
                let off_deg = across_m_s.atan2(speed_m_s).to_degrees();
                fix.track_deg = Some(fix.track_deg.unwrap() + off_deg);
                fix.speed_m_s = Some(speed_m_s.hypot(across_m_s));
            }
        });
        let work = taped(&rocking);
        let wheel = channel(&work, "wheel");
        let off = wheel.tape.as_ref().unwrap().value() / (100.0 * FINE_PER_M) - 1.0;
        assert!(off.abs() < 3e-4, "{hertz} Hz: {off:e}");
    }
}

#[test]
fn a_weave_that_is_driven_is_still_taken_off() {
    let (amplitude_m, length_m) = (0.15, 20.0);
    let mut weaving = passes(FINE_PER_M, 6);
    each_fix(&mut weaving, |fix, t| {
        // At 2 m/s, the speed of these passes, the wave takes ten seconds.
        let turn = 2.0 * std::f64::consts::PI * 2.0 / length_m;
        let speed_m_s = fix.speed_m_s.unwrap();
        let across_m = amplitude_m * (turn * t).sin();
        let along = fix.track_deg.unwrap().to_radians();
        shift(fix, across_m * along.cos(), -across_m * along.sin());
        let off_deg = (amplitude_m * turn * (turn * t).cos()).atan2(speed_m_s.max(1e-6));
        fix.track_deg = Some(fix.track_deg.unwrap() + off_deg.to_degrees());
    });
    let work = taped(&weaving);
    // Mean square of the slope of a sine, halved.
    let excess = (2.0 * std::f64::consts::PI * amplitude_m / length_m).powi(2) / 4.0;
    let tape = channel(&work, "wheel").tape.as_ref().unwrap().value();
    let found = 100.0 * FINE_PER_M / tape - 1.0;
    assert!((found / excess - 1.0).abs() < 0.3, "{found:e} of {excess:e}");
}

#[test]
fn a_speed_that_is_off_puts_nothing_into_a_value_by_positions() {
    let mut fast = passes(FINE_PER_M, 6);
    each_fix(&mut fast, |fix, _| fix.speed_m_s = fix.speed_m_s.map(|speed| 1.003 * speed));
    let work = taped(&fast);
    let off = channel(&work, "wheel").satellite.as_ref().unwrap().value() / (100.0 * FINE_PER_M);
    assert!((off - 1.0).abs() < 3e-5, "{off}");
    assert!(codes(&work).contains(&Code::SpeedPosition), "{:?}", codes(&work));
    assert!(!codes(&taped(&passes(FINE_PER_M, 6))).contains(&Code::SpeedPosition));
}

#[test]
fn a_receiver_that_smooths_is_recognised_and_waited_out() {
    let memory_s = 1.5;
    let mut smooth = passes(FINE_PER_M, 6);
    for pass in &mut smooth {
        let share = 1.0 - (-0.1_f64 / memory_s).exp();
        let Some(first) = pass.fixes.first().copied() else { continue };
        let mut at = (first.lat_deg, first.lon_deg, 0.0);
        change(&mut pass.fixes, |fix| {
            at.0 += share * (fix.lat_deg - at.0);
            at.1 += share * (fix.lon_deg - at.1);
            at.2 += share * (fix.speed_m_s.unwrap() - at.2);
            (fix.lat_deg, fix.lon_deg, fix.speed_m_s) = (at.0, at.1, Some(at.2));
        });
    }
    let work = taped(&smooth);
    let off = channel(&work, "wheel").satellite.as_ref().unwrap().value() / (100.0 * FINE_PER_M);
    assert!((off - 1.0).abs() < 2e-4, "{off}");
    assert!(work.all_flags().any(|flag| flag.code == Code::Smoothed));
    assert!(codes(&work).is_empty(), "{:?}", codes(&work));
    assert!(channel(&work, "wheel").value_to_enter.is_some());
}

#[test]
fn a_course_that_bends_gives_no_value_by_its_chord() {
    let mut bent = passes(FINE_PER_M, 4);
    // An arc of 40 degrees: its chord is 2 % shorter than the way along it.
    let radius_m = DRIVEN_M / 40.0_f64.to_radians();
    for pass in &mut bent {
        let home = *pass.fixes.first().unwrap();
        let plane = LocalPlane::new(home.lat_deg, home.lon_deg, 0.0);
        change(&mut pass.fixes, |fix| {
            let place = plane.enu(fix.lat_deg, fix.lon_deg);
            let turned = place.east_m.hypot(place.north_m) / radius_m;
            let (ahead_m, aside_m) = (radius_m * turned.sin(), radius_m * (1.0 - turned.cos()));
            let along = fix.track_deg.unwrap().to_radians();
            let (east_m, north_m) = (
                ahead_m * along.sin() + aside_m * along.cos(),
                ahead_m * along.cos() - aside_m * along.sin(),
            );
            (fix.lat_deg, fix.lon_deg) = plane.lat_lon_deg(Enu { east_m, north_m });
            fix.track_deg = Some(fix.track_deg.unwrap() + turned.to_degrees());
        });
    }
    let work = worked(&bent, None);
    assert!(codes(&work).contains(&Code::NotStraight), "{:?}", codes(&work));
    assert!(work.channels.iter().all(|channel| channel.value_to_enter.is_none()));
}

#[test]
fn a_value_that_no_tape_checks_promises_no_more_than_its_receiver_can() {
    for (quality, least) in [(Quality::RtkFixed, 3e-4), (Quality::Standalone, 1.9e-3)] {
        let mut alone = passes(FINE_PER_M, 6);
        each_fix(&mut alone, |fix, _| fix.quality = quality);
        let work = worked(&alone, None);
        let wheel = channel(&work, "wheel");
        let satellite = wheel.satellite.as_ref().unwrap();
        let half = half(satellite, wheel) / satellite.value();
        assert!(half > least, "{quality:?}: ±{half:e}");
    }
}

#[test]
fn a_tape_of_fibreglass_without_a_coefficient_gets_a_range() {
    let mut course = plain_course(DRIVEN_M);
    let steel = course_length(&course, &mut Sources::new()).unwrap();
    course.tape.material = TapeMaterial::Fibreglass;
    let glass = course_length(&course, &mut Sources::new()).unwrap();
    assert!(glass.length.standard_uncertainty() >= steel.length.standard_uncertainty());
    assert!(glass.assumptions.iter().any(|words| words.contains("expansion")));
}
