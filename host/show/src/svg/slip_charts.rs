//! Slip by how much of the way has it, and slip along the way.

use super::axis::{Down, Scale, feet, numbered, plain};
use super::slip_classes::{class_of, hatch};
use super::{Caption, chart, percent};
use maud::{Markup, html};
use std::fmt::Write as _;
use trundle_core::survey::ride::parts::PartKind;
use trundle_core::survey::slip::{Section, Slip};

/// The plot's share of the width; numbers of the upright axis stand to its left.
const PLOT: (f64, f64) = (0.13, 0.97);
/// Top and bottom of the plot, pixels from the top of the drawing.
const RISE_PX: (f64, f64) = (30.0, 200.0);
/// Height of a drawing, pixels.
const HEIGHT_PX: f64 = 258.0;
/// Widest step of the histogram that is asked for, and the most bars, per cent and number.
const BARS_MOST: f64 = 30.0;
/// Uncertainty beyond this is cut off, as slip: one hopeless section must not flatten the others.
const UNCERTAINTY_MOST: f64 = 0.05;

/// An upright scale over the plot.
fn upright(scale: Scale) -> Down {
    Down::new(scale, 5, RISE_PX.0, RISE_PX.1 - RISE_PX.0)
}

/// Lines across with their numbers, an axis below with its own, and both names.
fn frame(upright: &Down, level: &Scale, names: (&str, &str)) -> Markup {
    html! {
        (upright.grid(PLOT, names.0, plain))
        (feet(PLOT, RISE_PX.1, names.1, numbered(level, 6)))
        line class="axis" x1=(percent(PLOT.0)) y1=(RISE_PX.1) x2=(percent(PLOT.1))
            y2=(RISE_PX.1) {}
    }
}

/// Shares of the way by slip, with the thresholds as upright lines.
pub fn histogram(slip: &Slip, said: Caption<'_>) -> Option<Markup> {
    let percents = || slip.sections.iter().map(|w| 100.0 * w.slip);
    let low = percents().fold(0.0, f64::min);
    let high = percents().fold(0.0, f64::max);
    if !(low.is_finite() && high.is_finite()) {
        return None;
    }
    let step = ((high - low) / BARS_MOST).ceil().max(1.0);
    let (low, bars) = ((low / step).floor() * step, (high / step).floor() - (low / step).floor());
    let mut shares = vec![0.0; bars as usize + 1];
    let all_m: f64 = slip.sections.iter().map(|w| w.length_m).sum();
    for section in &slip.sections {
        let at = ((100.0 * section.slip - low) / step).floor().max(0.0) as usize;
        if let Some(share) = shares.get_mut(at) {
            *share += 100.0 * section.length_m / all_m;
        }
    }
    let most = shares.iter().copied().fold(1.0, f64::max);
    let upright = upright(Scale { low: 0.0, high: 1.05 * most, left: 0.0, right: 1.0 });
    let end = low + step * shares.len() as f64;
    let level = Scale { low, high: end, left: PLOT.0, right: PLOT.1 };
    let body = html! {
        (frame(&upright, &level, ("of the distance, %", "slip, %")))
        @for (at, share) in shares.iter().enumerate().filter(|(_, share)| **share > 0.0) {
            @let from = low + step * at as f64;
            @let class = class_of((from + step / 2.0) / 100.0);
            @let (x, y) = (level.at(from), upright.px(*share));
            @for (class, fill) in [(format!("slip-{class}"), None),
                ("band-edge".to_owned(), Some(hatch(class)))] {
                rect class=(class) fill=[fill] x=(percent(x)) y=(format!("{y:.1}"))
                    width=(percent(level.at(from + step) - x))
                    height=(format!("{:.1}", RISE_PX.1 - y)) {}
            }
        }
        @for above in &slip.share_above {
            @let value = 100.0 * above.slip;
            @if (level.low..=level.high).contains(&value) {
                @let x = percent(level.at(value));
                line class="threshold" x1=(x) y1=(RISE_PX.0 - 8.0) x2=(x) y2=(RISE_PX.1) {}
                text class="tick" x=(x) y=(RISE_PX.0 - 12.0) text-anchor="middle" {
                    (format!("{value:.0}\u{a0}%"))
                }
            }
        }
    };
    Some(chart(said, HEIGHT_PX, &body))
}

