//! The chart of speeds: rates against satellite speed with their lines, and below it how far each
//! lies off its line.
//!
//! Wheel and radar differ by shape of mark and by kind of line, and stand side by side in the
//! lower panel.

use super::axis::{Down, Scale, feet, numbered, plain};
use super::{Caption, chart, percent, shape};
use maud::{Markup, html};

/// Heights of the two panels and what lies around them, pixels.
const TOP_PX: f64 = 28.0;
const UPPER_PX: f64 = 300.0;
const BETWEEN_PX: f64 = 44.0;
const LOWER_PX: f64 = 150.0;
const AXIS_PX: f64 = 50.0;
/// The plot's share of the width; numbers stand to the left of it.
const PLOT: (f64, f64) = (0.11, 0.96);
/// Most numbers along an axis.
const TICKS_MOST: usize = 6;
/// Most points drawn of one sensor; more lie on each other.
const POINTS_MAX: usize = 400;
/// The lower panel shows at least this much and cuts off beyond that, per cent.
const LOWER_LEAST: f64 = 1.0;
const LOWER_MOST: f64 = 12.0;
/// How far the marks of the two sensors stand apart in the lower panel, pixels.
const APART_PX: f64 = 5.0;

/// One sensor.
#[derive(Clone, Debug, PartialEq)]
pub struct SpeedSeries {
    /// Radar: open circles and a broken line; else the wheel: filled squares and a full one.
    pub radar: bool,
    /// Satellite speed, km/h, and rate, impulses per second.
    pub points: Vec<(f64, f64)>,
    /// Rate at speed zero, and rise for each km/h.
    pub line: (f64, f64),
    /// Satellite speed, km/h, deviation and its uncertainty, per cent.
    pub deviations: Vec<(f64, f64, f64)>,
}

/// Draw these sensors; `None` when there is no point to draw.
pub fn draw(said: Caption<'_>, series: &[SpeedSeries]) -> Option<Markup> {
    let points = || series.iter().flat_map(|series| &series.points);
    let fastest = points().map(|p| p.0).fold(0.0, f64::max);
    let highest = points().map(|p| p.1).fold(0.0, f64::max);
    if !(fastest.is_finite() && highest.is_finite() && fastest > 0.0 && highest > 0.0) {
        return None;
    }
    let across = Scale { low: 0.0, high: 1.05 * fastest, left: PLOT.0, right: PLOT.1 };
    let down = |low, high, top_px, height_px| {
        let scale = Scale { low, high, left: 0.0, right: 1.0 };
        Down::new(scale, TICKS_MOST, top_px, height_px)
    };
    let upper = down(0.0, 1.05 * highest, TOP_PX, UPPER_PX);
    let off = series.iter().flat_map(|s| &s.deviations);
    let most = off.map(|d| d.1.abs() + d.2).fold(LOWER_LEAST, f64::max).min(LOWER_MOST);
    let lower = down(-most, most, TOP_PX + UPPER_PX + BETWEEN_PX, LOWER_PX);
    let bottom_px = lower.bottom_px();
    let body = html! {
        (upper.grid(PLOT, "impulses per second", plain))
        (lower.grid(PLOT, "deviation from the line, %", plain))
        (upper.axes(PLOT))
        (lower.axes(PLOT))
        (feet(PLOT, bottom_px, "satellite speed, km/h", numbered(&across, TICKS_MOST)))
        line class="best" x1=(percent(PLOT.0)) x2=(percent(PLOT.1))
            y1=(lower.px(0.0)) y2=(lower.px(0.0)) {}
        @for series in series {
            (upper_panel(series, &across, &upper))
            (lower_panel(series, &across, &lower))
        }
    };
    Some(chart(said, bottom_px + AXIS_PX, &body))
}

fn upper_panel(series: &SpeedSeries, across: &Scale, down: &Down) -> Markup {
    let (at_zero, rise) = series.line;
    let at = |speed: f64| down.px(at_zero + rise * speed);
    let step = series.points.len().div_ceil(POINTS_MAX).max(1);
    html! {
        line class=(if series.radar { "fit radar" } else { "fit" })
            x1=(percent(across.left)) y1=(at(across.low))
            x2=(percent(across.right)) y2=(at(across.high)) {}
        @for &(speed, rate) in series.points.iter().step_by(step) {
            (mark(series.radar, across.at(speed), 0.0, down.px(rate)))
        }
    }
}

fn lower_panel(series: &SpeedSeries, across: &Scale, down: &Down) -> Markup {
    let shift_px = if series.radar { APART_PX } else { -APART_PX };
    html! {
        @for &(speed, off, uncertainty) in &series.deviations {
            @let x = across.at(speed);
            svg x=(percent(x)) y="0" overflow="visible" {
                line class="whisker" x1=(shift_px) x2=(shift_px)
                    y1=(down.px(off - uncertainty)) y2=(down.px(off + uncertainty)) {}
            }
            (mark(series.radar, x, shift_px, down.px(off)))
        }
    }
}

/// The mark of a sensor at a share of the width, moved by pixels, and a height.
fn mark(radar: bool, share: f64, shift_px: f64, y_px: f64) -> Markup {
    let (class, outline) = shape(radar);
    html! {
        svg x=(percent(share)) y=(y_px) overflow="visible" {
            svg x=(shift_px) y="0" overflow="visible" { path class=(class) d=(outline) {} }
        }
    }
}
