//! Lines of the counts table that contradict the lines around them.
//!
//! A byte that changed on its way leaves a line that reads well and is wrong: a count of 0 in the
//! middle of a run, a digit more, a time of another hour. One such line looks like a counter that
//! restarted, or blocks the join of the clocks. What shows it up is what comes after: a counter
//! that restarted goes on from there, and a garbled line is followed by good ones. So the longest
//! row of lines that never goes back is taken for the truth, and a few lines beside it that lie
//! outside their neighbours are refused.

use super::table::{lines, time_ns};
use crate::capture::BODY_MAX;
use crate::wire::import_counts::WAVER;
use crate::wire::import_rows::{ImportReader, NAMES};
use std::collections::BTreeMap;
use std::fmt::Display;

/// As many lines in a row can be garbled; more of them are a counter or a clock that was set.
const RUN_MAX: usize = 5;
/// Or as many as come in this time, nanoseconds, before the count is again where it was: a counter
/// that was set does not come back so soon.
const RUN_NS: i64 = 1_000_000_000;
/// Shorter tables show nothing of the kind for certain.
const ROWS_MIN: usize = 20;
/// If more than this share of the lines contradicts, the table is not garbled but of another kind.
const SHARE_MAX: f64 = 0.05;
/// Counts of 32 bits begin again here.
const TURN: u64 = 1 << 32;

/// Numbers of the garbled lines, from 1, and what is wrong with each.
pub(super) fn garbled(table: &[u8]) -> BTreeMap<usize, String> {
    let mut reader = ImportReader::default();
    let (mut numbers, mut times, mut counts) = (Vec::new(), Vec::new(), Vec::new());
    for (number, line) in lines(table).into_iter().filter(|(_, line)| line.len() <= BODY_MAX) {
        if let Ok(Some((time, raw))) = reader.raw_counts(line) {
            numbers.push(number);
            times.push(time_ns(time).0);
            counts.push(raw);
        }
    }
    let mut found = BTreeMap::new();
    let wrong = outside(&times, (0, 0), |_, _| false);
    let good: Vec<usize> = (0..times.len()).filter(|i| !wrong.contains_key(i)).collect();
    for &i in wrong.keys() {
        found.insert(numbers[i], "its time does not fit those of the lines around it".to_owned());
    }
    for (channel, name) in NAMES.into_iter().enumerate() {
        let rows: Option<Vec<u64>> = good.iter().map(|&i| counts[i][channel]).collect();
        let Some(values) = rows else { continue };
        // A wrap is no step back: half a turn on, it lies in the middle of the numbers.
        let wraps = values.iter().any(|v| (TURN - TURN / 16..TURN).contains(v));
        let turned = |v: u64| if wraps && v < TURN { (v + TURN / 2) % TURN } else { v };
        let turned: Vec<i128> = values.iter().map(|&v| i128::from(turned(v))).collect();
        let soon = |a: usize, b: usize| times[good[b]] - times[good[a]] <= RUN_NS;
        let slack = i128::from(WAVER);
        for (i, around) in outside(&turned, (slack, slack.max(2 * usual_rise(&turned))), soon) {
            let beside = |i: Option<usize>| i.and_then(|i| values.get(i));
            let around = words(beside(around.0), beside(around.1));
            let what = format!("column {name} holds {}, {around}", values[i]);
            found.entry(numbers[good[i]]).or_insert(what);
        }
    }
    found
}

/// What the count rises by from line to line at fast driving: of the lines on which it rises, all
/// but the fastest in twenty, which garbled lines may be.
fn usual_rise(values: &[i128]) -> i128 {
    let rises = values.windows(2).map(|pair| pair[1] - pair[0]);
    let mut rises: Vec<i128> = rises.filter(|rise| *rise > 0).collect();
    rises.sort_unstable();
    rises.get(rises.len() * 95 / 100).copied().unwrap_or(0)
}

fn words(before: Option<impl Display>, after: Option<impl Display>) -> String {
    match (before, after) {
        (Some(a), Some(b)) => format!("between lines with {a} and {b}"),
        (Some(a), None) => format!("behind a line with {a}"),
        (None, Some(b)) => format!("before a line with {b}"),
        (None, None) => String::new(),
    }
}

/// Places of the lines before and after that are taken for true.
type Around = (Option<usize>, Option<usize>);

