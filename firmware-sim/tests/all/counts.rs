//! What the board sends, held against what really happened.

use trundle_protocol::Deframer;
use trundle_protocol::message::{Counts, Hello, Mark, ToHost};
use trundle_sim::{Driving, Fault, Port, Scenario, Truth, record_all};

#[derive(Default)]
struct Heard {
    hellos: Vec<Hello>,
    counts: Vec<Counts>,
    marks: Vec<Mark>,
    refused: usize,
}

fn hear(scenario: &Scenario, seed: u64) -> (Heard, Truth) {
    let (out, truth) = record_all(scenario, seed);
    let (mut heard, mut deframer) = (Heard::default(), Deframer::<ToHost>::new());
    for emission in out.iter().filter(|emission| emission.port == Port::Board) {
        deframer.push_slice(&emission.bytes, |frame| match frame {
            Ok(ToHost::Hello(hello)) => heard.hellos.push(hello),
            Ok(ToHost::Counts(counts)) => heard.counts.push(counts),
            Ok(ToHost::Mark(mark)) => heard.marks.push(mark),
            Ok(_) => {}
            Err(_) => heard.refused += 1,
        });
    }
    (heard, truth)
}

fn named(name: &str) -> Scenario {
    Scenario::named(name).unwrap()
}

#[test]
fn counts_between_the_marks_are_the_truth_within_one_count() {
    for name in ["plain", "rolling-gate", "timer-wrap", "bounce", "missing-tooth", "field"] {
        for seed in 1..=2 {
            let scenario = Scenario { passes: 3, ..named(name) };
            let (heard, truth) = hear(&scenario, seed);
            assert_eq!(truth.passes.len(), 3, "{name}, seed {seed}");
            assert_eq!(heard.marks.len(), 6, "{name}, seed {seed}");
            assert_eq!(heard.refused, 0, "{name}, seed {seed}");
            for (pass, marks) in truth.passes.iter().zip(heard.marks.chunks(2)) {
                for channel in 0..3 {
                    let counted = marks[1].impulses[channel].0 - marks[0].impulses[channel].0;
                    let off = counted.abs_diff(pass.impulses[channel]);
                    assert!(off <= 1, "{name}, seed {seed}, input {channel}: {counted}, {pass:?}");
                }
            }
        }
    }
}

#[test]
fn impulses_belong_to_path_figure_and_slip() {
    for name in Scenario::names() {
        let (_, truth) = hear(&Scenario { passes: 3, ..named(name) }, 5);
        // Jobs without pegs have no passes, whatever is asked for.
        let pegless = [Driving::Speeds, Driving::Parked, Driving::Circles];
        let pegs = !pegless.contains(&named(name).driving);
        assert_eq!(truth.passes.len(), if pegs { 3 } else { 0 }, "{name}");
        for pass in &truth.passes {
            let theoretical_m = pass.wheel_path_m / (1.0 - pass.slip);
            let expected = theoretical_m * truth.wheel_impulses_per_100m / 100.0;
            // One count at each end, and up to one more where a tooth is missing.
            let off = (pass.impulses[0] as f64 - expected).abs();
            assert!(off < 2.1, "{name}: expected {expected}, {pass:?}");
            assert!(pass.wheel_path_m >= pass.chord_m - 1e-6, "{name}: {pass:?}");
            // Half a per cent is many times what the weave adds, five times its jitter.
            let radar = pass.wheel_path_m * truth.radar_impulses_per_100m / 100.0;
            assert!((pass.impulses[1] as f64 / radar - 1.0).abs() < 0.005, "{name}: {pass:?}");
        }
    }
}

#[test]
fn the_path_between_the_pegs_is_the_slope_length_within_the_stop_errors() {
    // A plane that rises by 4.5 % makes 100 m of slope out of 99.8989 m of map (Pythagoras).
    let scenario = Scenario { weave_amplitude_m: 0.0, ..named("slope") };
    let (_, truth) = hear(&scenario, 6);
    for pass in &truth.passes {
        assert!((pass.wheel_path_m - 100.0).abs() <= 0.0601, "{pass:?}");
        assert!((pass.wheel_path_m - pass.chord_m).abs() < 1e-6, "{pass:?}");
    }
    assert!((truth.height_difference_m - 4.495_451).abs() < 1e-5, "{truth:?}");
    let gate = Scenario { driving: Driving::RollingGate, ..scenario };
    for pass in &hear(&gate, 6).1.passes {
        assert!((pass.wheel_path_m - 100.0).abs() < 1e-4, "{pass:?}");
    }
}

