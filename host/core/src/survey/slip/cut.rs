//! Where sections begin and end.

use super::options::SlipOptions;
use crate::survey::ride::Ride;
use crate::survey::ride::axle::{Trace, TraceStep};
use crate::survey::ride::parts::{Part, PartKind, parts, way_m};

/// A rest of a part shorter than this share of a section goes to the section before it.
const REST_SHARE: f64 = 0.5;

/// A section to be: steps `from` to `to` of the trace, both included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    pub from: usize,
    pub to: usize,
    pub kind: PartKind,
    /// Number of the part over the whole capture, from 1.
    pub part: u32,
    pub in_work: bool,
}

/// The spans of a trace, and what they leave out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cut {
    pub spans: Vec<Span>,
    pub withheld_m: f64,
}

/// Cut a trace. `numbered` counts the parts of the traces before it, and goes on counting.
pub fn cut(ride: &Ride<'_>, trace: &Trace, options: &SlipOptions, numbered: &mut u32) -> Cut {
    let way = way_m(&trace.steps);
    let work = in_work(ride, &trace.steps);
    let mut out = Cut::default();
    for part in parts(trace) {
        let mut any = false;
        for run in runs(trace, &part, &work, options.least_speed_m_s) {
            let number = *numbered + 1;
            let span = Span {
                from: run.0,
                to: run.1,
                kind: part.kind,
                part: number,
                // The step at which work ends belongs to the run, but not its state.
                in_work: work[run.0],
            };
            any |= sections(&span, &way, options.section_m, &mut out.spans);
        }
        *numbered += u32::from(any);
    }
    let held: f64 = out.spans.iter().map(|span| way[span.to] - way[span.from]).sum();
    out.withheld_m = way.last().map_or(0.0, |all| (all - held).max(0.0));
    out
}

/// Stretches of a part that are fast enough, forwards, and all in work or all out of it.
fn runs(trace: &Trace, part: &Part, work: &[bool], least_m_s: f64) -> Vec<(usize, usize)> {
    let good = |i: usize| trace.steps[i].speed_m_s >= least_m_s && !trace.steps[i].backwards;
    let mut out = Vec::new();
    let mut from: Option<usize> = None;
    for i in part.from..=part.to {
        match from {
            Some(start) if !good(i) => {
                out.push((start, i - 1));
                from = None;
            }
            // The step at which work begins or ends belongs to both sides.
            Some(start) if work[i] != work[start] => {
                out.push((start, i));
                from = Some(i);
            }
            None if good(i) => from = Some(i),
            _ => {}
        }
    }
    out.extend(from.map(|start| (start, part.to)));
    out.retain(|run| run.1 > run.0);
    out
}

/// Cut one run into sections; true if it gave any.
fn sections(run: &Span, way: &[f64], section_m: f64, out: &mut Vec<Span>) -> bool {
    let before = out.len();
    let mut from = run.from;
    for to in run.from + 1..=run.to {
        if way[to] - way[from] >= section_m {
            out.push(Span { from, to, ..*run });
            from = to;
        }
    }
    let rest_m = way[run.to] - way[from];
    if rest_m >= REST_SHARE * section_m {
        out.push(Span { from, ..*run });
    } else if out.len() > before
        && let Some(last) = out.last_mut()
    {
        last.to = run.to;
    }
    out.len() > before
}

/// Whether the implement was in work at each step.
fn in_work(ride: &Ride<'_>, steps: &[TraceStep]) -> Vec<bool> {
    let counts = &ride.spell.counts;
    let at_s = |board_us: u64| (board_us - ride.origin_us) as f64 * 1e-6;
    let Some(first) = steps.first() else { return Vec::new() };
    let after = counts.partition_point(|sample| at_s(sample.board_us) <= first.at_s);
    let mut samples = counts.from(after.saturating_sub(1)).peekable();
    let mut now = samples.peek().is_some_and(|sample| sample.in_work);
    steps
        .iter()
        .map(|step| {
            while let Some(sample) = samples.next_if(|s| at_s(s.board_us) <= step.at_s) {
                now = sample.in_work;
            }
            now
        })
        .collect()
}
