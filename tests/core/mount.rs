//! The antenna's place from driving: against the simulator's truth, against the schema, and the
//! refusals.
//!
//! Outside sources: JSON Schema draft 2020-12 (json-schema.org). The circle computed by another
//! program stands in `.ci/circle.py`.

use serde_json::Value;
use std::sync::LazyLock;
use trundle_core::result::mount_v1::to_json;
use trundle_core::session::trail::THINNED_US;
use trundle_core::stats::budget::cover;
use trundle_core::survey::mount::{Mount, MountOptions, MountRefusal, Taped, work};
use trundle_show::text::mount::render;
use trundle_sim::{Driving, LeverArm, ReceiverClass, Scenario, record_all};
use trundle_tests::held::keeps;
use trundle_tests::{records, replay_with_trail, seeds};

static SEEDS: LazyLock<u64> = LazyLock::new(|| seeds(8, 20));
/// Lever arms in turn: right and ahead, metres.
const ARMS: [(f64, f64); 3] = [(-0.65, 0.85), (0.12, 1.5), (0.4, 2.1)];

fn with_arm(scenario: &Scenario, seed: u64) -> Scenario {
    let (right_m, ahead_m) = ARMS[(seed % 3) as usize];
    let lever_arm = LeverArm { right_m, ahead_m, ..scenario.lever_arm };
    Scenario { lever_arm, ..scenario.clone() }
}

fn worked(scenario: &Scenario, seed: u64, options: &MountOptions) -> Result<Mount, MountRefusal> {
    let (emissions, truth) = record_all(scenario, seed);
    let session = replay_with_trail(&records(&emissions, truth.start_utc_ns, None), THINNED_US);
    work(&session.trail().unwrap(), options)
}

fn jobs(scenario: &Scenario) -> Vec<(LeverArm, Mount)> {
    let job = |seed| {
        let scenario = with_arm(scenario, seed);
        let mount = worked(&scenario, seed, &MountOptions::default());
        (scenario.lever_arm, mount.unwrap_or_else(|refusal| panic!("seed {seed}: {refusal}")))
    };
    (1..=*SEEDS).map(job).collect()
}

static RTK: LazyLock<Vec<(LeverArm, Mount)>> = LazyLock::new(|| jobs(&Scenario::default()));
static CIRCLES: LazyLock<Vec<(LeverArm, Mount)>> =
    LazyLock::new(|| jobs(&Scenario::named("circles").unwrap()));

/// Of twenty, one may miss by chance alone; two would be 10 %.
const MISSES: usize = 1;

fn count_beyond(errors: impl Iterator<Item = Option<f64>>, limit_m: f64) -> usize {
    errors.filter(|error| error.is_none_or(|m| m.abs() > limit_m)).count()
}

fn right_error(job: &(LeverArm, Mount)) -> Option<f64> {
    Some(job.1.right.as_ref()?.value() - job.0.right_m)
}

#[test]
fn six_passes_give_the_offset_to_two_centimetres_by_rtk() {
    assert!(count_beyond(RTK.iter().map(right_error), 0.02) <= MISSES);
    let by_passes = RTK.iter().map(|(arm, mount)| {
        mount.passes.as_ref().ok().map(|witness| witness.right.value() - arm.right_m)
    });
    assert!(count_beyond(by_passes, 0.02) <= MISSES);
    for (arm, mount) in RTK.iter() {
        let witness = mount.passes.as_ref().unwrap();
        assert_eq!((witness.places.len(), witness.lines), (6, 1), "{arm:?}");
        assert!(mount.agreement.is_some() && mount.suspect.is_none(), "{arm:?}");
    }
}

#[test]
fn six_passes_give_the_offset_to_ten_centimetres_by_a_corrected_receiver() {
    let jobs = jobs(&Scenario::default().with_receiver(ReceiverClass::Corrected));
    assert!(count_beyond(jobs.iter().map(right_error), 0.10) <= MISSES);
}

#[test]
fn circles_give_the_distance_ahead_to_five_centimetres() {
    let errors = CIRCLES.iter().map(|(arm, mount)| {
        assert!(mount.circles.is_ok());
        mount.ahead.as_ref().map(|(ahead, _)| ahead.value() - arm.ahead_m)
    });
    assert!(count_beyond(errors, 0.05) <= MISSES);
    let covered = CIRCLES.iter().filter(|(arm, mount)| {
        let (ahead, _) = mount.ahead.as_ref().unwrap();
        (ahead.value() - arm.ahead_m).abs()
            <= cover(ahead, &mount.sources, 0.95).expanded_uncertainty
    });
    assert!(covered.count() as u64 >= *SEEDS - *SEEDS / 10);
}

#[test]
fn the_same_figure_or_none_for_a_tractor_whose_wheel_counts_otherwise() {
    // Whatever the impulses of a metre are, the straights tell them: the place stays.
    let one = with_arm(&Scenario::default(), 1);
    let other = Scenario { wheel_per_100m: 5_000.0, wheel_teeth: 20, ..one.clone() };
    let place = |scenario: &Scenario| {
        let mount = worked(scenario, 1, &MountOptions::default()).unwrap();
        mount.turns.as_ref().unwrap().right.value()
    };
    assert!((place(&one) - place(&other)).abs() < 0.01);
}

