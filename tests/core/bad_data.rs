//! Bad data of kinds that really happen: flagged, with the right suspect named, and no confident
//! figure out of it.

use trundle_core::capture::{Entry, PortRole, Record};
use trundle_core::figure::{self, COVERAGE, ChannelFigures, Job, Work, WorkOptions};
use trundle_core::flags::{Code, Flag};
use trundle_core::stats::budget::cover;
use trundle_protocol::Deframer;
use trundle_protocol::message::ToHost;
use trundle_protocol::units::Channel;
use trundle_sim::{Fault, ReceiverClass, Scenario, Truth};
use trundle_tests::{change, plain_course, replay, seeds, simulate, simulated_work, work_session};

fn wheel(work: &Work) -> &ChannelFigures {
    work.channels.iter().find(|channel| channel.name == "wheel").unwrap()
}

fn flags(work: &Work, code: Code) -> Vec<&Flag> {
    work.all_flags().filter(|flag| flag.code == code).collect()
}

fn has(work: &Work, code: Code) -> bool {
    !flags(work, code).is_empty()
}

fn words(work: &Work) -> Vec<String> {
    work.all_flags().map(Flag::sentence).collect()
}

/// A whole number to enter is given only if the stated interval of the best figure holds the truth.
fn assert_not_misled(work: &Work, truth: &Truth, at: &str) {
    let wheel = wheel(work);
    let Some(entered) = wheel.value_to_enter else { return };
    let best = wheel.best().unwrap();
    let half = cover(best, &wheel.sources, COVERAGE).expanded_uncertainty;
    let off = entered as f64 - truth.wheel_impulses_per_100m;
    assert!(off.abs() <= half + 0.5, "{at}: entered {entered}, off {off}, states {half}");
}

#[test]
fn one_of_three_passes_slipped() {
    for class in [ReceiverClass::Rtk, ReceiverClass::Corrected] {
        for seed in 0..seeds(2, 6) {
            let slipped = 1 + (seed % 3) as u32;
            let scenario = Scenario {
                passes: 3,
                faults: vec![Fault::PassSlip { pass: slipped, slip: 0.05 }],
                ..Scenario::default().with_receiver(class)
            };
            let (work, truth) = simulated_work(&scenario, seed, &plain_course(100.0));
            let at = format!("{} seed {seed}, pass {slipped} slipped", class.word());
            let named: Vec<&Flag> = flags(&work, Code::PassesScatter)
                .into_iter()
                .filter(|flag| flag.channel == Some("wheel"))
                .collect();
            assert_eq!(named.len(), 1, "{at}: {:?}", words(&work));
            assert_eq!(named[0].pass, Some(slipped), "{at}: {}", named[0].sentence());
            assert!(
                named[0].what.contains("suspect slip or the sensor"),
                "{at}: {}",
                named[0].what
            );
            assert!(!work.is_clean(), "{at}");
            assert_not_misled(&work, &truth, &at);
            println!("{at}: {} -> {:?}", named[0].sentence(), wheel(&work).value_to_enter);
        }
    }
}

#[test]
fn fix_quality_changes_inside_a_pass() {
    for (class, quality) in [(ReceiverClass::Rtk, 5), (ReceiverClass::Corrected, 1)] {
        for seed in 0..seeds(2, 3) {
            let sound = Scenario::default().with_receiver(class);
            let (before, truth) = simulated_work(&sound, seed, &plain_course(100.0));
            let pass = &truth.passes[1];
            let middle_s = f64::midpoint(pass.start_us as f64, pass.finish_us as f64) * 1e-6;
            let mut scenario = sound.clone();
            scenario.faults =
                vec![Fault::Quality { from_s: middle_s - 4.0, to_s: middle_s + 4.0, quality }];
            let (work, truth) = simulated_work(&scenario, seed, &plain_course(100.0));
            let at = format!("{} to {quality} seed {seed}", class.word());
            let changed = flags(&work, Code::FixQualityChanged);
            assert_eq!(changed.len(), 1, "{at}: {:?}", words(&work));
            assert_eq!(changed[0].pass, Some(2), "{at}");
            assert!(!has(&before, Code::FixQualityChanged), "{at}: flagged though sound");
            let counts = |work: &Work| -> Vec<f64> {
                wheel(work).passes.iter().map(|line| line.impulses).collect()
            };
            assert_eq!(counts(&work), counts(&before), "{at}");
            // Only how far the driver weaved comes from the receiver.
            let tape = |work: &Work| wheel(work).tape.as_ref().unwrap().value();
            let moved = tape(&work) / tape(&before) - 1.0;
            println!("{at}: {}; tape moved by {moved:e}", changed[0].what);
            assert!(moved.abs() < 2e-5, "{at}: tape moved by {moved}");
            assert_not_misled(&work, &truth, &at);
        }
    }
}

