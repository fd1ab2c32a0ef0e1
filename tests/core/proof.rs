//! The proof drive: simulated terminals, and the ratio by hand.

use serde_json::Value;
use trundle_core::capture::Record;
use trundle_core::cautions;
use trundle_core::result::proof_v1::to_json;
use trundle_core::session::trail::THINNED_US;
use trundle_core::survey::proof::{
    Alarm, Judged, Known, Origin, PassRefusal, Proof, ProofOptions, ProofRefusal, SpeedRefusal,
    Stated, Taken, proof,
};
use trundle_core::units::KM_H_PER_M_S;
use trundle_show::text::proof::render;
use trundle_sim::{Scenario, Terminal, Truth};
use trundle_tests::held::{all_written, keeps};
use trundle_tests::proof_cases::{CASES, Case, Read, drive, known, scenario, type_readings};
use trundle_tests::{note, replay_with_both, seeds, simulate};

const SCHEMA: &str = include_str!("../../host/schemas/trundle-proof-1.schema.json");

fn judged(proof: &Proof) -> &Judged {
    proof.judged.as_ref().unwrap_or_else(|why| panic!("{why}"))
}

fn work(records: &[Record], options: &ProofOptions) -> Proof {
    proof(&replay_with_both(records, THINNED_US), false, options)
}

/// Two passes with a terminal, before anything is typed.
fn driven(case: Case, seed: u64) -> (Vec<Record>, Truth, Scenario, ProofOptions) {
    let (scenario, course) = scenario(case, Read::Distance, seed);
    let (records, truth) = simulate(&scenario, seed, None);
    let known = known(case, &truth);
    let options = ProofOptions { course: Some(course), known, ..ProofOptions::default() };
    (records, truth, scenario, options)
}

#[test]
fn each_value_in_force_is_told_by_the_distance_at_the_pegs() {
    for case in CASES {
        for seed in 1..=seeds(2, 10) {
            let drive = drive(case, Read::Distance, seed);
            let text = render(&drive.proof);
            assert!(case.is_named(&drive.proof), "{case:?}, seed {seed}: {text}");
            assert!(!case.is_called_right(&drive.proof), "{case:?}, seed {seed}: {text}");
            let (ratio, expanded) = judged(&drive.proof).ratio.unwrap();
            let truth = drive.truth.terminal.unwrap().ratio;
            let half = expanded.expanded_uncertainty / truth.max(1.0);
            assert!(half <= 0.001, "{case:?}, seed {seed}: ±{half}");
            assert!((ratio - truth).abs() <= 2.0 * expanded.expanded_uncertainty, "{text}");
        }
    }
}

#[test]
fn each_value_in_force_is_told_by_the_speed_of_steady_runs() {
    for case in CASES {
        for seed in 1..=seeds(1, 5) {
            // A display of a tenth of a km/h shows a hundredth of the speed as nothing.
            if case == Case::Times(0.01) {
                continue;
            }
            let drive = drive(case, Read::Speed, seed);
            let text = render(&drive.proof);
            assert!(!case.is_called_right(&drive.proof), "{case:?}, seed {seed}: {text}");
            assert!(case.is_named(&drive.proof), "{case:?}, seed {seed}: {text}");
        }
    }
}

/// By hand, for two passes of 100 m with a display of 0.1 m. JCGM 100:2008, 5.1.2 and 4.3.9: the
/// difference of two readings of one step is triangular with the step as its half-width.
#[test]
fn shown_over_counted_has_the_display_and_the_counts_in_its_budget() {
    let drive = drive(Case::Right, Read::Distance, 3);
    let proof = &drive.proof;
    let shown_m: f64 = proof.passes.iter().map(|pass| pass.shown.unwrap().shown_m).sum();
    let impulses: f64 =
        proof.passes.iter().map(|pass| pass.shown.unwrap().impulses[0].unwrap().impulses).sum();
    let evidence = proof.distance.as_ref().unwrap();
    let metres = evidence.per_impulse_m[0].as_ref().unwrap();
    assert!((metres.value() - shown_m / impulses).abs() < 1e-12);
    let display = 0.1 / 6.0_f64.sqrt() * 2.0_f64.sqrt() / shown_m;
    let counts = 2.0_f64.sqrt() / 6.0_f64.sqrt() / impulses;
    let by_hand = display.hypot(counts);
    let found = metres.standard_uncertainty() / metres.value();
    assert!((found / by_hand - 1.0).abs() < 1e-9, "{found} against {by_hand}");
    // The value in force is 100 impulses over the metres shown for each.
    let in_force = judged(proof).in_force.unwrap().0;
    assert!((in_force - 100.0 * impulses / shown_m).abs() < 1e-6, "{in_force}");
}

