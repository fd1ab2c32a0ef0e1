//! Impulses at low speed: below which speed do they vanish although the ground moves?
//!
//! At each stop a sensor falls silent, at each start it wakes. A sound one does so within one
//! impulse of rest; one that needs speed does so earlier and later. The speed at that instant is
//! read from the satellite speeds, else from the rate of the other sensor.

use super::finding::{SensorRuling, SensorWarning};
use super::rest::STILL_M_S;
use super::scene::{Scene, driving_rate_hz, impulses_per_m, other};
use crate::stats::fit::robust::median;
use crate::units::KM_H_PER_M_S;
use trundle_protocol::units::Channel;

/// Below this share of the driving rate an input counts as silent.
const SILENT_SHARE: f64 = 0.02;
/// Shortest silence that is a stop, seconds.
const SILENCE_MIN_S: f64 = 3.0;
/// Left out at both ends of a silence when its own speed is read, seconds.
const MARGIN_S: f64 = 1.0;
/// Speeds within this time before a stop or after a start are laid on a line, seconds.
const LINE_S: f64 = 0.8;
/// And this far into the silence, seconds.
const INTO_S: f64 = 0.1;
/// Speeds such a line takes.
const LINE_POINTS_MIN: usize = 3;
/// Satellite speeds a second that give as many; with fewer the other sensor serves.
const LINE_RATE_HZ: f64 = 4.0;
/// Least braking that is believed, m/s²: nobody stops more gently.
const BRAKING_MIN_M_S2: f64 = 0.05;
/// Stops and starts it takes.
const SEEN_MIN: usize = 2;
/// A silence at a steady speed above this is a broken contact, not a slow sensor, m/s.
const SLOW_MAX_M_S: f64 = 1.0;
/// Speed down to which a sensor must count, m/s, about 1 km/h: below it the standards themselves
/// warn of poorer signals (ISO 11786).
pub const MUST_COUNT_M_S: f64 = 0.28;
/// Impulses lost at each stop or start that make a drop-out: one belongs to any sensor.
const LOST_MIN: f64 = 3.0;
/// The same without satellite speeds, where the other sensor's own last impulses add uncertainty.
const LOST_MIN_BLIND: f64 = 5.0;
/// Share of the driving speed that makes a drop-out without satellite speeds.
const SHARE_MIN: f64 = 0.1;
/// Greatest such share: above it the contact broke in the midst of driving.
const SHARE_MAX: f64 = 0.5;
/// After a stop the other sensor is listened to for this long, seconds.
const LISTEN_S: f64 = 2.0;
/// Its rate at the stop is taken over this time to either side, seconds.
const AROUND_S: f64 = 0.15;

/// A silence of an input: from the last impulse before to the first one after.
#[derive(Clone, Copy, Debug)]
struct Silence {
    from_s: f64,
    to_s: f64,
    /// An impulse stood before it, and after it.
    stop: bool,
    start: bool,
}

/// What one stop or start says.
#[derive(Clone, Copy, Debug)]
struct Seen {
    speed_m_s: Option<f64>,
    share: f64,
    lost: f64,
}