#[test]
fn a_receiver_that_trails_by_300_ms() {
    for class in ReceiverClass::ALL {
        for seed in 0..seeds(2, 4) {
            let prompt = Scenario::default().with_receiver(class);
            let mut scenario = prompt.clone();
            scenario.receiver.tag_lag_s = 0.3;
            let (work, truth) = simulated_work(&scenario, seed, &plain_course(100.0));
            let at = format!("{} seed {seed}", class.word());
            let told = flags(&work, Code::LargeLag);
            assert_eq!(told.len(), 1, "{at}: {:?}", words(&work));
            // The lag found is the content's behind its tag and the least output delay: until the
            // first byte, and some 80 bytes at 115,200 bit/s (10 bits each).
            let delay_s = scenario.receiver.latency_s + 80.0 * 10.0 / 115_200.0;
            let lag_s = work.clock.unwrap().lag_s;
            let off_s = lag_s - (0.3 + delay_s);
            println!("{at}: {}; off by {off_s:.4} s", told[0].what);
            assert!(off_s.abs() < 0.03, "{at}: lag {lag_s}");
            let satellite = wheel(&work).satellite.as_ref().unwrap().value();
            let error = satellite / truth.wheel_impulses_per_100m - 1.0;
            assert!(error.abs() < 0.003, "{at}: satellite off by {error}");
            let entered = wheel(&work).value_to_enter.unwrap() as f64;
            let error = entered / truth.wheel_impulses_per_100m - 1.0;
            assert!(error.abs() < 0.001, "{at}: entered {entered}, off by {error}");
            let (work, _) = simulated_work(&prompt, seed, &plain_course(100.0));
            assert!(!has(&work, Code::LargeLag), "{at}: told though prompt");
        }
    }
}

/// Many receivers print a speed of exactly zero while they stand. Long rests then make more than
/// half of all speeds fit at any lag, which must not hide the others.
#[test]
fn a_receiver_that_holds_zero_at_rest() {
    for (rest_s, course_m) in [(10.0, 100.0), (45.0, 50.0)] {
        for seed in 0..seeds(2, 4) {
            let scenario = Scenario { rest_s, course_m, ..Scenario::default() };
            let (records, truth) = simulate(&scenario, seed, None);
            let session = replay(&records);
            let mut passes = session.passes().to_vec();
            for pass in &mut passes {
                change(&mut pass.fixes, |fix| {
                    fix.speed_m_s = fix.speed_m_s.map(|v| if v < 0.08 { 0.0 } else { v });
                });
            }
            let totals = session.totals();
            let job = Job { passes: &passes, totals: &totals, whole: true };
            let course = Some(plain_course(course_m));
            let work = figure::work(&job, &WorkOptions { course, ..WorkOptions::default() });
            let delay_s = scenario.receiver.latency_s + 80.0 * 10.0 / 115_200.0;
            let lag_s = work.clock.unwrap().lag_s;
            let at = format!("rests of {rest_s} s, seed {seed}");
            println!("{at}: lag {lag_s:.4} s, delay {delay_s:.4} s");
            assert!((lag_s - delay_s).abs() < 0.03, "{at}: lag {lag_s}, not {delay_s}");
            let satellite = wheel(&work).satellite.as_ref().unwrap().value();
            let error = satellite / truth.wheel_impulses_per_100m - 1.0;
            assert!(error.abs() < 0.003, "{at}: satellite off by {error}");
            assert!(!has(&work, Code::Uneven), "{at}: {:?}", words(&work));
        }
    }
}

#[test]
fn a_course_typed_one_metre_wrong() {
    for class in ReceiverClass::ALL {
        let scenario = Scenario::default().with_receiver(class);
        for typed_m in [99.0, 101.0] {
            for seed in 0..seeds(2, 6) {
                let (work, _) = simulated_work(&scenario, seed, &plain_course(typed_m));
                let at = format!("{} typed {typed_m} seed {seed}", class.word());
                let told: Vec<&Flag> = work
                    .all_flags()
                    .filter(|f| matches!(f.code, Code::Disagree | Code::CourseLengthSuspect))
                    .filter(|f| f.channel == Some("wheel"))
                    .collect();
                assert_eq!(told.len(), 1, "{at}: {:?}", words(&work));
                let sentence = told[0].sentence();
                println!("{at}: {sentence}");
                assert!(sentence.contains("taped length"), "{at}: {sentence}");
                assert!(sentence.contains("likelier fault"), "{at}: {sentence}");
                assert!(!sentence.contains("receiver or the stopping is"), "{at}: {sentence}");
                for channel in &work.channels {
                    assert_eq!(channel.value_to_enter, None, "{at} {}", channel.name);
                }
            }
        }
    }
}