#[test]
fn what_an_error_costs_is_told_in_per_cent_and_per_hectare() {
    let (mut records, truth, scenario, mut options) = driven(Case::Old, 4);
    type_readings(&mut records, &truth, &scenario, Read::Distance);
    options.stated.rate_l_per_ha = Some(200.0);
    let proof = work(&records, &options);
    let (ratio, _) = judged(&proof).ratio.unwrap();
    let cost = judged(&proof).cost.unwrap();
    assert!((cost.error - (ratio - 1.0)).abs() < 1e-12);
    assert!((cost.area_m2_per_ha - 10_000.0 * cost.error).abs() < 1e-9);
    assert!((cost.of_rate(200.0) - 200.0 * cost.error).abs() < 1e-9);
    let text = render(&proof);
    assert!(text.contains("For each hectare") && text.contains("Set to 200 l/ha"), "{text}");
    let right = drive(Case::Right, Read::Distance, 4);
    assert_eq!(judged(&right.proof).cost, None, "{}", render(&right.proof));
}

#[test]
fn a_distance_that_begins_again_at_0_is_taken_for_that_where_the_other_pass_bears_it_out() {
    let (mut scenario, course) = scenario(Case::Right, Read::Distance, 5);
    let terminal = Terminal { start_m: 9_950.0, ..scenario.terminal.unwrap() };
    scenario.terminal = Some(terminal);
    let (mut records, truth) = simulate(&scenario, 5, None);
    type_readings(&mut records, &truth, &scenario, Read::Distance);
    let known = known(Case::Right, &truth);
    let options = ProofOptions { course: Some(course), known, ..ProofOptions::default() };
    let proof = work(&records, &options);
    let shown = proof.passes[0].shown.unwrap();
    let apart_m = shown.shown_m - shown.satellite_m.unwrap();
    assert!(shown.wrapped && apart_m.abs() < 0.2, "{shown:?}");
    assert_eq!(judged(&proof).taken, Taken::Took, "{}", render(&proof));
    // By itself it is one where it then fits what is known; else it may as well have been reset,
    // and only a stated wrap makes it one.
    scenario.passes = 1;
    let (mut records, truth) = simulate(&scenario, 5, None);
    type_readings(&mut records, &truth, &scenario, Read::Distance);
    assert_eq!(judged(&work(&records, &options)).taken, Taken::Took);
    let options = ProofOptions { known: Known::default(), ..options };
    let alone = work(&records, &options);
    assert_eq!(alone.passes[0].shown, Err(PassRefusal::WentBack));
    let stated = Stated { wrap_m: Some(10_000.0), ..Stated::default() };
    let stated = ProofOptions { stated, ..options };
    assert_eq!(judged(&work(&records, &stated)).taken, Taken::Took);
}

#[test]
fn a_counter_that_was_reset_in_a_pass_is_not_believed() {
    let (mut records, truth, _, options) = driven(Case::Right, 6);
    let shown = &truth.terminal.as_ref().unwrap().shown;
    let pegs: Vec<_> = shown.iter().filter(|one| one.pass.is_some()).collect();
    for (look, metres) in pegs.iter().zip(["523.4", "40.2", "143.9", "243.8"]) {
        note(&mut records, look.sim_us as f64 * 1e-6 + 1.5, &format!("shown distance {metres}"));
    }
    let proof = work(&records, &options);
    assert_eq!(proof.passes[0].shown, Err(PassRefusal::WentBack), "{}", render(&proof));
    assert!(proof.passes[1].shown.is_ok(), "{}", render(&proof));
}

#[test]
fn readings_away_from_a_peg_or_at_one_only_are_not_used() {
    let (records, truth, _, options) = driven(Case::Right, 7);
    let shown = &truth.terminal.as_ref().unwrap().shown;
    let at_s: Vec<f64> = shown.iter().map(|one| one.sim_us as f64 * 1e-6).collect();
    let typed = |lines: &[(f64, &str)]| {
        let mut records = records.clone();
        for (at_s, text) in lines {
            note(&mut records, *at_s, text);
        }
        work(&records, &options)
    };
    // Start peg, then in the middle of the pass.
    let moving = typed(&[(at_s[0] + 1.0, "shown distance 10.0"), (at_s[1], "shown distance 60.0")]);
    assert_eq!(moving.passes[0].shown, Err(PassRefusal::NoFinish));
    assert_eq!(moving.astray, ["distance 60.0"]);
    assert_eq!(moving.judged.as_ref().unwrap_err(), &ProofRefusal::NoneUsable { typed: 2 });
    // A distance that stands still is no measure of a pass.
    let still =
        typed(&[(at_s[0] + 1.0, "shown distance 10"), (at_s[2] + 1.0, "shown distance 10")]);
    assert_eq!(still.passes[0].shown, Err(PassRefusal::NotCounting));
    assert_eq!(typed(&[]).judged.as_ref().unwrap_err(), &ProofRefusal::NoReadings);
    assert_eq!(
        work(&[], &options).judged.as_ref().unwrap_err(),
        &ProofRefusal::NoCounts,
        "an empty capture"
    );
    // Typed again at the same peg: the last one counts.
    let again = typed(&[
        (at_s[0] + 0.5, "shown distance 900.0"),
        (at_s[0] + 1.5, "shown distance 10.0"),
        (at_s[2] + 1.0, "shown distance 110.0"),
    ]);
    assert_eq!(again.passes[0].start_m, Some(10.0));
    assert!(again.astray.is_empty(), "{:?}", again.astray);
}

