//! The satellite receiver, and whether its clock can be laid on the board's.

use super::{CheckLine, Mark};
use crate::session::Totals;
use crate::session::trail::Trail;
use crate::stats::fit::robust::median;
use crate::survey::ride::{RideRefusal, Rides};
use crate::units::signed;
use crate::wire::fix::{Quality, quality_words};

/// Fixes it takes to judge a receiver.
const FIXES_MIN: usize = 50;
/// Fixes per second below which starts and stops are seen too coarsely.
const RATE_MIN_HZ: f64 = 0.9;
/// Share of moments without a fix that a sound line does not reach.
const HOLES: f64 = 0.02;
/// Share of damaged sentences that a sound line does not reach.
const DAMAGED: f64 = 0.01;
/// How much later sentences may come at the end than at the beginning, seconds: a line that is too
/// slow for its sentences falls further and further behind.
const BEHIND_S: f64 = 0.5;

/// What helps a line that is too full.
const LIGHTEN: &str = "Raise the speed of its line, or turn off the sentences that are not needed \
                       (GGA and RMC are enough).";

/// What may stand behind moments without a usable fix.
const UNUSABLE: &str = "Check antenna and open sky. If both are good, its sentences may contradict \
                        each other, or its line may be too full: GGA and RMC are enough.";

/// What the receiver's line is judged by.
struct Seen {
    /// UTC and arrival of each fix, nanoseconds.
    times_ns: Vec<(i64, u64)>,
    kind: Option<Quality>,
    speed: bool,
}

impl Seen {
    fn of(trail: &Trail) -> Self {
        let fixes = || trail.spells.iter().flat_map(|spell| &spell.fixes);
        Self {
            times_ns: fixes().map(|fix| (fix.utc_ns, fix.host_ns)).collect(),
            kind: fixes().last().map(|fix| fix.quality),
            speed: fixes().any(|fix| fix.speed_m_s.is_some()),
        }
    }
}

/// Fix, kind, rate, and how the sentences come over.
pub fn fixes(trail: &Trail, totals: &Totals) -> CheckLine {
    let line = |mark, what: String| CheckLine::new("receiver", "satellite receiver", mark, what);
    let seen = Seen::of(trail);
    let fixes = seen.times_ns.as_slice();
    let sentences = totals.receiver.sentences;
    if sentences == 0 {
        return line(Mark::NotSeen, "nothing came from it".to_owned()).next(
            "Check its plug and supply, and run `trundle ports`. Without one the value is by \
             tape alone.",
        );
    }
    if fixes.is_empty() {
        return line(Mark::Fail, format!("{sentences} sentences came, and no usable fix"))
            .next("Check its antenna and open sky, and that it measures (no simulation).");
    }
    let rate_hz = rate_hz(fixes);
    let numbers = numbers(fixes, totals, rate_hz);
    if fixes.len() < FIXES_MIN {
        let what = format!("{} fixes came; it takes {FIXES_MIN}", fixes.len());
        return line(Mark::NotSeen, what).next("Let it record for longer.").numbers(numbers);
    }
    let Some((what, next)) = fault(&seen, totals, rate_hz) else {
        let kind = seen.kind.map_or("", quality_words);
        let (count, sky) = (fixes.len(), sky_words(totals));
        let what = format!("{count} fixes, {rate_hz:.0} a second, {kind}{sky}{}", dates(totals));
        return line(Mark::Pass, what).numbers(numbers);
    };
    line(Mark::Fail, what + &sky_words(totals)).next(next).numbers(numbers)
}

/// Satellites, signal and dilution, as far as the receiver states them.
fn sky_words(totals: &Totals) -> String {
    let sky = &totals.receiver.sky;
    let used = sky.used.mean().map(|used| match sky.in_view.mean() {
        Some(in_view) => format!("; {used:.0} of {in_view:.0} satellites in view used"),
        None => format!("; {used:.0} satellites used"),
    });
    let signal = sky.signal_db_hz.mean().map(|signal| format!("; signal {signal:.0} dB-Hz"));
    let hdop = sky.hdop.mean().map(|hdop| format!("; horizontal dilution {hdop:.1}"));
    [used, signal, hdop].into_iter().flatten().collect()
}

/// A receiver whose date is not believed.
fn dates(totals: &Totals) -> String {
    let epochs = &totals.receiver.epochs;
    if let Some(clock) = totals.receiver.clock {
        format!("; {clock}")
    } else if 2 * epochs.dates_bad > epochs.fixes {
        "; its date is more than a year off this computer's and is not used (if the computer's is \
         right, the receiver's count of weeks has rolled over)"
            .to_owned()
    } else {
        String::new()
    }
}

