//! The plan before driving, held against simulated jobs, and both result files against their
//! schemas (JSON Schema draft 2020-12, json-schema.org, as the `jsonschema` crate checks it).

use serde_json::{Value, json};
use trundle_core::course::file;
use trundle_core::course::tape::{CourseSpec, course_length};
use trundle_core::figure::plan::{
    PASSES, Plan, PlanInputs, ReceiverKind, plan, satellite_length_u_m, typical,
};
use trundle_core::result::course_v1::{TapedCourse, course_to_json, plan_to_json};
use trundle_core::stats::budget::{Quantity, Sources, cover};
use trundle_show::text::course::{render_course, render_plan};
use trundle_sim::{ReceiverClass, Scenario};
use trundle_tests::held::keeps;
use trundle_tests::{plain_course, simulated_work};

const RECEIVERS: [Option<ReceiverKind>; 4] =
    [None, Some(ReceiverKind::Standalone), Some(ReceiverKind::Corrected), Some(ReceiverKind::Rtk)];

fn steel_course(length_m: f64) -> CourseSpec {
    let mut course = plain_course(length_m);
    course.tape.temperature_c = Some(20.0);
    course
}

fn planned(change: impl Fn(&mut PlanInputs)) -> Plan {
    let mut inputs = PlanInputs::new(Some(steel_course(100.0)));
    change(&mut inputs);
    plan(&inputs).unwrap()
}

/// Expanded relative uncertainty of tape and joined figure with these passes.
fn at(plan: &Plan, passes: u32) -> (f64, f64) {
    let row = plan.lengths[0].rows.iter().find(|row| row.passes == passes).unwrap();
    (row.tape, row.best())
}

/// The plan against what the simulator's jobs show, medians of a few: within a factor of 1.5. The
/// simulator knows nothing of the plan's typical receivers, nor the plan of the simulator's.
#[test]
fn simulated_jobs_come_out_as_planned() {
    for (class, kind, passes) in [
        (ReceiverClass::Rtk, ReceiverKind::Rtk, 6),
        (ReceiverClass::Corrected, ReceiverKind::Corrected, 4),
    ] {
        let mut scenario = Scenario::default().with_receiver(class);
        scenario.passes = passes;
        let plan = planned(|inputs| {
            inputs.receiver = Some(kind);
            inputs.stop_half_width_m = scenario.stop_error_m;
        });
        let (mut tape, mut joined) = (Vec::new(), Vec::new());
        for seed in 300..312 {
            let (work, _) = simulated_work(&scenario, seed, &steel_course(100.0));
            let wheel = &work.channels[0];
            let relative = |quantity: &Option<Quantity>| {
                let q = quantity.as_ref()?;
                Some(cover(q, &wheel.sources, 0.95).expanded_uncertainty / q.value())
            };
            tape.extend(relative(&wheel.tape));
            joined.extend(relative(&wheel.combined));
        }
        let expected = at(&plan, passes);
        for (side, mut seen, expected) in
            [("tape", tape, expected.0), ("joined", joined, expected.1)]
        {
            seen.sort_by(f64::total_cmp);
            let median = seen[seen.len() / 2];
            let ratio = median / expected;
            println!("{} {passes} {side}: {median:.6} seen, {expected:.6} planned", kind.word());
            assert!(seen.len() >= 10, "{side}: only {} of 12 jobs gave one", seen.len());
            assert!((1.0 / 1.5..1.5).contains(&ratio), "{side} {median} against {expected}");
        }
    }
}

/// Endless passes leave the tape alone: the plan's floor by tape is the doubt of the course, and
/// the weaving that nothing has measured (0.01 % standard), in quadrature (JCGM 100, 5.1.2).
#[test]
fn endless_passes_leave_tape_and_pegs() {
    let plan = planned(|_| {});
    let mut sources = Sources::new();
    let length = course_length(&steel_course(100.0), &mut sources).unwrap().length;
    let u = (length.standard_uncertainty() / length.value()).hypot(1e-4);
    let factor = plan.lengths[0].endless / u;
    // Between the quantile of a rectangle (0.95 times the root of 3) and that of a normal, 1.96.
    assert!((1.645..1.961).contains(&factor), "{factor}");
}

/// What the tape table of 2014/32/EU, annex X (UK SI 2016/1153, schedule 1I) says of 100 m:
/// 20.3 mm by class II, 40.6 mm by class III. Where the tape dominates, twice the limit is nearly
/// twice the doubt.
#[test]
fn a_poorer_tape_shows_where_it_dominates() {
    let poorer = planned(|inputs| {
        inputs.course.tape.accuracy = CourseSpec::new(100.0).tape.accuracy;
        inputs.stop_half_width_m = 0.001;
    });
    let better = planned(|inputs| inputs.stop_half_width_m = 0.001);
    let ratio = at(&poorer, 10).0 / at(&better, 10).0;
    assert!((1.4..2.0).contains(&ratio), "{ratio}");
    assert_eq!(poorer.lengths[0].dominant.key, "tape.class");
    assert!(poorer.lengths[0].remedies.iter().any(|r| r.change == "use a tape of class II"));
}

