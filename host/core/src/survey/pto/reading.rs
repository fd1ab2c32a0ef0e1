//! Typed shaft speeds, and the impulse rate in the seconds before each.

use super::refusal::ReadingRefusal;
use super::{ENDS_BEFORE_S, STEADY_SHARE, WINDOW_S};
use crate::session::trail::{Spell, Trail};
use crate::timeline::counts::{CountCurve, WHOLE_COUNT_U};
use crate::units::with_point;
use crate::wire::board::CountSample;
use trundle_protocol::units::Channel;

/// A note that begins with this word is a reading.
const WORD: &str = "shaft";
/// In place of a speed: the reading before it does not count.
const OUT: &str = "out";
/// Shaft speeds outside this are slips of the finger, revolutions per minute. The fastest PTO
/// type turns at 1300 rpm (ISO 500-1, as an encyclopaedia quotes it).
const RPM: std::ops::RangeInclusive<f64> = 10.0..=3000.0;
/// A hole in the samples longer than this hides what the shaft did, seconds.
const GAP_S: f64 = 1.0;
/// More refused edges than this, as a share of the counted ones, and the count is no count of
/// impulses.
const REFUSED_SHARE: f64 = 0.05;
/// Samples this long after the window are still looked at, seconds: one impulse of the slowest
/// shaft and sensor that are met, and all of it before the line was typed.
const CLOSES_S: f64 = 0.4;
/// Seconds that the steadiness is looked at in.
const PIECE_S: f64 = 1.0;

/// The rate that belongs to a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SteadyRate {
    /// Impulses per second, mean over the window.
    pub rate_hz: f64,
    /// Standard uncertainty, impulses per second. The display shows a moment, the rate is a mean:
    /// so this is the scatter of single seconds, not that of their mean.
    pub u_hz: f64,
    /// Whole seconds looked at.
    pub pieces: u32,
}

/// One typed shaft speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Host time of the typed line, nanoseconds.
    pub host_ns: u64,
    /// What the tractor's display showed, revolutions per minute.
    pub shown_rpm: f64,
    /// The impulse rate before it, or why the reading is not used.
    pub rate: Result<SteadyRate, ReadingRefusal>,
}

/// The note that keeps a typed shaft speed; `None` when the line is no plausible speed.
#[must_use]
pub fn note_of(typed: &str) -> Option<String> {
    speed(typed).map(|rpm| format!("{WORD} {rpm}"))
}

/// The note that takes the last reading out.
#[must_use]
pub fn note_out() -> String {
    format!("{WORD} {OUT}")
}

fn speed(text: &str) -> Option<f64> {
    let read = with_point(text);
    let rpm: f64 = read.trim().trim_end_matches("rpm").trim_end().parse().ok()?;
    RPM.contains(&rpm).then_some(rpm)
}

/// Readings that count, among the notes of a capture.
pub(super) fn readings(trail: &Trail, notes: &[(u64, String)]) -> Vec<Reading> {
    let mut out: Vec<Reading> = Vec::new();
    for (host_ns, text) in notes {
        let Some(said) = text.strip_prefix(WORD).filter(|rest| rest.starts_with(' ')) else {
            continue;
        };
        if said.trim() == OUT {
            out.pop();
        } else if let Some(shown_rpm) = speed(said) {
            let rate = rate_before(trail, *host_ns);
            out.push(Reading { host_ns: *host_ns, shown_rpm, rate });
        }
    }
    out
}

