//! Are delay and scale of the speeds on the implement bus right? Seeded simulated drives, one
//! table.
//!
//! Each drive has a control unit with a filter, a delay and a keyed-in value of its own, and a
//! receiver that measures a little too long or too short. The delay of every speed must be found
//! within 30 ms, and the interval of the scale must hold the truth in 93 to 97 of 100 drives,
//! within the luck of so many draws. Ends with an error when a row misses.
//!
//! `cargo run --release -p trundle-sweeps --bin bus-sweep -- [DRIVES] [FIRST_SEED]`

#![allow(clippy::print_stdout)]

use std::process::ExitCode;
use trundle_core::session::Keeps;
use trundle_core::survey::bus::{BusStream, survey};
use trundle_core::wire::bus::message::BusSpeed;
use trundle_sim::{BusTractor, HandedOn, Keyed, ReceiverClass, Scenario, Simulation, record_all};
use trundle_tests::on_seeds::on_seeds;
use trundle_tests::{Draws, records, replay_keeping};

/// A delay must be found within this, seconds.
const DELAY_S: f64 = 0.03;
/// Share of the drives in which the interval of the scale must hold the truth.
const COVERED: (f64, f64) = (0.93, 0.97);
/// Receivers that are driven with, the passes of each drive, and by how much the distance that a
/// receiver of this class measures differs from the true one, as a share: what is allowed for
/// where no tape checks it. A simulated one measures true.
const RECEIVERS: [(&str, ReceiverClass, f64); 2] =
    [("RTK", ReceiverClass::Rtk, 2e-4), ("corrected", ReceiverClass::Corrected, 1e-3)];
const PASSES: u32 = 4;

/// What one stream of one drive gave: error of its delay, seconds, with its half-width, and error
/// of its scale with that.
#[derive(Clone, Copy)]
struct Found {
    kind: BusSpeed,
    seed: u64,
    delay: Option<(f64, f64)>,
    scale: Option<(f64, f64)>,
}

/// The control unit of a drive, with its wheel speed over the true one.
fn tractor(seed: u64, right_value: f64) -> (BusTractor, f64) {
    let mut draws = Draws::new(seed);
    let mut within = |from: f64, to: f64| from + (to - from) * draws.unit();
    let (filter_s, delay_s) = (within(0.0, 0.5), within(0.01, 0.1));
    let keyed = right_value * within(0.9, 1.1);
    let handed_on = if within(0.0, 1.0) < 0.5 { HandedOn::Wheel } else { HandedOn::Ground };
    let wheel_keyed = Some(Keyed::Value(keyed));
    let tractor = BusTractor { filter_s, delay_s, wheel_keyed, handed_on, ..BusTractor::default() };
    (tractor, right_value / keyed)
}

fn drive((class, unlike): (ReceiverClass, f64), seed: u64) -> Vec<Found> {
    let scenario = Scenario { passes: PASSES, ..Scenario::named("bus").unwrap_or_default() };
    let mut scenario = scenario.with_receiver(class);
    let right_value = Simulation::new(&scenario, seed).truth().wheel_impulses_per_100m;
    let (tractor, wheel) = tractor(seed, right_value);
    scenario.bus = Some(tractor.clone());
    let (emissions, truth) = record_all(&scenario, seed);
    let session = replay_keeping(&records(&emissions, truth.start_utc_ns, None), Keeps::Bus(0));
    let surveyed = session.trail().and_then(|trail| survey(&trail));
    let streams = surveyed.map(|survey| survey.streams).unwrap_or_default();
    // A receiver that measures so much too short finds every ratio so much too great.
    let receiver = 1.0 + unlike * Draws::new(!seed).normal();
    let by_wheel = |kind: BusSpeed| match kind {
        BusSpeed::Wheel => true,
        BusSpeed::Ground => false,
        BusSpeed::Selected => tractor.handed_on == HandedOn::Wheel,
    };
    let found = |kind: BusSpeed| {
        let stream = streams.iter().find(|stream| stream.key.kind == kind);
        let ratio = receiver * if by_wheel(kind) { wheel } else { 1.0 };
        found(kind, seed, stream, tractor.filter_s + tractor.delay_s, ratio)
    };
    BusSpeed::ALL.into_iter().map(found).collect()
}

