//! A trace cut into straights and turns.

use super::axle::{Trace, TraceStep};
use super::sums::integrated;

/// The heading's change is taken over this far along the way, metres: long against the noise of
/// single headings, short against a headland turn.
const SPAN_M: f64 = 4.0;
/// Sharper than this is turning, 1/metre: a radius of 25 m. Headland turns are 5 to 12 m, contour
/// rows seldom under 50 m; common practice, no source.
const TURNING_PER_M: f64 = 1.0 / 25.0;
/// Straighter than this is straight again, 1/metre.
const STRAIGHT_PER_M: f64 = 1.0 / 50.0;
/// A straight shorter than this belongs to the turns around it, metres.
const STRAIGHT_MIN_M: f64 = 8.0;
/// Slower than this the tractor stands, m/s: noise is no way driven.
const STANDING_M_S: f64 = 0.2;

crate::units::words! {
    /// Whether it is straight or turning.
    pub enum PartKind {
        /// Driven straight along the field.
        Pass = "pass",
        /// On the headland, or any other bend.
        Turn = "turn",
    }
}

/// A run of steps of one kind: `from` to `to`, both included; parts share the step between them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Part {
    /// Whether it is pass or turn.
    pub kind: PartKind,
    /// Index of its first step.
    pub from: usize,
    /// Index of its last step.
    pub to: usize,
}

/// Metres driven up to each step of the trace, by the antenna's speed.
#[must_use]
pub fn way_m(steps: &[TraceStep]) -> Vec<f64> {
    integrated(steps, |step| if step.speed_m_s > STANDING_M_S { step.speed_m_s } else { 0.0 })
}

/// The parts of a trace, in order, without a hole.
#[must_use]
pub fn parts(trace: &Trace) -> Vec<Part> {
    let steps = &trace.steps;
    let way = way_m(steps);
    let mut turning = false;
    let mut out: Vec<Part> = Vec::new();
    for i in 0..steps.len() {
        let bend = bend_per_m(steps, &way, i);
        turning = bend > if turning { STRAIGHT_PER_M } else { TURNING_PER_M };
        let kind = if turning { PartKind::Turn } else { PartKind::Pass };
        match out.last_mut() {
            Some(part) if part.kind == kind => part.to = i,
            Some(part) => {
                part.to = i;
                out.push(Part { kind, from: i, to: i });
            }
            None => out.push(Part { kind, from: 0, to: 0 }),
        }
    }
    absorb(&out, &way)
}

/// Mean bend around step `i`, 1/metre, without its sign.
fn bend_per_m(steps: &[TraceStep], way: &[f64], i: usize) -> f64 {
    let from = way.partition_point(|&m| m < way[i] - SPAN_M / 2.0);
    let to = way.partition_point(|&m| m <= way[i] + SPAN_M / 2.0) - 1;
    let apart_m = way[to] - way[from];
    if apart_m < SPAN_M / 4.0 {
        return 0.0;
    }
    ((steps[to].heading_rad - steps[from].heading_rad) / apart_m).abs()
}

/// Straights too short to be a pass become part of the turns around them; neighbours of one kind
/// are combined.
fn absorb(parts: &[Part], way: &[f64]) -> Vec<Part> {
    let mut out: Vec<Part> = Vec::new();
    for part in parts {
        let short = way[part.to] - way[part.from] < STRAIGHT_MIN_M;
        let alone = parts.len() == 1;
        let kind = if short && !alone { PartKind::Turn } else { part.kind };
        match out.last_mut() {
            Some(last) if last.kind == kind => last.to = part.to,
            _ => out.push(Part { kind, ..*part }),
        }
    }
    out
}