/// Slip against distance, each section a step with its 95 % interval as a band.
pub fn along(slip: &Slip, factor: f64, said: Caption<'_>) -> Option<Markup> {
    let steps = steps(&slip.sections, factor);
    let end_m = steps.last()?.to_m;
    let values = steps.iter().flat_map(|s| {
        let half = s.half.min(100.0 * UNCERTAINTY_MOST);
        [s.value - half, s.value + half]
    });
    let upright = upright(Scale::holding(values.chain([0.0]), 0.0, 1.0)?);
    let level = Scale { low: 0.0, high: end_m, left: PLOT.0, right: PLOT.1 };
    let body = html! {
        (frame(&upright, &level, ("slip, %", "metres driven in sections")))
        @for above in &slip.share_above {
            @let y = format!("{:.1}", upright.px(100.0 * above.slip));
            @if (upright.scale.low..=upright.scale.high).contains(&(100.0 * above.slip)) {
                line class="threshold" x1=(percent(PLOT.0)) y1=(y) x2=(percent(PLOT.1)) y2=(y) {}
            }
        }
        (curve(&steps, &upright.scale, end_m))
        @for turn in steps.chunk_by(|a, b| a.part == b.part).filter(|part| part[0].turn) {
            @let (from, to) = (level.at(turn[0].from_m), level.at(turn[turn.len() - 1].to_m));
            rect class="turn" x=(percent(from)) y=(RISE_PX.1 - 5.0) width=(percent(to - from))
                height="5" {}
        }
    };
    Some(chart(said, HEIGHT_PX, &body))
}

/// One section along the way.
struct Step {
    from_m: f64,
    to_m: f64,
    /// Per cent.
    value: f64,
    half: f64,
    part: u32,
    turn: bool,
}

fn steps(sections: &[Section], factor: f64) -> Vec<Step> {
    let mut to_m = 0.0;
    sections
        .iter()
        .map(|section| {
            let from_m = to_m;
            to_m += section.length_m;
            Step {
                from_m,
                to_m,
                value: 100.0 * section.slip,
                half: 100.0 * factor * section.standard_uncertainty,
                part: section.part,
                turn: section.kind == PartKind::Turn,
            }
        })
        .collect()
}

/// Line and band, in a drawing of their own that is stretched to the plot.
fn curve(steps: &[Step], upright: &Scale, end_m: f64) -> Markup {
    let x = |m: f64| 1000.0 * m / end_m;
    let y = |value: f64| 1000.0 * (1.0 - upright.at(value));
    let path = |value: &dyn Fn(&Step) -> f64, back: bool, out: &mut String| {
        let mut put = |step: &Step| {
            let (a, b) = if back { (step.to_m, step.from_m) } else { (step.from_m, step.to_m) };
            let first = if out.is_empty() { 'M' } else { 'L' };
            let _ = write!(out, "{first}{:.1} {:.1}H{:.1}", x(a), y(value(step)), x(b));
        };
        if back { steps.iter().rev().for_each(&mut put) } else { steps.iter().for_each(&mut put) }
    };
    let (mut line, mut band) = (String::new(), String::new());
    path(&|s| s.value, false, &mut line);
    path(&|s| s.value + s.half, false, &mut band);
    path(&|s| s.value - s.half, true, &mut band);
    band.push('Z');
    html! {
        svg x=(percent(PLOT.0)) y=(RISE_PX.0) width=(percent(PLOT.1 - PLOT.0))
            height=(RISE_PX.1 - RISE_PX.0) viewBox="0 0 1000 1000" preserveAspectRatio="none"
            overflow="hidden" {
            path class="uncertainty" d=(band) {}
            path class="course" d=(line) {}
        }
    }
}