fn fault(seen: &Seen, totals: &Totals, rate_hz: f64) -> Option<(String, &'static str)> {
    let behind_s = behind_s(&seen.times_ns);
    let holes = holes(&seen.times_ns, rate_hz);
    let damaged = damaged(totals);
    if behind_s > BEHIND_S {
        let what = format!("its sentences come {behind_s:.1} s later and later: the line is full");
        Some((what, LIGHTEN))
    } else if totals.receiver.is_entangled() {
        let share = 100.0 * totals.receiver.entangled();
        let what = format!(
            "{share:.0} sentences in 100 moments come twice or out of their time: two receivers \
             seem to send on one line"
        );
        Some((what, "Leave one receiver on the line, or turn its second set of sentences off."))
    } else if damaged > DAMAGED {
        let what = format!("{:.1} % of its sentences are damaged", 100.0 * damaged);
        Some((what, "Check plug and cable of the receiver and the speed of its line."))
    } else if holes > HOLES {
        let what = format!("{:.0} % of its moments have no usable fix", 100.0 * holes);
        Some((what, UNUSABLE))
    } else if rate_hz < RATE_MIN_HZ {
        let what = format!("one fix in {:.0} s", 1.0 / rate_hz.max(1e-3));
        Some((what, "Set it to five fixes a second or more."))
    } else if !seen.speed {
        Some(("it reports no speed".to_owned(), "Have it send RMC sentences."))
    } else {
        None
    }
}

fn numbers(fixes: &[(i64, u64)], totals: &Totals, rate_hz: f64) -> Vec<(&'static str, f64)> {
    let sky = &totals.receiver.sky;
    let stated = [
        ("satellites_used", sky.used.mean()),
        ("satellites_in_view", sky.in_view.mean()),
        ("signal_db_hz", sky.signal_db_hz.mean()),
        ("hdop", sky.hdop.mean()),
    ];
    let mut numbers = vec![
        ("fixes", fixes.len() as f64),
        ("rate_hz", rate_hz),
        ("share_without_fix", holes(fixes, rate_hz)),
        ("share_damaged", damaged(totals)),
        ("falls_behind_s", behind_s(fixes)),
        ("out_of_place", totals.receiver.entangled()),
    ];
    numbers.extend(stated.into_iter().filter_map(|(name, mean)| Some((name, mean?))));
    numbers
}

fn rate_hz(fixes: &[(i64, u64)]) -> f64 {
    let steps: Vec<f64> = fixes
        .windows(2)
        .map(|w| (w[1].0 - w[0].0) as f64 * 1e-9)
        .filter(|step| *step > 0.0)
        .collect();
    median(&steps).map_or(0.0, |step| 1.0 / step)
}

fn holes(fixes: &[(i64, u64)], rate_hz: f64) -> f64 {
    let (Some(first), Some(last)) = (fixes.first(), fixes.last()) else { return 0.0 };
    let expected = (last.0 - first.0) as f64 * 1e-9 * rate_hz + 1.0;
    (1.0 - fixes.len() as f64 / expected).clamp(0.0, 1.0)
}

fn damaged(totals: &Totals) -> f64 {
    let receiver = &totals.receiver;
    let bad = receiver.wrong_checksum + receiver.lines.broken + receiver.lines.merged;
    bad as f64 / (receiver.sentences + bad).max(1) as f64
}

/// How much later the last quarter came than the first, against the receiver's own time.
fn behind_s(fixes: &[(i64, u64)]) -> f64 {
    let Some(first) = fixes.first() else { return 0.0 };
    let late_s = |fix: &(i64, u64)| {
        let host_s = (fix.1 as f64 - first.1 as f64) * 1e-9;
        host_s - (fix.0 - first.0) as f64 * 1e-9
    };
    let quarter = fixes.len() / 4;
    let of = |part: &[(i64, u64)]| median(&part.iter().map(late_s).collect::<Vec<f64>>());
    let ends = of(&fixes[fixes.len() - quarter..]).zip(of(&fixes[..quarter]));
    ends.map_or(0.0, |(late, early)| (late - early).max(0.0))
}

/// Whether counts and fixes can be laid on one clock.
pub fn clock(rides: &Result<Rides<'_>, RideRefusal>) -> CheckLine {
    let line = |mark, what: String| CheckLine::new("clock", "receiver's delay", mark, what);
    match rides {
        Ok(rides) => {
            let (lag_s, u_s) = (rides.lag.lag_s, rides.lag.standard_uncertainty_s);
            let lag = signed(lag_s, 2);
            let what = format!("seen: {lag} s against the board, standard uncertainty {u_s:.3} s");
            line(Mark::Pass, what).numbers(vec![("lag_s", lag_s), ("standard_uncertainty_s", u_s)])
        }
        Err(refusal @ RideRefusal::NoMatch { .. }) => {
            line(Mark::Fail, refusal.to_string()).next(refusal.next())
        }
        Err(refusal) => line(Mark::NotSeen, refusal.to_string()).next(refusal.next()),
    }
}
