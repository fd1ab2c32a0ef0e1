//! Laws that every figure obeys, whatever the job: what scales with what, and what must not
//! matter at all.

pub mod synthetic;

use synthetic::{Pass, window};
use trundle_core::course::tape::{CourseSpec, TapeAccuracy, TapeClass};
use trundle_core::figure::{COVERAGE, ChannelFigures, Job, Work, WorkOptions, work};
use trundle_core::session::Totals;
use trundle_core::session::marks::MarkTime;
use trundle_core::session::window::{MarkPoint, PassWindow};
use trundle_core::stats::budget::{Quantity, cover};
use trundle_sim::{ReceiverClass, Scenario};
use trundle_tests::{Draws, change, plain_course, replay, seeds, simulate};

fn worked(passes: &[PassWindow], course: &CourseSpec) -> Work {
    let job = Job { passes, totals: &Totals::default(), whole: true };
    work(&job, &WorkOptions { course: Some(course.clone()), ..WorkOptions::default() })
}

fn wheel(work: &Work) -> &ChannelFigures {
    work.channels.iter().find(|channel| channel.name == "wheel").unwrap()
}

/// Windows of simulated jobs of every class of receiver, weaving and on a slope, with their names.
fn jobs() -> Vec<(String, Vec<PassWindow>)> {
    let mut jobs = Vec::new();
    for class in ReceiverClass::ALL {
        for (seed, passes) in [(1, 6), (2, 4), (3, 5)] {
            let scenario = Scenario {
                passes,
                slope: 0.01 * seed as f64,
                weave_amplitude_m: 0.1,
                ..Scenario::default().with_receiver(class)
            };
            let (records, _) = simulate(&scenario, seed, None);
            let name = format!("{} seed {seed}", class.word());
            jobs.push((name, replay(&records).passes().to_vec()));
        }
    }
    jobs
}