/// The rate in the window that ends just before a host time.
fn rate_before(trail: &Trail, host_ns: u64) -> Result<SteadyRate, ReadingRefusal> {
    let missing = ReadingRefusal::CountsMissing;
    let began = |spell: &&Spell| spell.counts.first().is_some_and(|c| c.host_ns <= host_ns);
    let spell = trail.spells.iter().rev().find(began).ok_or(missing)?;
    let clock = spell.board_clock.ok_or(missing)?;
    let origin_us = spell.counts.first().ok_or(missing)?.board_us;
    let typed_s = clock.source_s(host_ns as f64 * 1e-9) - origin_us as f64 * 1e-6;
    let (from_s, to_s) = (typed_s - ENDS_BEFORE_S - WINDOW_S, typed_s - ENDS_BEFORE_S);
    let seconds = |us: u64| (us - origin_us) as f64 * 1e-6;
    let from = spell.counts.partition_point(|c| seconds(c.board_us) < from_s);
    // A sample shows the edge before it, so those after the window are needed to close it.
    let to = spell.counts.partition_point(|c| seconds(c.board_us) <= to_s + CLOSES_S);
    let (Some(from), true) = (from.checked_sub(1), to < spell.counts.len() && from < to) else {
        return Err(missing);
    };
    let near: Vec<CountSample> = spell.counts.from(from).take(to + 1 - from).collect();
    if near.windows(2).any(|pair| seconds(pair[1].board_us) - seconds(pair[0].board_us) > GAP_S) {
        return Err(missing);
    }
    let (first, last, pto) = (near[0], near[near.len() - 1], Channel::Pto.index());
    let rejected = last.rejected[pto].saturating_sub(first.rejected[pto]);
    let counted = last.impulses[pto] - first.impulses[pto];
    if f64::from(rejected) > REFUSED_SHARE * counted as f64 {
        return Err(ReadingRefusal::EdgesRefused { rejected, counted });
    }
    steady(&CountCurve::new(&near, pto, origin_us), from_s)
}

fn steady(curve: &CountCurve, from_s: f64) -> Result<SteadyRate, ReadingRefusal> {
    let pieces = (WINDOW_S / PIECE_S).round() as u32;
    let rates: Option<Vec<f64>> = (0..pieces)
        .map(|n| curve.rate(from_s + (f64::from(n) + 0.5) * PIECE_S, PIECE_S / 2.0))
        .collect();
    let rates = rates.ok_or(ReadingRefusal::CountsMissing)?;
    let rate_hz = rates.iter().sum::<f64>() / f64::from(pieces);
    if rate_hz <= 0.0 {
        return Err(ReadingRefusal::NoImpulses);
    }
    let lowest_hz = rates.iter().copied().fold(f64::INFINITY, f64::min);
    let highest_hz = rates.iter().copied().fold(0.0, f64::max);
    // Without edge times a second holds a whole count more or less at either end.
    let whole_hz = if curve.is_exact() { 0.0 } else { 1.0 / PIECE_S };
    if highest_hz - lowest_hz - 2.0 * whole_hz > STEADY_SHARE * rate_hz {
        return Err(ReadingRefusal::NotSteady { lowest_hz, highest_hz });
    }
    let squares: f64 = rates.iter().map(|rate| (rate - rate_hz).powi(2)).sum();
    let count_hz = WHOLE_COUNT_U * whole_hz * PIECE_S / WINDOW_S;
    let u_hz = (squares / f64::from(pieces - 1) + count_hz.powi(2)).sqrt();
    Ok(SteadyRate { rate_hz, u_hz, pieces })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn speeds_are_read_as_typed_and_slips_are_not() {
        for (typed, note) in [
            ("540", Some("shaft 540")),
            (" 1000 rpm ", Some("shaft 1000")),
            ("537.5", Some("shaft 537.5")),
            ("5", None),
            ("54000", None),
            ("-540", None),
            ("fast", None),
            ("", None),
            ("nan", None),
        ] {
            assert_eq!(note_of(typed).as_deref(), note, "{typed:?}");
        }
    }

    #[test]
    fn a_reading_taken_out_does_not_count() {
        let notes: Vec<(u64, String)> =
            ["shaft 540", "wet grass", "shaft 100", "shaft out", "shafts"]
                .map(|text| (1, text.to_owned()))
                .to_vec();
        let read = readings(&Trail::default(), &notes);
        assert_eq!(read.iter().map(|r| r.shown_rpm).collect::<Vec<_>>(), [540.0]);
        assert_eq!(read[0].rate, Err(ReadingRefusal::CountsMissing));
    }
}
