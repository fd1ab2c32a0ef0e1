//! The board restarts in a pass or between passes, and the driver goes on, begins again, or presses
//! while it boots: later passes are in step, or not used; nothing out of step is given unsaid.

use trundle_core::capture::{Entry, HostMark, HostMarkAction, Record};
use trundle_core::figure::Work;
use trundle_core::flags::{Code, Flag};
use trundle_sim::{Fault, Port, Scenario, Truth, record_all};
use trundle_tests::{HOST_START_NS, plain_course, records, replay, work_session};

const SEEDS: u64 = 2;

fn job() -> Scenario {
    Scenario { passes: 6, ..Scenario::default() }
}

/// Work a job with these restarts and presses at the host, with the receiver or without.
fn worked(scenario: &Scenario, seed: u64, typed_us: &[u64], receiver: bool) -> (Work, Truth) {
    let (mut emissions, truth) = record_all(scenario, seed);
    if !receiver {
        emissions.retain(|emission| emission.port == Port::Board);
    }
    let mut records = records(&emissions, truth.start_utc_ns, None);
    for at_us in typed_us {
        let host_ns = HOST_START_NS + at_us * 1000;
        let mark = HostMark { key: host_ns, action: HostMarkAction::Mark, text: String::new() };
        let at = records.partition_point(|record| record.host_ns < host_ns).max(1);
        records.insert(at, Record { host_ns, entry: Entry::HostMark(mark) });
    }
    (work_session(&replay(&records), Some(&plain_course(100.0))), truth)
}

fn words(work: &Work) -> Vec<String> {
    work.all_flags().map(Flag::sentence).collect()
}

/// Presses at standstill beside the pegs: starts and finishes in turn.
fn presses(truth: &Truth) -> Vec<u64> {
    truth.passes.iter().flat_map(|pass| [pass.start_us, pass.finish_us]).collect()
}

/// How many passes were used, all of them from peg to peg; the value, where one is given, is right.
fn in_step(work: &Work, truth: &Truth, at: &str) -> usize {
    let due = truth.wheel_impulses_per_100m;
    for channel in work.channels.iter().filter(|channel| channel.name == "wheel") {
        if let Some(value) = channel.value_to_enter {
            let off = (value as f64 / due - 1.0).abs();
            assert!(off < 0.005, "{at}: {value}, not {due}: {:?}", words(work));
        }
    }
    let used = work.passes.iter().filter(|pass| pass.state() != "refused");
    used.map(|pass| {
        let counted = pass.measured.as_ref().and_then(|m| m.impulses[0]).unwrap().impulses;
        let off = (counted / due - 1.0).abs();
        assert!(off < 0.03, "{at}: pass {} {counted}: {:?}", pass.number, words(work));
    })
    .count()
}

fn middle_s(truth: &Truth, pass: usize) -> f64 {
    u64::midpoint(truth.passes[pass].start_us, truth.passes[pass].finish_us) as f64 * 1e-6
}

fn reset(at_s: f64, boot_s: f64) -> Fault {
    Fault::BoardReset { at_s, boot_s }
}

fn told(work: &Work, code: Code) -> bool {
    work.all_flags().any(|flag| flag.code == code)
}

#[test]
fn a_restart_in_a_pass_ends_it_and_the_passes_after_it_are_in_step() {
    for (seed, cut, receiver) in (0..SEEDS)
        .flat_map(|s| [0, 1, 3].into_iter().flat_map(move |c| [(s, c, true), (s, c, false)]))
    {
        for (button, boots) in [(true, 1), (false, 1), (true, 2), (false, 2)] {
            let at = format!("seed {seed}, pass {cut}, receiver {receiver}, button {button}");
            let truth = record_all(&job(), seed).1;
            let at_s = middle_s(&truth, cut);
            let faults = (0..boots).map(|n| reset(at_s + 6.0 * f64::from(n), 0.8)).collect();
            let scenario = Scenario { faults, button, ..job() };
            let typed = if button { Vec::new() } else { presses(&truth) };
            let (work, truth) = worked(&scenario, seed, &typed, receiver);
            assert!(told(&work, Code::BoardReset), "{at}: {:?}", words(&work));
            assert!(!told(&work, Code::MarksUnsure), "{at}: {:?}", words(&work));
            assert_eq!(in_step(&work, &truth, &at), 5, "{at}: {:?}", words(&work));
        }
    }
}

#[test]
fn after_a_restart_in_a_pass_the_driver_may_begin_again() {
    for (seed, cut, receiver) in (0..SEEDS)
        .flat_map(|s| [0, 1, 3].into_iter().flat_map(move |c| [(s, c, true), (s, c, false)]))
    {
        let at = format!("seed {seed}, pass {cut}, receiver {receiver}");
        let truth = record_all(&job(), seed).1;
        let faults = vec![reset(middle_s(&truth, cut), 0.8)];
        let scenario = Scenario { faults, button: false, ..job() };
        let mut typed = presses(&truth);
        // The finish of the pass that was cut off is not pressed any more.
        typed.remove(2 * cut + 1);
        let (work, truth) = worked(&scenario, seed, &typed, receiver);
        assert!(told(&work, Code::BoardReset), "{at}: {:?}", words(&work));
        let used = in_step(&work, &truth, &at);
        let least = match (cut, receiver) {
            // Nothing tells a pass from the way between two: none is used, in so many words.
            (0, false) => {
                assert!(told(&work, Code::MarksUnsure), "{at}: {:?}", words(&work));
                0
            }
            (0, true) => 4,
            _ => 5,
        };
        assert!(used >= least, "{at}: {used} {:?}", words(&work));
    }
}

#[test]
fn a_press_during_the_restart_does_not_put_the_marks_out_of_step() {
    for (seed, lost, receiver) in
        (0..SEEDS).flat_map(|s| (0..8).flat_map(move |l| [(s, l, true), (s, l, false)]))
    {
        let at = format!("seed {seed}, press {lost}, receiver {receiver}");
        let truth = record_all(&job(), seed).1;
        let pass = &truth.passes[lost / 2];
        let mark_us = if lost % 2 == 0 { pass.start_mark_us } else { pass.finish_mark_us };
        let at_s = mark_us.unwrap() as f64 * 1e-6 - 0.4;
        let scenario = Scenario { faults: vec![reset(at_s, 0.8)], ..job() };
        let (work, truth) = worked(&scenario, seed, &[], receiver);
        let used = in_step(&work, &truth, &at);
        assert!(
            used >= 3 || !receiver && told(&work, Code::MarksUnsure),
            "{at}: {:?}",
            words(&work)
        );
    }
}

#[test]
fn a_restart_between_the_passes_costs_nothing() {
    for (seed, after, receiver) in (0..SEEDS)
        .flat_map(|s| [0, 1, 3].into_iter().flat_map(move |c| [(s, c, true), (s, c, false)]))
    {
        for button in [true, false] {
            let at = format!("seed {seed}, before {after}, receiver {receiver}, button {button}");
            let truth = record_all(&job(), seed).1;
            let begin_us = truth.passes[after].start_mark_us.unwrap();
            let end_us =
                if after == 0 { 0 } else { truth.passes[after - 1].finish_mark_us.unwrap() };
            let faults = vec![reset(u64::midpoint(begin_us, end_us) as f64 * 1e-6, 0.8)];
            let scenario = Scenario { faults, button, ..job() };
            let typed = if button { Vec::new() } else { presses(&truth) };
            let (work, truth) = worked(&scenario, seed, &typed, receiver);
            assert_eq!(in_step(&work, &truth, &at), 6, "{at}: {:?}", words(&work));
        }
    }
}