#[test]
fn more_passes_never_promise_less_and_the_number_needed_is_the_least() {
    for receiver in RECEIVERS {
        for target in [0.0002, 0.0005, 0.001, 0.01] {
            let plan = planned(|inputs| {
                inputs.receiver = receiver;
                inputs.target = target;
            });
            let length = &plan.lengths[0];
            assert_eq!(length.rows.iter().map(|r| r.passes).collect::<Vec<_>>(), PASSES);
            assert!(length.rows.windows(2).all(|w| w[1].best() < w[0].best()), "{length:?}");
            assert!(length.rows.iter().all(|row| row.best() > length.endless));
            match length.needed {
                Some(passes) => {
                    assert_eq!(length.at.passes, passes);
                    assert!(length.at.best() <= target);
                    let fewer = length.rows.iter().filter(|row| row.passes < passes);
                    assert!(fewer.into_iter().all(|row| row.best() > target));
                }
                None => assert!(length.rows.iter().all(|row| row.best() > target)),
            }
            let now = length.at.best();
            assert!(length.remedies.iter().all(|remedy| remedy.expected < now));
            assert!(length.remedies.windows(2).all(|w| w[0].expected <= w[1].expected));
        }
    }
}

#[test]
fn a_better_receiver_and_closer_stops_help() {
    let best = |receiver, stop| {
        at(&planned(|i| (i.receiver, i.stop_half_width_m) = (receiver, stop)), 6).1
    };
    let by_receiver: Vec<f64> = RECEIVERS[1..].iter().map(|r| best(*r, 0.05)).collect();
    assert!(by_receiver.windows(2).all(|w| w[1] < w[0]), "{by_receiver:?}");
    assert!(best(None, 0.02) < best(None, 0.05) && best(None, 0.05) < best(None, 0.2));
    for kind in RECEIVERS[1..].iter().flatten() {
        assert!(satellite_length_u_m(*kind, 50.0) < satellite_length_u_m(*kind, 400.0));
        assert!(satellite_length_u_m(*kind, 400.0) < 2.0 * typical(*kind).slow_m.max(0.05));
    }
}

#[test]
fn numbers_that_cannot_be_are_refused_with_a_next_step() {
    let base = PlanInputs::new(None);
    assert_eq!(base.lengths_m, [50.0, 100.0, 200.0, 400.0]);
    for inputs in [
        PlanInputs { stop_half_width_m: 9.0, ..base.clone() },
        PlanInputs { target: 0.0, ..base.clone() },
        PlanInputs { target: f64::NAN, ..base.clone() },
        PlanInputs { lengths_m: vec![0.5], ..base.clone() },
    ] {
        let fault = plan(&inputs).unwrap_err();
        assert!(!fault.what().is_empty() && !fault.remedy().is_empty(), "{fault:?}");
    }
}

const COURSE_SCHEMA: &str = include_str!("../../host/schemas/trundle-course-1.schema.json");
const PLAN_SCHEMA: &str = include_str!("../../host/schemas/trundle-plan-1.schema.json");

const FULL_COURSE: &str = "[course]\nnominal_m = 100\nsections_m = [30, 30, 40]\n\
    height_difference_m = 1.2\nfoo = 1\n[tape]\nclass = \"II\"\nmaterial = \"steel\"\n\
    temperature_c = 31\ntension_n = 60\ncross_section_mm2 = 3\nmass_kg_per_m = 0.02\n\
    hanging_spans_m = [10]\nstandard_length_m = [30, 30.003]\n";

/// JSON and text of a course file.
fn course(text: &str) -> (Value, String) {
    let read = file::parse(text).unwrap();
    let mut sources = Sources::new();
    let length = course_length(&read.spec, &mut sources).unwrap();
    let taped = TapedCourse {
        nominal_m: read.spec.nominal_m,
        length: &length,
        sources: &sources,
        unknown_keys: &read.unknown,
    };
    (serde_json::from_str(&course_to_json(&taped)).unwrap(), render_course(&taped))
}

#[test]
fn course_files_keep_to_their_schema() {
    let plain = course("[course]\nnominal_m = 100\n").0;
    let full = course(FULL_COURSE).0;
    assert_eq!(plain["horizontal"], Value::Null);
    assert_eq!(full["unknown_keys"], json!(["[course] foo"]));
    // The budget is the length's: root of the sum of squares (JCGM 100, 5.1.2).
    for value in [&plain, &full] {
        let squares: f64 = value["budget"]
            .as_array()
            .unwrap()
            .iter()
            .map(|line| line["contribution_m"].as_f64().unwrap().powi(2))
            .sum();
        let u = value["length"]["standard_uncertainty_m"].as_f64().unwrap();
        assert!((squares.sqrt() - u).abs() < 1e-12);
    }
    keeps(COURSE_SCHEMA, &[plain, full]);
}

#[test]
fn plans_keep_to_their_schema() {
    let mut all = Vec::new();
    for receiver in RECEIVERS {
        for (spec, target) in [(None, 0.001), (Some(steel_course(100.0)), 0.0001)] {
            let inputs = PlanInputs { receiver, target, ..PlanInputs::new(spec) };
            let made = plan(&inputs).unwrap();
            all.push(serde_json::from_str(&plan_to_json(&made)).unwrap());
        }
    }
    keeps(PLAN_SCHEMA, &all);
}

#[test]
fn the_text_keeps_to_the_terminal_and_answers_first() {
    let (_, taped) = course(FULL_COURSE);
    assert!(taped.starts_with("The course is "), "{taped}");
    assert!(taped.contains("[course] foo is not known"), "{taped}");
    let reached = render_plan(&planned(|i| i.receiver = Some(ReceiverKind::Standalone)));
    assert!(reached.starts_with("100 m: DRIVE "), "{reached}");
    let never = render_plan(&planned(|i| i.target = 0.0001));
    assert!(never.starts_with("100 m: ±0.010 % CANNOT BE REACHED"), "{never}");
    for text in [taped, reached, never] {
        assert!(text.ends_with('\n'));
        for line in text.lines() {
            assert!(line.chars().count() <= 100, "{line}");
            assert_eq!(line.trim_end(), line, "blanks at the end");
        }
    }
}
