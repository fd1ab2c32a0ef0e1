//! Which pass is odd, and what to suspect: slip or a sick sensor, a missed stop, the receiver.
//!
//! Two named rules, both at a significance of one in a thousand, so that clean days stay quiet.
//! From five passes on, Grubbs' two-sided test; with fewer no outlier test means anything (three
//! passes can never exceed (n-1)/sqrt n), so there only the chi-squared of the scatter against
//! what stopping beside pegs explains is judged. No pass is ever left out by a rule: it is named,
//! and leaving it out is for the person, with a reason.

use super::line::PassLine;
use super::pool::Pooled;
use crate::flags::{Code, Flag};
use crate::passes::pass::Direction;
use crate::stats::budget::student::{chi_squared_survival, t_quantile};
use crate::stats::fit::outlier::{LEAST_VALUES, grubbs};
use crate::stats::fit::robust::median;
use crate::timeline::counts::WHOLE_COUNT_U;
use crate::units::signed;

/// Significance of every rule here.
const SIGNIFICANCE: f64 = 0.001;

/// Whole counts of the same way differ by one, and from their mean by less than this.
const WHOLE_LEAST: f64 = 1.25;
/// Share by which a sound sensor scatters from pass to pass, slip of a driven wheel and a radar's
/// own noise; common practice, no source.
const SENSOR: f64 = 1e-3;

/// Findings about the passes of one channel. `tape` is the pooled count, where there is one.
#[must_use]
pub fn suspects(
    name: &'static str,
    lines: &[PassLine],
    ways: &[Option<Direction>],
    tape: Option<&Pooled>,
) -> Vec<Flag> {
    let found = odd_pass(lines, tape).into_iter().chain(directions(lines, ways));
    found.map(|flag| flag.on(name)).collect()
}

fn odd_pass(lines: &[PassLine], tape: Option<&Pooled>) -> Option<Flag> {
    let counts: Vec<f64> = lines.iter().map(|line| line.impulses).collect();
    if counts.len() >= LEAST_VALUES {
        // Whole counts: one off where all others are equal is no outlier.
        let outlier = |values: &[f64], whole: f64| {
            let test = grubbs(values, SIGNIFICANCE).ok().filter(|test| test.is_outlier)?;
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            let least = (test.critical * WHOLE_COUNT_U).max(WHOLE_LEAST) * whole;
            ((values[test.suspect] - mean).abs() > least).then_some(test)
        };
        let by_count = outlier(&counts, 1.0);
        let figures: Vec<f64> = lines.iter().filter_map(|line| line.satellite).collect();
        let all = figures.len() == lines.len();
        let whole = median(&figures).unwrap_or(0.0) / median(&counts)?;
        let test = by_count.or_else(|| outlier(&figures, whole).filter(|_| all))?;
        let line = &lines[test.suspect];
        let what = format!(
            "it is an outlier (Grubbs {:.2}, critical {:.2}): {}",
            test.statistic,
            test.critical,
            cause(lines, line)
        );
        return Some(Flag::pass(Code::Outlier, line.number, what));
    }
    let pooled = tape?;
    let free = (pooled.passes() - 1) as f64;
    let middle = median(&counts)?;
    // The model is of stopping and counting alone: what a sound sensor scatters comes on top.
    let explained = 1.0 + (SENSOR * middle / pooled.model_u).powi(2);
    if free < 1.0 || chi_squared_survival(pooled.chi_squared / explained, free) > SIGNIFICANCE {
        return None;
    }
    let far = |line: &&PassLine| (line.impulses - middle).abs();
    let line = lines.iter().max_by(|a, b| far(a).total_cmp(&far(b)))?;
    if lines.len() < 3 {
        let what = "the two passes differ far more than stopping beside the pegs explains";
        return Some(Flag::job(Code::PassesScatter, what));
    }
    let percent = 100.0 * (line.impulses / middle - 1.0);
    let percent = signed(percent, 2);
    let what = format!("its impulses are {percent} % off the middle: {}", cause(lines, line));
    Some(Flag::pass(Code::PassesScatter, line.number, what))
}

/// Counts and distance of the odd pass against the middle ones show the likeliest cause.
fn cause(lines: &[PassLine], odd: &PassLine) -> &'static str {
    let counts: Vec<f64> = lines.iter().map(|line| line.impulses).collect();
    let metres = |line: &PassLine| line.satellite.map(|figure| 100.0 * line.impulses / figure);
    let lengths: Vec<f64> = lines.iter().filter_map(metres).collect();
    let (Some(count), Some(length), Some(own)) = (median(&counts), median(&lengths), metres(odd))
    else {
        return "slip, impulses lost or added, or a stop away from a peg";
    };
    let off_count = odd.impulses / count - 1.0;
    let off_length = own / length - 1.0;
    if (off_count - off_length).abs() < 0.5 * off_count.abs().max(off_length.abs()) {
        "counts and satellite shift alike, so it stopped away from a peg"
    } else if off_count.abs() > off_length.abs() {
        "the counts shift and the satellite distance does not, so suspect slip or the sensor"
    } else {
        "the satellite distance shifts and the counts do not, so suspect the receiver"
    }
}

/// Out against back: Student's t of two samples with a common variance.
fn directions(lines: &[PassLine], ways: &[Option<Direction>]) -> Option<Flag> {
    let side = |wanted: Direction| -> Vec<f64> {
        let pairs = lines.iter().zip(ways).filter(|(_, way)| **way == Some(wanted));
        pairs.map(|(line, _)| line.impulses).collect()
    };
    let (out, back) = (side(Direction::Out), side(Direction::Back));
    if out.len() < 2 || back.len() < 2 {
        return None;
    }
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let squares = |values: &[f64]| {
        let middle = mean(values);
        values.iter().map(|v| (v - middle).powi(2)).sum::<f64>()
    };
    let free = (out.len() + back.len() - 2) as f64;
    // Whole counts: a scatter below the resolution is not known to be smaller than it.
    let variance = ((squares(&out) + squares(&back)) / free).max(1.0 / 6.0);
    let difference = mean(&out) - mean(&back);
    let u = (variance * (1.0 / out.len() as f64 + 1.0 / back.len() as f64)).sqrt();
    if (difference / u).abs() <= t_quantile(1.0 - SIGNIFICANCE / 2.0, free) {
        return None;
    }
    let percent = signed(100.0 * difference / mean(&back), 3);
    let what = format!("the passes out give {percent} % more impulses than those back");
    Some(Flag::job(Code::DirectionsDiffer, what))
}