/// Judge a sensor's impulses at low speed.
#[must_use]
pub fn judge(scenes: &[Scene<'_>], channel: Channel) -> SensorRuling {
    let Some(driving_hz) = driving_rate_hz(scenes, channel) else {
        return SensorRuling::NotJudged("it gave no impulses".to_owned());
    };
    let per_m = impulses_per_m(scenes, channel);
    let other_hz = driving_rate_hz(scenes, other(channel));
    let mut seen = Vec::new();
    for scene in scenes {
        let fine = fine(scene);
        for silence in silences(scene, channel, driving_hz) {
            match (fine, per_m, other_hz) {
                (true, Some(per_m), _) => {
                    by_satellite(scene, silence, (per_m, driving_hz), &mut seen);
                }
                (_, _, Some(other_hz)) => {
                    by_other(scene, silence, channel, (driving_hz, other_hz), &mut seen);
                }
                _ => {}
            }
        }
    }
    verdict(&seen)
}

/// Satellite speeds come on a known clock, and often enough.
fn fine(scene: &Scene<'_>) -> bool {
    let mut speeds = scene.speeds();
    let Some((first_s, _)) = speeds.next() else { return false };
    let (count, last_s) = speeds.fold((1, first_s), |(count, _), speed| (count + 1, speed.0));
    scene.lag_known && f64::from(count) >= LINE_RATE_HZ * (last_s - first_s)
}

fn verdict(seen: &[Seen]) -> SensorRuling {
    if seen.len() < SEEN_MIN {
        return SensorRuling::NotJudged(format!(
            "{} stops and starts could be held against satellite speed or the other sensor; it \
             takes {SEEN_MIN}",
            seen.len()
        ));
    }
    let of = |value: fn(&Seen) -> f64| {
        median(&seen.iter().map(value).collect::<Vec<f64>>()).unwrap_or_default()
    };
    let (share, lost) = (of(|s| s.share), of(|s| s.lost));
    let speeds: Vec<f64> = seen.iter().filter_map(|s| s.speed_m_s).collect();
    let speed_m_s = median(&speeds).map(|speed| speed.max(0.0));
    let faulty = match speed_m_s {
        Some(speed) => speed > MUST_COUNT_M_S && lost >= LOST_MIN,
        None => share > SHARE_MIN && lost >= LOST_MIN_BLIND,
    };
    if faulty {
        return SensorRuling::Faulty(SensorWarning::DropOut {
            speed_m_s,
            share,
            lost,
            seen: seen.len(),
        });
    }
    let down_to = speed_m_s.map_or_else(
        || format!("{:.0} % of the driving speed", 100.0 * share),
        |speed| format!("{:.1} km/h", KM_H_PER_M_S * speed),
    );
    SensorRuling::Sound(format!(
        "counts down to {down_to} or less ({} stops and starts)",
        seen.len()
    ))
}

/// Silences long enough to be stops.
fn silences(scene: &Scene<'_>, channel: Channel, driving_hz: f64) -> Vec<Silence> {
    let curve = &scene.curves[channel.index()];
    let Some((first_s, last_s)) = curve.span_s() else { return Vec::new() };
    let mut out: Vec<Silence> = Vec::new();
    let knots = curve.knots();
    // The first knot may be the sample itself, where nothing had been counted before.
    let mut open: Option<Silence> = None;
    for ((from_s, from), (to_s, to)) in knots.from(0).zip(knots.from(1)) {
        let silent = (to - from) / (to_s - from_s) < SILENT_SHARE * driving_hz;
        if silent {
            let stop = from_s > first_s && from > 0.0;
            let begun = open.get_or_insert(Silence { from_s, to_s, stop, start: true });
            begun.to_s = to_s;
        } else {
            out.extend(open.take());
        }
    }
    // Up to the end of what is known no impulse came any more.
    if let Some((from_s, _)) = knots.last() {
        let mut last =
            open.take().unwrap_or(Silence { from_s, to_s: last_s, stop: true, start: false });
        (last.to_s, last.start) = (last_s, false);
        out.push(last);
    }
    out.retain(|silence| silence.to_s - silence.from_s >= SILENCE_MIN_S);
    out
}

/// Hold a silence against satellite speed. `rates`: impulses per metre, driving rate.
fn by_satellite(scene: &Scene<'_>, silence: Silence, rates: (f64, f64), seen: &mut Vec<Seen>) {
    let (per_m, driving_hz) = rates;
    let within = |from_s: f64, to_s: f64| scene.speeds_within(from_s, to_s);
    let inner = within(silence.from_s + MARGIN_S, silence.to_s - MARGIN_S);
    let Some(inner_m_s) = median(&inner.iter().map(|s| s.1).collect::<Vec<f64>>()) else { return };
    let share = |speed_m_s: f64| speed_m_s * per_m / driving_hz;
    if inner_m_s >= STILL_M_S {
        if inner_m_s < SLOW_MAX_M_S {
            let lost = per_m * inner_m_s * (silence.to_s - silence.from_s);
            seen.push(Seen { speed_m_s: Some(inner_m_s), share: share(inner_m_s), lost });
        }
        return;
    }
    let mut edge = |at_s: f64, from_s: f64, to_s: f64| {
        if let Some((speed_m_s, slope)) = line_at(&within(from_s, to_s), at_s) {
            let lost =
                per_m * speed_m_s.max(0.0).powi(2) / (2.0 * slope.abs().max(BRAKING_MIN_M_S2));
            seen.push(Seen { speed_m_s: Some(speed_m_s), share: share(speed_m_s), lost });
        }
    };
    if silence.stop {
        edge(silence.from_s, silence.from_s - LINE_S, silence.from_s + INTO_S);
    }
    if silence.start {
        edge(silence.to_s, silence.to_s - INTO_S, silence.to_s + LINE_S);
    }
}

/// Value and slope at an instant of the straight line through the points.
fn line_at(points: &[(f64, f64)], at_s: f64) -> Option<(f64, f64)> {
    if points.len() < LINE_POINTS_MIN {
        return None;
    }
    let n = points.len() as f64;
    let mean_t = points.iter().map(|p| p.0).sum::<f64>() / n;
    let mean_v = points.iter().map(|p| p.1).sum::<f64>() / n;
    let tt: f64 = points.iter().map(|p| (p.0 - mean_t).powi(2)).sum();
    let tv: f64 = points.iter().map(|p| (p.0 - mean_t) * (p.1 - mean_v)).sum();
    let slope = if tt > 0.0 { tv / tt } else { return None };
    Some((mean_v + slope * (at_s - mean_t), slope))
}

/// Hold a silence against the other sensor. `rates`: driving rates of the input and the other.
fn by_other(
    scene: &Scene<'_>,
    silence: Silence,
    channel: Channel,
    rates: (f64, f64),
    seen: &mut Vec<Seen>,
) {
    let curve = &scene.curves[other(channel).index()];
    let rise = |from_s: f64, to_s: f64| {
        curve.at(to_s).zip(curve.at(from_s)).map_or(0.0, |(to, from)| to - from)
    };
    let mut edge = |at_s: f64, from_s: f64, to_s: f64| {
        let around = rise(at_s - AROUND_S, at_s + AROUND_S);
        let share = around / (2.0 * AROUND_S) / rates.1;
        let lost = rise(from_s, to_s) * rates.0 / rates.1;
        if share < SHARE_MAX {
            seen.push(Seen { speed_m_s: None, share, lost });
        }
    };
    if silence.stop {
        edge(silence.from_s, silence.from_s, silence.from_s + LISTEN_S);
    }
    if silence.start {
        edge(silence.to_s, silence.to_s - LISTEN_S, silence.to_s);
    }
}