fn figures(channel: &ChannelFigures) -> [(&'static str, Option<&Quantity>); 3] {
    [
        ("tape", channel.tape.as_ref()),
        ("satellite", channel.satellite.as_ref()),
        ("both", channel.combined.as_ref()),
    ]
}

/// Every value and half-width of two results alike, within shares.
fn assert_same(at: &str, a: &Work, b: &Work, value_share: f64, half_share: f64) {
    assert_eq!(a.channels.len(), b.channels.len(), "{at}");
    assert!(!a.channels.is_empty(), "{at}: nothing to compare");
    for (a, b) in a.channels.iter().zip(&b.channels) {
        let (one, other) = (a.value_to_enter.unwrap_or(0), b.value_to_enter.unwrap_or(0));
        let rounding = i64::from(value_share > 1e-6);
        assert!((one - other).abs() <= rounding, "{at} {}: {one} and {other}", a.name);
        for ((side, one), (_, other)) in figures(a).into_iter().zip(figures(b)) {
            let at = format!("{at} {} {side}", a.name);
            assert_eq!(one.is_some(), other.is_some(), "{at}: only one has it");
            let (Some(one), Some(other)) = (one, other) else { continue };
            let moved = other.value() / one.value() - 1.0;
            let half = |q, c: &ChannelFigures| cover(q, &c.sources, COVERAGE).expanded_uncertainty;
            let widened = half(other, b) / half(one, a) - 1.0;
            println!("{at}: value moved {moved:e}, half-width {widened:e}");
            assert!(moved.abs() <= value_share, "{at}: value moved by {moved:e}");
            assert!(widened.abs() <= half_share, "{at}: half-width moved by {widened:e}");
        }
    }
}

#[test]
fn twice_the_impulses_are_twice_the_figure() {
    for (name, passes) in jobs() {
        let mut doubled = passes.clone();
        for pass in &mut doubled {
            change(&mut pass.counts, |sample| {
                sample.impulses = sample.impulses.map(|count| 2 * count);
            });
        }
        let course = plain_course(100.0);
        let (one, two) = (worked(&passes, &course), worked(&doubled, &course));
        let (one, two) = (wheel(&one), wheel(&two));
        for ((side, a), (_, b)) in figures(one).into_iter().zip(figures(two)).take(2) {
            let (a, b) = (a.unwrap(), b.unwrap());
            let ratio = b.value() / a.value() / 2.0 - 1.0;
            let [ua, ub] = [a, b].map(|q| q.standard_uncertainty() / q.value());
            println!("{name} {side}: twice but for {ratio:e}; {ua:e} -> {ub:e}");
            // The weights of the passes hold the resolution of whole counts, which is halved. By
            // satellite so is the way before the first edge and after the last, half an impulse
            // each, since the edges stay where they were.
            let counting = 1.0 / a.value();
            let untold = if side == "satellite" { 0.5 * counting } else { 0.0 };
            assert!(ratio.abs() < 1e-6 + untold, "{name} {side}: off by {ratio:e}");
            // No pooled figure can lose more than one whole impulse.
            assert!((ua * ua - ub * ub).abs() <= counting * counting + 0.01 * ua * ua, "{name}");
        }
    }
}

#[test]
fn the_order_of_the_passes_does_not_matter() {
    let course = plain_course(100.0);
    for (name, passes) in jobs() {
        let before = worked(&passes, &course);
        let mut draws = Draws::new(passes.len() as u64);
        for shuffle in 0..3 {
            // Fisher and Yates; the first pass stays, since it names the way out.
            let mut mixed = passes.clone();
            for i in (2..mixed.len()).rev() {
                mixed.swap(i, 1 + (draws.bits() % i as u64) as usize);
            }
            let after = worked(&mixed, &course);
            assert_same(&format!("{name} shuffle {shuffle}"), &before, &after, 1e-12, 1e-9);
        }
    }
}

/// The same pass at another time of every clock. Shifts in microseconds.
fn shifted(pass: &PassWindow, board_us: u64, host_us: u64, utc_us: i64) -> PassWindow {
    let mut out = pass.clone();
    let moved = |mark: MarkPoint| MarkPoint {
        host_ns: mark.host_ns + host_us * 1000,
        time: match mark.time {
            MarkTime::Board { board_us: at } => MarkTime::Board { board_us: at + board_us },
            MarkTime::Host => MarkTime::Host,
        },
    };
    for mark in std::iter::once(&mut out.start).chain(&mut out.finish) {
        *mark = moved(*mark);
    }
    change(&mut out.counts, |sample| {
        sample.host_ns += host_us * 1000;
        sample.board_us += board_us;
        sample.last_edge_us = sample.last_edge_us.map(|at| at.map(|us| us + board_us));
    });
    change(&mut out.fixes, |fix| {
        fix.host_ns += host_us * 1000;
        fix.utc_ns += utc_us * 1000;
    });
    out.incidents.iter_mut().for_each(|incident| incident.host_ns += host_us * 1000);
    let (board_s, host_s) = (board_us as f64 * 1e-6, host_us as f64 * 1e-6);
    if let Some(clock) = &mut out.clock {
        clock.fix_origin_ns += utc_us * 1000;
        clock.fix.offset_s += host_s;
        clock.board.origin_s += board_s;
        clock.board.offset_s += host_s - board_s;
        assert!(clock.pulse.is_none(), "pulses are not shifted here");
    }
    if let Some(line) = &mut out.board_clock {
        line.origin_s += board_s;
        line.offset_s += host_s - board_s;
    }
    out
}

#[test]
fn the_time_of_day_does_not_matter() {
    let course = plain_course(100.0);
    for (n, (name, passes)) in jobs().into_iter().enumerate() {
        let before = worked(&passes, &course);
        let mut draws = Draws::new(n as u64);
        for _ in 0..2 {
            let board_us = draws.bits() % 1_000_000_000;
            let host_us = draws.bits() % 1_000_000_000;
            let utc_us = (draws.bits() % 86_400_000_000_000) as i64;
            let moved: Vec<_> =
                passes.iter().map(|p| shifted(p, board_us, host_us, utc_us)).collect();
            let at = format!("{name} shifted {board_us} {host_us} {utc_us} us");
            assert_same(&at, &before, &worked(&moved, &course), 1e-9, 1e-6);
        }
    }
}

#[test]
fn the_way_that_is_driven_first_does_not_matter() {
    for (name, passes) in jobs() {
        let mut course = plain_course(100.0);
        let before = worked(&passes, &course);
        let mut turned = passes.clone();
        turned.rotate_left(1);
        assert_same(&format!("{name} turned"), &before, &worked(&turned, &course), 1e-12, 1e-9);
        // With a rise that is stated, out and back swap it.
        course.height_difference_m = Some(2.0);
        let before = worked(&passes, &course);
        course.height_difference_m = Some(-2.0);
        assert_same(&format!("{name} rise"), &before, &worked(&turned, &course), 1e-12, 1e-9);
    }
}

#[test]
fn a_course_turned_end_for_end_gives_the_same() {
    let course = plain_course(100.0);
    for (name, passes) in jobs() {
        let before = worked(&passes, &course);
        let mut turned = passes.clone();
        let first = *turned[0].fixes.first().unwrap();
        // A point reflection through a place on the field: what was out is back.
        for pass in &mut turned {
            change(&mut pass.fixes, |fix| {
                fix.lat_deg = 2.0 * first.lat_deg - fix.lat_deg;
                fix.lon_deg = 2.0 * first.lon_deg - fix.lon_deg;
                fix.track_deg = fix.track_deg.map(|track| (track + 180.0).rem_euclid(360.0));
            });
        }
        // A degree of longitude is shorter 200 m further north by 200 m/R tan(52 deg): 4e-5.
        assert_same(&name, &before, &worked(&turned, &course), 5e-5, 0.02);
    }
}

#[test]
fn without_noise_the_figures_are_exact() {
    for (seed, passes) in [(1, 1), (2, 2), (3, 3), (4, 6), (5, 8)] {
        let mut draws = Draws::new(seed);
        let per_m = 100.0 + (draws.bits() % 60) as f64;
        let azimuth_deg = 360.0 * draws.unit();
        let pass =
            |number| window(&Pass { number, per_m, driven_m: 100.0, azimuth_deg, fixes: true });
        let windows: Vec<PassWindow> = (1..=passes).map(pass).collect();
        let work = worked(&windows, &plain_course(100.0));
        let at = format!("seed {seed}: {passes} passes, {per_m} per m, {azimuth_deg:.1} degrees");
        let wheel = wheel(&work);
        assert_eq!(wheel.passes.len(), passes as usize, "{at}");
        let off = |q: &Option<Quantity>| q.as_ref().unwrap().value() / (100.0 * per_m) - 1.0;
        let (tape, satellite) = (off(&wheel.tape), off(&wheel.satellite));
        println!("{at}: tape {tape:e} satellite {satellite:e}");
        assert!(tape.abs() <= 1e-6, "{at}: tape off by {tape:e}");
        assert!(satellite.abs() <= 1e-5, "{at}: satellite off by {satellite:e}");
        let lag_s = work.clock.unwrap().lag_s;
        assert!(lag_s.abs() < 1e-3, "{at}: lag {lag_s} where there is none");
        assert_eq!(wheel.value_to_enter, Some((100.0 * per_m) as i64), "{at}");
        let doubt = cover(wheel.tape.as_ref().unwrap(), &wheel.sources, COVERAGE);
        assert!(doubt.expanded_uncertainty > 0.0, "{at}: no doubt at all");
    }
}

/// Passes without fixes whose stops scatter evenly within `stop_m` of the peg, both ends.
fn scattered(draws: &mut Draws, passes: u32, stop_m: f64) -> Vec<PassWindow> {
    let mut pass = |number| {
        let driven_m = 100.0 + stop_m * (draws.symmetric() + draws.symmetric());
        window(&Pass { number, per_m: 130.0, driven_m, azimuth_deg: 0.0, fixes: false })
    };
    (1..=passes).map(&mut pass).collect()
}

/// Standard and expanded uncertainty of the tape figure.
fn tape_doubt(passes: &[PassWindow], course: &CourseSpec) -> (f64, f64) {
    let work = worked(passes, course);
    let wheel = wheel(&work);
    let tape = wheel.tape.as_ref().unwrap();
    let expanded = cover(tape, &wheel.sources, COVERAGE).expanded_uncertainty;
    (tape.standard_uncertainty(), expanded)
}

#[test]
fn a_further_doubt_never_narrows_the_tape_figure() {
    let classes = [TapeClass::I, TapeClass::II, TapeClass::III];
    for seed in 0..seeds(3, 12) {
        let mut draws = Draws::new(seed);
        let passes = 2 + (draws.bits() % 6) as u32;
        let stop_m = 0.2 * draws.unit() * draws.unit();
        let windows = scattered(&mut draws, passes, stop_m);
        let mut course = plain_course(100.0);
        course.tape.temperature_c = Some(20.0);
        let mut last = tape_doubt(&windows, &course);
        let check = |course: &CourseSpec, last: &mut (f64, f64), what: &str| {
            let now = tape_doubt(&windows, course);
            let at = format!("seed {seed}, {passes} passes within {stop_m:.3} m, {what}");
            assert!(now.0 >= last.0 * (1.0 - 1e-12), "{at}: u {} -> {}", last.0, now.0);
            // The interval is worked out on a grid.
            assert!(now.1 >= last.1 * (1.0 - 1e-4), "{at}: U {} -> {}", last.1, now.1);
            *last = now;
        };
        for peg_m in [0.011, 0.02, 0.05, 0.2] {
            course.peg_placement_m = peg_m;
            check(&course, &mut last, &format!("pegs {peg_m} m"));
        }
        for width_c in [3.0, 8.0, 15.0, 40.0] {
            course.tape.temperature_half_width_c = Some(width_c);
            check(&course, &mut last, &format!("temperature {width_c}"));
        }
        course.tape.accuracy = TapeAccuracy::Class(classes[0]);
        last = tape_doubt(&windows, &course);
        for class in &classes[1..] {
            course.tape.accuracy = TapeAccuracy::Class(*class);
            check(&course, &mut last, &format!("class {class:?}"));
        }
        let wide = last;
        course.peg_placement_m = 0.0;
        assert!(tape_doubt(&windows, &course).0 < wide.0, "seed {seed}: the pegs do not matter");
    }
}

#[test]
fn more_passes_of_the_same_scatter_do_not_widen() {
    const JOBS: u64 = 40;
    let course = plain_course(100.0);
    for stop_m in [0.03, 0.15] {
        let mut last = f64::INFINITY;
        for passes in [2, 3, 4, 6, 9] {
            let one = |seed| {
                let mut draws = Draws::new(1000 * u64::from(passes) + seed);
                tape_doubt(&scattered(&mut draws, passes, stop_m), &course).1
            };
            let mean = (0..JOBS).map(one).sum::<f64>() / JOBS as f64;
            println!("stops within {stop_m} m, {passes} passes: ±{mean:.2} of 13000");
            assert!(mean <= last, "{passes} passes, {stop_m} m: {last} -> {mean}");
            last = mean;
        }
    }
}