#[test]
fn a_line_that_was_not_held_is_found_out_by_the_turns() {
    // The driver claims a centimetre and misses the line by decimetres, out and back once only.
    let sloppy = Scenario { passes: 2, line_error_m: 0.4, ..Scenario::default() };
    let options = MountOptions { line_held_m: 0.01, ..MountOptions::default() };
    let mut contradicted = 0;
    for seed in 1..=4 {
        let scenario = with_arm(&sloppy, seed);
        let result = worked(&scenario, seed, &options);
        let mount = result.as_ref().unwrap();
        let turns = mount.turns.as_ref().unwrap().right.value();
        assert!((turns - scenario.lever_arm.right_m).abs() < 0.05, "seed {seed}: {turns}");
        if mount.suspect.is_some() {
            contradicted += 1;
            assert!(mount.right.is_none() && !mount.is_clean());
            assert!(render(&result).contains("NO OFFSET TO THE SIDE"));
            let value: Value = serde_json::from_str(&to_json(&result)).unwrap();
            assert_eq!(
                (value["state"].as_str(), value["right"].is_null()),
                (Some("flagged"), true)
            );
        }
    }
    assert!(contradicted >= 2, "only {contradicted} of 4 were found out");
}

#[test]
fn taped_measures_and_the_coupling_point_stand_beside() {
    let scenario = with_arm(&Scenario::named("circles").unwrap(), 2);
    let (right_m, ahead_m) = (scenario.lever_arm.right_m, scenario.lever_arm.ahead_m);
    let taped =
        Taped { right_m: Some(right_m + 0.10), ahead_m: Some(ahead_m), axle_to_hitch_m: Some(1.1) };
    let mount = worked(&scenario, 2, &MountOptions { taped, ..MountOptions::default() }).unwrap();
    let beside = mount.beside();
    assert_eq!(beside.len(), 2);
    assert!(!beside[0].agreement.agrees && (beside[0].agreement.difference + 0.10).abs() < 0.01);
    assert!(beside[1].agreement.agrees && !mount.is_clean());
    let coupling = mount.coupling().unwrap();
    assert!((coupling.along.value() - ahead_m - 1.1).abs() < 0.05);
    let text = render(&Ok(mount));
    assert!(text.contains("THEY DO NOT AGREE") && text.starts_with("Cautions"));
    assert!(text.contains("right is positive") && text.lines().all(|l| l.chars().count() <= 100));
}

#[test]
fn what_cannot_be_told_is_refused_with_the_reason() {
    let options = MountOptions::default();
    let circles = worked(&Scenario::named("circles").unwrap(), 3, &options).unwrap();
    let reason = circles.passes.as_ref().unwrap_err().to_string();
    assert!(reason.contains("out and back"), "{reason}");
    let passes = &RTK[0].1;
    assert!(passes.circles.is_err() && passes.ahead.is_some());
    // One pass only: no way back, no turn.
    let single = Scenario { passes: 1, ..Scenario::default() };
    let refusal = worked(&single, 3, &options).unwrap_err();
    assert!(matches!(refusal, MountRefusal::NothingToHear { .. }), "{refusal}");
    // A tractor that stands: the engine's shaft turns, the wheels do not.
    let standing =
        Scenario { driving: Driving::Circles, passes: 1, rest_s: 400.0, ..Scenario::default() };
    let (emissions, truth) = record_all(&standing, 3);
    let still: Vec<_> = emissions.into_iter().filter(|e| e.sim_us < 300_000_000).collect();
    let session = replay_with_trail(&records(&still, truth.start_utc_ns, None), THINNED_US);
    let refusal = work(&session.trail().unwrap(), &options).unwrap_err();
    let stood = matches!(refusal, MountRefusal::Ride(_) | MountRefusal::Standing);
    assert!(stood, "{refusal}");
    for text in [refusal.to_string(), refusal.means().to_owned(), refusal.next().to_owned()] {
        assert!(!text.is_empty());
    }
}

#[test]
fn results_keep_to_the_schema() {
    let taped = Taped { right_m: Some(0.1), ahead_m: Some(1.0), axle_to_hitch_m: Some(1.0) };
    let options = MountOptions { taped, ..MountOptions::default() };
    let single = Scenario { passes: 1, ..Scenario::default() };
    let results = [
        worked(&Scenario::default(), 5, &options),
        worked(&Scenario::named("circles").unwrap(), 5, &options),
        worked(&single, 5, &options),
    ];
    let all: Vec<Value> =
        results.iter().map(|result| serde_json::from_str(&to_json(result)).unwrap()).collect();
    keeps(include_str!("../../host/schemas/trundle-mount-1.schema.json"), &all);
    // Same records, same bytes.
    let again = worked(&Scenario::default(), 5, &options);
    assert_eq!(to_json(&again), to_json(&results[0]));
}
