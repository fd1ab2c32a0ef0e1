//! Speeds filtered in ways of their own, matched with a receiver's: the mean delay of each.

use trundle_core::timeline::counts::CountCurve;
use trundle_core::timeline::lag::{Lag, LagRefusal, SpeedSpan};
use trundle_core::timeline::lag_changes::{match_changes, match_filtered};
use trundle_core::wire::board::CountSample;
use trundle_tests::Draws;

/// Steps of what is worked out here, seconds, and of these in a message and in a fix.
const STEP_S: f64 = 0.01;
const SENT: usize = 10;
/// Counts for each metre.
const PER_M: f64 = 1e5;
/// How late the receiver is, seconds.
const RECEIVER_S: f64 = 0.15;

/// Speeds of a drive, m/s, step by step: through these, at so much a second, each held so long.
fn drive(through: &[f64], m_s2: f64, hold_s: f64) -> Vec<f64> {
    let (mut out, mut now) = (vec![through[0]; (10.0 / STEP_S) as usize], through[0]);
    for &next in through {
        while (next - now).abs() > m_s2 * STEP_S {
            now += m_s2 * STEP_S * (next - now).signum();
            out.push(now);
        }
        now = next;
        out.extend(std::iter::repeat_n(now, (hold_s / STEP_S) as usize));
    }
    out
}

fn first_order(speeds: &[f64], time_s: f64) -> Vec<f64> {
    let mut shown = speeds[0];
    let share = 1.0 - (-STEP_S / time_s).exp();
    let follow = |v: &f64| {
        shown += share * (v - shown);
        shown
    };
    speeds.iter().map(follow).collect()
}

/// The mean of the last seconds.
fn mean_of_last(speeds: &[f64], last_s: f64) -> Vec<f64> {
    let n = (last_s / STEP_S) as usize;
    let at = |i: usize| {
        let near = &speeds[i.saturating_sub(n - 1)..=i];
        (near.iter().sum::<f64>() + (n - near.len()) as f64 * speeds[0]) / n as f64
    };
    (0..speeds.len()).map(at).collect()
}

/// A speed that is found anew only so often.
fn held(speeds: &[f64], held_s: f64) -> Vec<f64> {
    let n = (held_s / STEP_S) as usize;
    (0..speeds.len()).map(|i| speeds[i - i % n]).collect()
}

fn curve(shown: &[f64]) -> CountCurve {
    let mut sum_m = 0.0;
    let mut samples = Vec::new();
    let sent: Vec<f64> = shown.iter().copied().step_by(SENT).collect();
    for (n, pair) in sent.windows(2).enumerate() {
        let mm_s = |v: f64| (v * 1e3).round() * 1e-3;
        sum_m += f64::midpoint(mm_s(pair[0]), mm_s(pair[1])) * STEP_S * SENT as f64;
        let board_us = (n as u64 + 1) * 100_000;
        samples.push(CountSample {
            host_ns: board_us * 1_000,
            board_us,
            impulses: [(sum_m * PER_M).round() as u64, 0, 0],
            last_edge_us: [None; 3],
            rejected: [0; 3],
            in_work: false,
            overruns: 0,
        });
    }
    CountCurve::new(&samples, 0, 0)
}

/// The delay that a receiver of this noise finds, without a filter in mind and with.
fn found(speeds: &[f64], shown: &[f64], noise_m_s: f64, seed: u64) -> [Result<Lag, LagRefusal>; 2] {
    let curve = curve(shown);
    let mut draws = Draws::new(seed);
    let mut off = 0.0;
    let fixes = speeds.iter().enumerate().skip(SENT / 2).step_by(SENT);
    let stated = fixes.map(|(i, v)| {
        // Noise with half a second's memory.
        off = 0.82 * off + 0.57 * noise_m_s * draws.normal();
        (i as f64 * STEP_S + RECEIVER_S, v + off)
    });
    let runs = [SpeedSpan { curve: &curve, speeds: stated.collect() }];
    [match_changes(&runs), match_filtered(&runs)]
}

fn delay_s(lag: &Lag) -> f64 {
    RECEIVER_S - lag.lag_s
}

/// Starts and stops, and changes on the move alone.
fn drives() -> [Vec<f64>; 2] {
    let stops = [0.0, 2.2, 0.0, 2.2, 0.0, 2.2, 0.0, 2.2, 0.0];
    let rolling = [2.2, 3.3, 1.4, 2.8, 1.1, 2.2, 3.6, 2.2];
    [drive(&stops, 0.5, 20.0), drive(&rolling, 0.5, 8.0)]
}

#[test]
fn the_mean_delay_is_found_whatever_a_speed_is_filtered_with() {
    for (number, speeds) in drives().iter().enumerate() {
        let twice = first_order(&first_order(speeds, 0.25), 0.25);
        let cases = [
            ("none", speeds.clone(), 0.0),
            ("first order", first_order(speeds, 0.5), 0.5),
            ("slow first order", first_order(speeds, 1.0), 1.0),
            ("second order", twice, 0.5),
            ("mean", mean_of_last(speeds, 0.8), 0.395),
            // Messages are sent 0, 0.1, ... 0.4 s after it was found.
            ("held", held(speeds, 0.5), 0.2),
            ("held and filtered", first_order(&held(speeds, 0.3), 0.4), 0.545),
        ];
        for (name, shown, truth_s) in cases {
            for (noise_m_s, seed) in [(0.0, 1), (0.015, 2), (0.025, 3), (0.025, 4)] {
                let [plain, lag] = found(speeds, &shown, noise_m_s, seed).map(Result::unwrap);
                let off_s = delay_s(&lag) - truth_s;
                let plain_s = delay_s(&plain) - truth_s;
                let u_s = lag.standard_uncertainty_s;
                println!("{number} {name} {noise_m_s}: {off_s:.4} +- {u_s:.4}, not {plain_s:.4}");
                let most_s = if noise_m_s < 0.02 { 0.03 } else { 4.0 * u_s };
                assert!(off_s.abs() < most_s, "{number} {name} {noise_m_s}: {off_s}, {lag:?}");
            }
        }
    }
}

/// Changes so small that they drown in the noise say nothing of a filter.
#[test]
fn what_hardly_changes_gives_no_delay_or_says_how_uncertain_it_is() {
    let speeds = drive(&[2.2, 2.5, 2.1, 2.4], 0.2, 8.0);
    for seed in 1..=10 {
        let [_, lag] = found(&speeds, &first_order(&speeds, 0.5), 0.04, seed);
        let Ok(lag) = lag else { continue };
        let off_s = (delay_s(&lag) - 0.5).abs();
        assert!(off_s < 4.0 * lag.standard_uncertainty_s, "seed {seed}: {off_s} off, {lag:?}");
    }
}