/// Places of the values that lie outside their neighbours in the longest row that never goes back,
/// by more than `slack`, where only a few stand together, or the two neighbours follow each other
/// `soon`, and they are reached by a leap: a counter that counts down comes there step by step.
fn outside<T>(
    values: &[T],
    (slack, leap): (T, T),
    soon: impl Fn(usize, usize) -> bool,
) -> BTreeMap<usize, Around>
where
    T: Copy + Ord + std::ops::Add<Output = T>,
{
    let mut found = BTreeMap::new();
    if values.len() < ROWS_MIN {
        return found;
    }
    let row = longest_forward(values);
    let ends = row.iter().map(|&i| Some(i)).chain([None]);
    let mut before: Option<usize> = None;
    for after in ends {
        let gap = before.map_or(0, |i| i + 1)..after.unwrap_or(values.len());
        let back_soon = before.zip(after).is_some_and(|(a, b)| soon(a, b));
        let part = &values[before.unwrap_or(0)..=after.unwrap_or(values.len() - 1)];
        let far = |pair: &[T]| pair[0] + leap < pair[1] || pair[1] + leap < pair[0];
        if (gap.len() <= RUN_MAX || back_soon) && part.windows(2).any(far) {
            let below = |v: T| before.is_some_and(|b| v + slack < values[b]);
            let above = |v: T| after.is_some_and(|a| values[a] + slack < v);
            let wrong = gap.filter(|&i| below(values[i]) || above(values[i]));
            found.extend(wrong.map(|i| (i, (before, after))));
        }
        before = after;
    }
    if found.len() as f64 > SHARE_MAX * values.len() as f64 {
        found.clear();
    }
    found
}

/// The longest row of values that never goes back (patience sorting), as places.
pub(super) fn longest_forward<T: Copy + Ord>(values: &[T]) -> Vec<usize> {
    let mut tails: Vec<usize> = Vec::new();
    let mut before: Vec<Option<usize>> = Vec::with_capacity(values.len());
    for (i, value) in values.iter().enumerate() {
        let place = tails.partition_point(|&tail| values[tail] <= *value);
        before.push(place.checked_sub(1).map(|p| tails[p]));
        if place == tails.len() {
            tails.push(i);
        } else {
            tails[place] = i;
        }
    }
    let mut row = Vec::with_capacity(tails.len());
    let mut at = tails.last().copied();
    while let Some(i) = at {
        row.push(i);
        at = before[i];
    }
    row.reverse();
    row
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(counts: &[(f64, u64)]) -> Vec<usize> {
        let row = |(at_s, count): &(f64, u64)| format!("{at_s},{count}\n");
        let rows: String = counts.iter().map(row).collect();
        garbled(format!("board_s,wheel\n{rows}").as_bytes()).into_keys().collect()
    }

    fn run() -> Vec<(f64, u64)> {
        (0..200_u32).map(|n| (f64::from(n) * 0.1, u64::from(n / 3 * 13))).collect()
    }

    #[test]
    fn single_wrong_lines_are_found_and_what_only_looks_so_is_not() {
        assert_eq!(refused(&run()).len(), 0);
        for (at, value) in [(100, 0), (100, 9_999_999), (0, 77_777), (199, 3), (150, (1 << 32) - 7)]
        {
            let mut rows = run();
            rows[at].1 = value;
            assert_eq!(refused(&rows), [at + 2], "{value}");
        }
        for time_s in [0.0, 1e6] {
            let mut rows = run();
            rows[90].0 = time_s;
            assert_eq!(refused(&rows), [92]);
        }
        let mut rows = run();
        (rows[50].1, rows[51].1, rows[120].1) = (0, 0, 5);
        assert_eq!(refused(&rows), [52, 53, 122]);
        // For most of a second the counter says the same wrong number.
        let mut rows = run();
        rows[100..108].iter_mut().for_each(|row| row.1 = 7);
        assert_eq!(refused(&rows), (102..110).collect::<Vec<_>>());
    }

    #[test]
    fn restarts_wraps_and_wavering_counts_are_left_as_they_are() {
        let mut restarted = run();
        restarted[120..].iter_mut().for_each(|row| row.1 -= 520);
        assert_eq!(refused(&restarted).len(), 0);
        let mut wrapped = run();
        wrapped.iter_mut().for_each(|row| row.1 = (row.1 + (1 << 32) - 40) % (1 << 32));
        assert_eq!(refused(&wrapped).len(), 0);
        let mut wavering = run();
        wavering.iter_mut().skip(60).step_by(2).for_each(|row| row.1 -= 1);
        assert_eq!(refused(&wavering).len(), 0);
    }
}
