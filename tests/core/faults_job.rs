//! Jobs in which something goes wrong: the right result, or a refused pass with its reason; never
//! a wrong figure without a flag.
//!
//! A figure is wrong when the simulator's truth lies outside three times its stated expanded
//! uncertainty, or more than 0.3 % away. A job is clean when it carries no flag but remarks.

use std::fmt::Write as _;
use std::sync::LazyLock;
use trundle_core::figure::{COVERAGE, ChannelFigures, Work};
use trundle_core::flags::Code;
use trundle_core::stats::budget::{Quantity, expand};
use trundle_sim::{Fault, Port, Scenario, Truth};
use trundle_tests::{plain_course, seeds, simulated_work};

static SEEDS: LazyLock<u64> = LazyLock::new(|| seeds(4, 20));
/// Farther from the truth than this, a figure is wrong whatever doubt it states.
const WRONG: f64 = 0.003;

/// A scenario and what it must bring about.
struct Case {
    name: &'static str,
    scenario: Scenario,
    /// A flag that every seed must carry; none where the fault must do no harm.
    told: Option<Code>,
    /// Passes refused in every seed must carry this.
    refusal: Option<Code>,
}

fn case(name: &'static str, told: Option<Code>, refusal: Option<Code>) -> Case {
    let scenario = Scenario::named(name).unwrap();
    Case { name, scenario, told, refusal }
}

fn cases() -> Vec<Case> {
    let mut noisy = case("noisy-lines", Some(Code::LinkNoisy), None);
    noisy.scenario.faults = vec![
        Fault::ByteDamage { port: Port::Board, rate: 0.01 },
        Fault::ByteDamage { port: Port::Receiver, rate: 0.01 },
    ];
    vec![
        case("plain", None, None),
        case("board-reset", Some(Code::BoardReset), Some(Code::BoardReset)),
        case("timer-wrap", None, None),
        case("receiver-gap", None, None),
        noisy,
        case("fix-frozen", None, None),
        case("fix-degraded", None, None),
        case("board-gap", Some(Code::LinkGap), None),
        case("rocking", None, None),
        case("slip-in-one-pass", None, None),
        case("dropped-edges", None, None),
        case("bounce", Some(Code::NoisyInput), None),
    ]
}