#[test]
fn a_wrongly_typed_distance_is_no_mistake_of_the_terminal() {
    let (mut records, truth, scenario, options) = driven(Case::Right, 8);
    type_readings(&mut records, &truth, &scenario, Read::Distance);
    let last = truth.terminal.as_ref().unwrap().shown.iter().rfind(|one| one.pass.is_some());
    let last = last.unwrap();
    let wrong = format!("shown distance {:.1}", last.distance_m + 9.0);
    note(&mut records, last.sim_us as f64 * 1e-6 + 2.0, &wrong);
    let proof = work(&records, &options);
    let text = render(&proof);
    assert_eq!(judged(&proof).taken, Taken::CannotTell, "{text}");
    assert!(judged(&proof).alarms.contains(&Alarm::Contradict), "{text}");
    assert!(text.contains("contradict each other"), "{text}");
}

#[test]
fn an_old_value_that_shows_the_same_is_said_beside_the_answer() {
    let (mut records, truth, scenario, mut options) = driven(Case::Right, 9);
    type_readings(&mut records, &truth, &scenario, Read::Distance);
    let entered = options.known.entered().unwrap();
    for share in [0.9997, 1.0003] {
        options.known = options.known.with(Origin::Old, (share * entered).round());
    }
    let proof = work(&records, &options);
    assert_eq!(judged(&proof).taken, Taken::Took);
    let text = render(&proof);
    assert!(text.contains("Not distinguished, since") && text.contains("the old value"), "{text}");
}

#[test]
fn a_coarse_display_that_cannot_tell_says_what_to_drive() {
    let (mut records, truth, scenario, mut options) = driven(Case::Right, 10);
    options.stated.distance_step_m = Some(10.0);
    let coarse = Terminal { distance_step_m: 10.0, ..scenario.terminal.unwrap() };
    let scenario = Scenario { terminal: Some(coarse), ..scenario };
    let shown = simulate(&scenario, 10, None).1;
    type_readings(&mut records, &shown, &scenario, Read::Distance);
    let entered = truth.wheel_impulses_per_100m.round();
    options.known = options.known.with(Origin::Old, (1.02 * entered).round());
    let proof = work(&records, &options);
    let text = render(&proof);
    assert_eq!(judged(&proof).taken, Taken::CannotTell, "{text}");
    let more = judged(&proof).more.unwrap();
    assert!(more.metres > 1_000.0 && text.contains("read the distance at both pegs"), "{text}");
}

#[test]
fn a_value_that_took_and_is_wrong_is_told_from_one_that_did_not_take() {
    // The value keyed in belongs to other tyres, and is in force.
    let (mut records, truth, scenario, options) = driven(Case::Old, 11);
    type_readings(&mut records, &truth, &scenario, Read::Distance);
    let in_force = truth.terminal.as_ref().unwrap().value_per_100m;
    let known = Known::default().with(Origin::Entered, in_force);
    let proof = work(&records, &ProofOptions { known, ..options });
    let text = render(&proof);
    assert_eq!(judged(&proof).taken, Taken::TookButOff, "{text}");
    assert!(text.starts_with("PROOF: IT TOOK, BUT IT IS WRONG."), "{text}");
}

#[test]
fn without_tape_and_satellite_it_tells_what_is_in_force_and_not_whether_it_is_right() {
    let (scenario, _) = scenario(Case::Old, Read::Distance, 12);
    let (records, truth) = simulate(&scenario, 12, None);
    let receiver = trundle_core::capture::PortRole::Receiver;
    let mut records: Vec<Record> = records
        .into_iter()
        .filter(|one| {
            !matches!(&one.entry, trundle_core::capture::Entry::Bytes(role, _) if *role == receiver)
        })
        .collect();
    type_readings(&mut records, &truth, &scenario, Read::Distance);
    let known = known(Case::Old, &truth);
    let proof = work(&records, &ProofOptions { known, ..ProofOptions::default() });
    let text = render(&proof);
    assert_eq!((judged(&proof).taken, judged(&proof).ratio), (Taken::DidNotTake, None), "{text}");
    assert!(Case::Old.is_named(&proof) && text.contains("no true distance"), "{text}");
}