fn found(kind: BusSpeed, seed: u64, stream: Option<&BusStream>, late_s: f64, ratio: f64) -> Found {
    let delay = stream.and_then(|stream| stream.speed_delay.ok());
    let scale = stream.and_then(|stream| stream.scale.ok());
    Found {
        kind,
        seed,
        delay: delay.map(|delay| (delay.seconds.value - late_s, delay.half_width_s)),
        scale: scale.map(|scale| (scale.ratio.value - ratio, scale.half_width)),
    }
}

fn drives(receiver: (ReceiverClass, f64), seeds: std::ops::Range<u64>) -> Vec<Found> {
    on_seeds(seeds, |seed| drive(receiver, seed)).into_iter().flatten().collect()
}

/// Of rising values, that at this share.
fn quantile(mut values: Vec<f64>, share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let at = ((values.len() as f64 - 1.0) * share).round() as usize;
    values.get(at).copied().unwrap_or(f64::NAN)
}

/// Prints a row and gives what is wrong with it.
fn row(name: &str, found: &[Found]) -> Vec<String> {
    let n = found.len() as f64;
    let within = |part: &Option<(f64, f64)>| part.is_some_and(|(off, half)| off.abs() <= half);
    let off_s: Vec<f64> = found.iter().filter_map(|one| Some(one.delay?.0.abs())).collect();
    let delay_halves = found.iter().filter_map(|one| Some(one.delay?.1)).collect();
    let halves: Vec<f64> = found.iter().filter_map(|one| Some(one.scale?.1)).collect();
    let delays = found.iter().filter(|one| within(&one.delay)).count() as f64 / n;
    let scales = found.iter().filter(|one| within(&one.scale)).count() as f64 / n;
    let missed: Vec<u64> =
        found.iter().filter(|one| !within(&one.scale)).map(|one| one.seed).collect();
    println!(
        "{name:<22}{:>9.1}{:>9.1}{:>9.1}{:>11.1}{:>13.1}{:>9.4}{:>9.4}  {missed:?}",
        1e3 * quantile(off_s.clone(), 0.5),
        1e3 * quantile(off_s.clone(), 1.0),
        1e3 * quantile(delay_halves, 0.5),
        100.0 * delays,
        100.0 * scales,
        100.0 * quantile(halves.clone(), 0.5),
        100.0 * quantile(halves.clone(), 1.0),
    );
    let mut faults = Vec::new();
    let far = found.iter().filter(|one| one.delay.is_none_or(|(off, _)| off.abs() > DELAY_S));
    faults.extend(far.map(|one| format!("{name}: delay of seed {}: {:?}", one.seed, one.delay)));
    let none = found.iter().filter(|one| one.scale.is_none());
    faults.extend(none.map(|one| format!("{name}: no scale of seed {}", one.seed)));
    let luck = 3.0 * (0.05 * 0.95 / n).sqrt();
    if !(COVERED.0.min(0.95 - luck)..=COVERED.1.max(0.95 + luck)).contains(&scales) {
        faults.push(format!("{name}: the scale covers {:.1} %", 100.0 * scales));
    }
    faults
}

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1).map(|word| word.parse::<u64>().ok());
    let many = args.next().flatten().unwrap_or(100);
    let first = args.next().flatten().unwrap_or(1);
    println!("seeds {first} to {}, {PASSES} passes of 100 m each", first + many - 1);
    println!(
        "{:<22}{:>18}{:>9}{:>11}{:>13}{:>18}",
        "", "delay off, ms", "half", "within", "scale within", "half-width, %"
    );
    println!(
        "{:<22}{:>9}{:>9}{:>9}{:>11}{:>13}{:>9}{:>9}  seeds with a scale missed",
        "receiver, speed", "median", "most", "width", "95 %", "95 %", "median", "widest"
    );
    let mut faults = Vec::new();
    for (receiver, class, unlike) in RECEIVERS {
        let found = drives((class, unlike), first..first + many);
        for kind in BusSpeed::ALL {
            let mut of: Vec<Found> = found.iter().copied().filter(|f| f.kind == kind).collect();
            of.sort_by_key(|one| one.seed);
            faults.extend(row(&format!("{receiver}, {kind:?}"), &of));
        }
    }
    for fault in &faults {
        println!("MISSED: {fault}");
    }
    if faults.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