/// What came of one seed.
struct Outcome {
    seed: u64,
    clean: bool,
    /// Passes refused, each with the reasons it carries.
    refused: Vec<(u32, Vec<&'static str>)>,
    codes: Vec<Code>,
    /// Largest error of any figure shown, as a share.
    error: f64,
    /// Figures that are wrong, in words.
    wrong: Vec<String>,
    /// A whole number to enter is given, and it is wrong.
    wrong_to_enter: bool,
    /// The same, and not even three times its stated doubt covers it.
    uncovered: bool,
    figure: Option<i64>,
}

fn expanded(q: &Quantity, channel: &ChannelFigures) -> f64 {
    expand(q, &channel.sources, COVERAGE).expanded_uncertainty
}

fn judge(name: &str, q: &Quantity, channel: &ChannelFigures, truth: f64) -> (f64, Option<String>) {
    let error = q.value() / truth - 1.0;
    let expanded = expanded(q, channel) / truth;
    let wrong = error.abs() > WRONG || error.abs() > 3.0 * expanded;
    let (percent, u) = (100.0 * error, 100.0 * expanded);
    (error.abs(), wrong.then(|| format!("{name} {percent:+.3} % (states {u:.3} %)")))
}

fn outcome(seed: u64, work: &Work, truth: &Truth) -> Outcome {
    let mut error: f64 = 0.0;
    let mut wrong = Vec::new();
    let mut wrong_to_enter = false;
    let mut uncovered = false;
    let truths = [truth.wheel_impulses_per_100m, truth.radar_impulses_per_100m];
    for (channel, truth) in work.channels.iter().zip(truths) {
        let sides = [
            ("tape", &channel.tape),
            ("satellite", &channel.satellite),
            ("both", &channel.combined),
        ];
        for (side, quantity) in sides {
            let Some(quantity) = quantity else { continue };
            let name = format!("{} {side}", channel.name);
            let (off, words) = judge(&name, quantity, channel, truth);
            error = error.max(off);
            wrong.extend(words);
        }
        if let Some(figure) = channel.value_to_enter {
            let off = figure as f64 / truth - 1.0;
            if off.abs() > WRONG {
                wrong_to_enter = true;
                let best = channel.best();
                uncovered |= best.is_none_or(|q| off.abs() > 3.0 * expanded(q, channel) / truth);
                wrong.push(format!("{} to enter {:+.3} %", channel.name, 100.0 * off));
            }
        }
    }
    let refused = work.passes.iter().filter(|pass| pass.state() == "refused");
    Outcome {
        seed,
        clean: work.is_clean(),
        refused: refused
            .map(|pass| (pass.number, pass.flags.iter().map(|flag| flag.code.word()).collect()))
            .collect(),
        codes: work.all_flags().map(|flag| flag.code).collect(),
        error,
        wrong,
        wrong_to_enter,
        uncovered,
        figure: work.channels.first().and_then(|channel| channel.value_to_enter),
    }
}

fn run(scenario: &Scenario, typed_m: f64, seeds: std::ops::Range<u64>) -> Vec<Outcome> {
    let course = plain_course(typed_m);
    let one = |seed: u64| {
        let (work, truth) = simulated_work(scenario, seed, &course);
        outcome(seed, &work, &truth)
    };
    let middle = seeds.start + (seeds.end - seeds.start) / 2;
    std::thread::scope(|scope| {
        let first = scope.spawn(|| (seeds.start..middle).map(one).collect::<Vec<_>>());
        let mut second: Vec<_> = (middle..seeds.end).map(one).collect();
        let mut all = first.join().unwrap();
        all.append(&mut second);
        all
    })
}

/// One line of the table, and the must-holds of the case that were not held.
fn line(case: &Case, outcomes: &[Outcome], failures: &mut Vec<String>) -> String {
    let mut codes: Vec<&str> = outcomes
        .iter()
        .flat_map(|o| &o.codes)
        .filter(|code| !code.is_remark())
        .map(|code| code.word())
        .collect();
    codes.sort_unstable();
    codes.dedup();
    let clean: Vec<&Outcome> = outcomes.iter().filter(|o| o.clean).collect();
    let worst = |all: &mut dyn Iterator<Item = &Outcome>| all.map(|o| o.error).fold(0.0, f64::max);
    for o in outcomes {
        hold(case, o, failures);
    }
    format!(
        "{:<17}{:>6}{:>7}{:>9}{:>9}{:>10.3} %{:>10.3} %{:>15}  {}",
        case.name,
        outcomes.len(),
        clean.len(),
        outcomes.len() - clean.len(),
        outcomes.iter().map(|o| o.refused.len()).sum::<usize>(),
        100.0 * worst(&mut clean.iter().copied()),
        100.0 * worst(&mut outcomes.iter()),
        outcomes.iter().filter(|o| o.wrong_to_enter).count(),
        codes.join(" ")
    )
}

fn hold(case: &Case, o: &Outcome, failures: &mut Vec<String>) {
    let at = format!("{} seed {}", case.name, o.seed);
    if o.clean && !o.wrong.is_empty() {
        failures.push(format!("{at}: wrong without a flag: {}", o.wrong.join(", ")));
    }
    if let Some(told) = case.told
        && !o.codes.contains(&told)
    {
        failures.push(format!("{at}: {} is not told", told.word()));
    }
    if case.refusal.is_some() && o.refused.is_empty() {
        failures.push(format!("{at}: no pass was refused"));
    }
    for (pass, reasons) in &o.refused {
        if reasons.is_empty() || case.refusal.is_some_and(|code| !reasons.contains(&code.word())) {
            failures.push(format!("{at}: pass {pass} refused for {reasons:?}"));
        }
    }
    // Whatever the flags say, a number that is keyed in works all season: it must at least lie
    // within the doubt it states.
    if o.uncovered && !o.clean {
        failures.push(format!("{at}: a wrong figure to enter, flagged: {}", o.wrong.join(", ")));
    }
    if o.figure.is_some() && o.codes.contains(&Code::Disagree) {
        failures.push(format!("{at}: a figure to enter in spite of disagreement"));
    }
}

#[test]
fn never_a_wrong_figure_without_a_flag() {
    let mut table = format!(
        "{:<17}{:>6}{:>7}{:>9}{:>9}{:>12}{:>12}{:>15}  flags\n",
        "scenario",
        "seeds",
        "clean",
        "flagged",
        "refused",
        "worst clean",
        "worst all",
        "wrong entered"
    );
    let mut failures = Vec::new();
    for case in cases() {
        let outcomes = run(&case.scenario, 100.0, 0..*SEEDS);
        let _ = writeln!(table, "{}", line(&case, &outcomes, &mut failures));
    }
    println!("seeds 0 to {}\n{table}", *SEEDS - 1);
    assert!(failures.is_empty(), "{table}\n{}", failures.join("\n"));
}

#[test]
fn a_mistyped_length_gives_no_figure_to_enter() {
    let scenario = Scenario::named("plain").unwrap();
    for typed_m in [10.0, 1000.0, 101.0] {
        for o in run(&scenario, typed_m, 0..6) {
            let told = o
                .codes
                .iter()
                .any(|code| matches!(code, Code::CourseLengthSuspect | Code::Disagree));
            assert!(told, "{typed_m} m typed, seed {}: {:?}", o.seed, o.codes);
            assert_eq!(o.figure, None, "{typed_m} m typed, seed {}", o.seed);
            assert!(!o.clean);
        }
    }
}

#[test]
fn a_mistyped_length_is_noticed_with_every_receiver() {
    // Ten times too short or too long shows with any receiver at all.
    for name in ["corrected", "standalone"] {
        let scenario = Scenario::named(name).unwrap();
        for typed_m in [10.0, 1000.0] {
            for o in run(&scenario, typed_m, 0..3) {
                let told = o.codes.contains(&Code::CourseLengthSuspect);
                assert!(told, "{name}, {typed_m} m typed, seed {}: {:?}", o.seed, o.codes);
                assert_eq!(o.figure, None, "{name}, {typed_m} m typed, seed {}", o.seed);
            }
        }
    }
}