#[test]
fn misplaced_pegs_are_in_the_true_length() {
    let scenario = Scenario { peg_error_m: 0.5, stop_error_m: 0.0, ..named("plain") };
    let (_, truth) = hear(&scenario, 9);
    assert!((truth.course_m - 100.0).abs() > 0.01, "the seed moved no peg");
    for pass in &truth.passes {
        assert!((pass.chord_m - truth.course_m).abs() < 1e-6, "{pass:?} of {}", truth.course_m);
    }
}

#[test]
fn a_reset_is_seen_and_counts_start_again() {
    let (heard, _) = hear(&named("board-reset"), 4);
    assert_eq!(heard.hellos.len(), 2);
    assert_ne!(heard.hellos[0].stamp.boot_id, heard.hellos[1].stamp.boot_id);
    assert_eq!(heard.hellos[0].board_id, heard.hellos[1].board_id);
    let fallen = heard
        .counts
        .windows(2)
        .filter(|pair| pair[1].channels[0].impulses < pair[0].channels[0].impulses);
    assert_eq!(fallen.count(), 1);
}

#[test]
fn gaps_hide_reports_but_no_impulses() {
    let (plain, _) = hear(&named("plain"), 4);
    let (gap, _) = hear(&named("board-gap"), 4);
    let missing = plain.counts.len() - gap.counts.len();
    // 6.5 s at 50 reports a second.
    assert!((320..=330).contains(&missing), "{missing} reports missing");
    assert_eq!(plain.counts.last().unwrap(), gap.counts.last().unwrap());
}

#[test]
fn bounces_are_refused_and_counted_and_dropped_edges_are_gone() {
    let (bounced, _) = hear(&named("bounce"), 4);
    let last = bounced.counts.last().unwrap().channels[0];
    let share = f64::from(last.rejected.0) / last.impulses.0 as f64;
    assert!((share - 0.02).abs() < 0.002, "share of bounces {share}");
    let (thinned, truth) = hear(&named("dropped-edges"), 4);
    let counted = thinned.marks[1].impulses[0].0 - thinned.marks[0].impulses[0].0;
    let share = 1.0 - counted as f64 / truth.passes[0].impulses[0] as f64;
    // Four standard deviations of a binomial of 13 000 at 0.003.
    assert!((share - 0.003).abs() < 0.002, "share of dropped edges {share}");
}

#[test]
fn late_presses_no_button_and_damage_show_as_told() {
    let (heard, truth) = hear(&named("rolling-button"), 4);
    assert_eq!(heard.marks.len(), 12);
    assert!(truth.passes.iter().all(|p| p.start_mark_us.is_some() && p.finish_mark_us.is_some()));
    assert!(truth.passes.iter().any(|p| p.start_mark_us.unwrap().abs_diff(p.start_us) > 20_000));
    let (silent, truth) = hear(&named("no-button"), 4);
    assert!(silent.marks.is_empty() && truth.passes[0].start_mark_us.is_none());
    assert_eq!(truth.passes.len(), 6);
    let (noisy, _) = hear(&named("noisy-lines"), 4);
    // A report of about 105 bytes at 3e-4 a byte: some 3 % of them are hit.
    let share = noisy.refused as f64 / noisy.counts.len() as f64;
    assert!((0.01..0.06).contains(&share), "share of refused frames {share}");
}

#[test]
fn rocking_counts_both_ways() {
    let (_, still) = hear(&named("plain"), 4);
    let (_, rocked) = hear(&named("rocking"), 4);
    let more = rocked.passes[1].impulses[0] - still.passes[1].impulses[0];
    // 6 cm back and 6 cm forth at about 130 impulses a metre.
    assert!((14..=17).contains(&more), "{more} impulses more");
}

#[test]
fn slip_of_one_pass_is_in_that_pass_alone() {
    let scenario = named("slip-in-one-pass");
    assert!(scenario.faults.contains(&Fault::PassSlip { pass: 3, slip: 0.04 }));
    for pass in &hear(&scenario, 4).1.passes {
        let expected = if pass.number == 3 { 0.04 } else { 0.0 };
        assert!((pass.slip - expected).abs() < 1e-4, "{pass:?}");
    }
}