#[test]
fn missing_pulses_withhold_the_figure() {
    for probability in [0.003, 0.01] {
        for seed in 0..seeds(2, 6) {
            let scenario = Scenario {
                faults: vec![Fault::DroppedEdges { channel: Channel::Wheel, probability }],
                ..Scenario::default()
            };
            let (work, _) = simulated_work(&scenario, seed, &plain_course(100.0));
            let at = format!("{probability} seed {seed}");
            let told = flags(&work, Code::MissingPulses);
            assert!(!told.is_empty(), "{at}: {:?}", words(&work));
            assert!(told.iter().all(|flag| flag.channel == Some("wheel")), "{at}: {told:?}");
            assert_eq!(wheel(&work).value_to_enter, None, "{at}");
            println!("{at}: {}", told[0].sentence());
        }
    }
}

#[test]
fn a_healthy_sensor_is_never_called_sick() {
    for seed in 0..seeds(6, 20) {
        let names = ["plain", "corrected", "standalone", "weaving", "slope", "rolling-gate"];
        let name = names[seed as usize % names.len()];
        let scenario = Scenario::named(name).unwrap();
        let (work, _) = simulated_work(&scenario, seed, &plain_course(100.0));
        for code in [Code::MissingPulses, Code::ExtraPulses] {
            assert!(!has(&work, code), "{name} seed {seed}: {:?}", words(&work));
        }
    }
}

/// Drop the bytes of the board's n-th mark, from 1, as a break in the line would.
fn without_mark(records: &[Record], mark: u32) -> Vec<Record> {
    let mut deframer = Deframer::<ToHost>::new();
    // Each byte of the frame being gathered: record and place in it.
    let mut frame: Vec<(usize, usize)> = Vec::new();
    let mut out = records.to_vec();
    let mut seen = 0;
    for (number, record) in records.iter().enumerate() {
        let Entry::Bytes(PortRole::Board, bytes) = &record.entry else { continue };
        for (place, &byte) in bytes.iter().enumerate() {
            frame.push((number, place));
            let message = deframer.push(byte);
            seen += u32::from(matches!(message, Some(Ok(ToHost::Mark(_)))));
            if matches!(message, Some(Ok(ToHost::Mark(_)))) && seen == mark {
                for (number, place) in frame.iter().rev() {
                    if let Entry::Bytes(_, bytes) = &mut out[*number].entry {
                        bytes.remove(*place);
                    }
                }
                return out;
            }
            if message.is_some() || byte == 0 {
                frame.clear();
            }
        }
    }
    panic!("the job has no mark {mark}");
}

#[test]
fn a_lost_press_costs_its_pass_and_no_other() {
    let scenario = Scenario::default();
    for seed in 0..2 {
        let (records, truth) = simulate(&scenario, seed, None);
        let whole = work_session(&replay(&records), Some(&plain_course(100.0)));
        let counts: Vec<f64> = wheel(&whole).passes.iter().map(|line| line.impulses).collect();
        assert_eq!(counts.len(), 6);
        assert!(!has(&whole, Code::MarkLost));
        // Odd marks are starts, even ones finishes; the first and last press have their own test.
        for mark in 2..=11 {
            let at = format!("seed {seed} mark {mark}");
            let session = replay(&without_mark(&records, mark));
            let work = work_session(&session, Some(&plain_course(100.0)));
            assert!(has(&work, Code::MarkLost), "{at}: {:?}", words(&work));
            let mut expected = counts.clone();
            expected.remove((mark as usize - 1) / 2);
            let used: Vec<f64> = wheel(&work).passes.iter().map(|line| line.impulses).collect();
            assert_eq!(used, expected, "{at}: {:?}", words(&work));
            assert!(!work.is_clean(), "{at}");
            let entered = wheel(&work).value_to_enter.unwrap() as f64;
            let error = entered / truth.wheel_impulses_per_100m - 1.0;
            assert!(error.abs() < 0.001, "{at}: entered {entered}, off by {error}");
        }
    }
}

#[test]
fn the_first_or_last_press_lost_gives_no_wrong_figure() {
    for seed in 0..2 {
        let (records, truth) = simulate(&Scenario::default(), seed, None);
        for mark in [1, 12] {
            let at = format!("seed {seed} mark {mark}");
            let session = replay(&without_mark(&records, mark));
            let work = work_session(&session, Some(&plain_course(100.0)));
            println!("{at}: {:?} {:?}", wheel_entered(&work), words(&work));
            assert!(!work.is_clean(), "{at}: nothing is told");
            if let Some(entered) = wheel_entered(&work) {
                let error = entered as f64 / truth.wheel_impulses_per_100m - 1.0;
                assert!(error.abs() < 0.001, "{at}: entered {entered}, off by {error}");
            }
        }
    }
}

fn wheel_entered(work: &Work) -> Option<i64> {
    work.channels.iter().find(|channel| channel.name == "wheel")?.value_to_enter
}