#[test]
fn a_speed_belongs_to_the_one_steady_run_before_it() {
    let (base, _) = scenario(Case::Right, Read::Speed, 13);
    let work_at = |steps: Vec<f64>, lines: &[(f64, &str)]| {
        let scenario = Scenario { speed_steps_m_s: steps, ..base.clone() };
        let (mut records, truth) = simulate(&scenario, 13, None);
        let looks: Vec<f64> = truth
            .terminal
            .as_ref()
            .unwrap()
            .shown
            .iter()
            .map(|one| one.sim_us as f64 * 1e-6)
            .collect();
        for (after_s, text) in lines {
            note(&mut records, looks[looks.len() - 1] + after_s, text);
        }
        work(&records, &ProofOptions::default())
    };
    // Two speeds without a stop between them: which one was read is not known.
    let two = work_at(vec![1.5, 2.5, 0.0], &[(10.0, "shown speed 9.0")]);
    assert!(matches!(two.speeds[0].run, Err(SpeedRefusal::TwoRuns { .. })), "{:?}", two.speeds);
    // A passenger types while the speed is held: the run is that of the seconds before.
    let passenger = work_at(vec![1.5, 2.5, 0.0], &[(0.5, "shown speed 9.0")]);
    let run = passenger.speeds[0].run.unwrap();
    let speed_m_s = run.speed_m_s.unwrap().value;
    assert!((speed_m_s - 2.5).abs() < 0.03, "{}", speed_m_s * KM_H_PER_M_S);
    // Typed in the middle of a change of speed.
    let changing = work_at(vec![1.5, 3.0, 0.0], &[(-10.0, "shown speed 9.0")]);
    assert!(
        matches!(changing.speeds[0].run, Err(SpeedRefusal::NotSteady { .. })),
        "{:?}",
        changing.speeds
    );
    // Before anything was driven.
    let early = work_at(vec![2.0, 0.0], &[(-25.0, "shown speed 9.0")]);
    assert!(early.speeds[0].run.is_err(), "{:?}", early.speeds);
}

#[test]
fn what_is_known_and_was_stated_may_stand_in_the_capture_alone() {
    let (mut records, truth, scenario, mut options) = driven(Case::Old, 14);
    options.stated = Stated {
        distance_step_m: Some(0.7),
        speed_step_km_h: Some(0.3),
        wrap_m: Some(9_000.0),
        rate_l_per_ha: Some(200.0),
    };
    type_readings(&mut records, &truth, &scenario, Read::Distance);
    let with_options = to_json(&work(&records, &options));
    for (n, text) in options.known.notes().into_iter().chain(options.stated.notes()).enumerate() {
        note(&mut records, 0.01 * n as f64, &text);
    }
    let course = options.course.clone();
    let noted = work(&records, &ProofOptions { course, ..ProofOptions::default() });
    assert_eq!(to_json(&noted), with_options);
}

/// Each kind of result once.
fn results() -> Vec<Proof> {
    let mut out: Vec<Proof> = [Case::Right, Case::Old, Case::Times(2.0)]
        .map(|case| drive(case, Read::Distance, 15).proof)
        .into();
    let (mut records, truth, scenario, options) = driven(Case::Old, 16);
    out.push(work(&records, &options));
    let stated = Stated { rate_l_per_ha: Some(200.0), ..Stated::default() };
    let rated = ProofOptions { stated, ..options };
    type_readings(&mut records, &truth, &scenario, Read::Distance);
    note(&mut records, 0.5, "shown speed 8.0");
    note(&mut records, 0.6, "shown distance 5.0");
    out.push(work(&records, &rated));
    let coarse = Stated { distance_step_m: Some(20.0), ..stated };
    out.push(work(&records, &ProofOptions { stated: coarse, ..rated.clone() }));
    out.push(work(&records, &ProofOptions { known: Known::default(), ..rated }));
    out.push(drive(Case::Right, Read::Speed, 15).proof);
    out.push(drive(Case::Right, Read::Bus, 15).proof);
    out
}

#[test]
fn results_keep_to_their_schema() {
    let all: Vec<Value> =
        results().iter().map(|proof| serde_json::from_str(&to_json(proof)).unwrap()).collect();
    keeps(SCHEMA, &all);
    all_written(SCHEMA, &all);
}

#[test]
fn the_text_keeps_to_the_terminal_and_carries_the_cautions() {
    for text in results().iter().map(render) {
        println!("{text}");
        assert!(text.starts_with("PROOF: ") && text.ends_with('\n'), "{text}");
        assert!(cautions::PROOF.iter().all(|caution| text.contains(caution)), "{text}");
        for line in text.lines() {
            assert!(line.chars().count() <= 100, "{line}");
            assert_eq!(line.trim_end(), line, "blanks at the end");
        }
    }
}
