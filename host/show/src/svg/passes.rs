//! The chart of passes: a row a pass, below them a row for each value, all on one scale.
//!
//! Rows grow downwards, so that more passes make a longer drawing and never a narrower one.

use super::axis::{Scale, feet, numbered};
use super::{Caption, Series, chart, mark, percent};
use maud::{Markup, html};

/// Height of a row, pixels.
const ROW_PX: f64 = 36.0;
/// Space above the first row, pixels.
const TOP_PX: f64 = 6.0;
/// Numbers and name of the axis below the last row, pixels.
const AXIS_PX: f64 = 50.0;
/// How far the two marks of a row stand above and below its middle, pixels.
const APART_PX: f64 = 5.5;
/// The plot's share of the width; labels stand to the left of it, and half of the last number
/// of the axis may stand out to the right.
const PLOT: (f64, f64) = (0.27, 0.94);
/// Most numbers along the axis; every other one is rejected on narrow pages.
const TICKS_MOST: usize = 5;

/// A value and how far it may be off, both ways.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// The value itself, without unit.
    pub value: f64,
    /// Half of its width, both ways.
    pub half: f64,
}

impl Interval {
    fn ends(self) -> (f64, f64) {
        (self.value - self.half, self.value + self.half)
    }
}

/// One pass of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct PassRow {
    /// At the left: number and way.
    pub label: String,
    /// Impulses per 100 m by tape.
    pub tape: Option<f64>,
    /// By satellite, with its interval.
    pub satellite: Option<Interval>,
}

/// One value below the passes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// Which.
    pub series: Series,
    /// With its expanded uncertainty.
    pub interval: Interval,
}

/// All that is drawn for one channel, impulses per 100 m.
#[derive(Clone, Debug, PartialEq)]
pub struct PassChart {
    /// The passes, a row for each.
    pub rows: Vec<PassRow>,
    /// The values below the passes.
    pub summaries: Vec<Summary>,
}

impl PassChart {
    /// Draw it; `None` when there is no value to draw.
    pub fn draw(&self, said: Caption<'_>) -> Option<Markup> {
        let scale = Scale::holding(self.values(), PLOT.0, PLOT.1)?;
        let rows = self.rows.len() + self.summaries.len();
        let bottom_px = TOP_PX + ROW_PX * rows as f64;
        let body = html! {
            (grid(&scale, bottom_px))
            (self.best(&scale, bottom_px))
            @for (at, row) in self.rows.iter().enumerate() {
                (pass(&scale, row, middle_px(at)))
            }
            (divider(middle_px(self.rows.len()) - ROW_PX / 2.0))
            @for (at, summary) in self.summaries.iter().enumerate() {
                (figure(&scale, summary, middle_px(self.rows.len() + at)))
            }
        };
        Some(chart(said, bottom_px + AXIS_PX, &body))
    }

    fn values(&self) -> impl Iterator<Item = f64> {
        let both = |interval: Interval| {
            let (low, high) = interval.ends();
            [low, high]
        };
        let passes = self.rows.iter().flat_map(move |row| {
            row.tape.into_iter().chain(row.satellite.into_iter().flat_map(both))
        });
        passes.chain(self.summaries.iter().flat_map(move |s| both(s.interval)))
    }

    /// The value in force, from top to bottom, with its interval: only where there is just one.
    fn best(&self, scale: &Scale, bottom_px: f64) -> Markup {
        let combined = self.summaries.iter().find(|s| s.series == Series::Combined);
        let only = if self.summaries.len() == 1 { self.summaries.first() } else { None };
        let Some(best) = combined.or(only) else { return html! {} };
        let (low, high) = best.interval.ends();
        let (from, to) = (scale.at(low), scale.at(high));
        let height_px = bottom_px - TOP_PX;
        html! {
            rect class="band" x=(percent(from)) y=(TOP_PX) width=(percent(to - from))
                height=(height_px) {}
            @for edge in [from, to] {
                line class="band-edge" x1=(percent(edge)) y1=(TOP_PX) x2=(percent(edge))
                    y2=(bottom_px) {}
            }
            @let x = percent(scale.at(best.interval.value));
            line class="best" x1=(x) y1=(TOP_PX) x2=(x) y2=(bottom_px) {}
        }
    }
}

/// Middle of the row with this place from the top, pixels.
fn middle_px(row: usize) -> f64 {
    TOP_PX + ROW_PX * (row as f64 + 0.5)
}

fn grid(scale: &Scale, bottom_px: f64) -> Markup {
    html! {
        @for (share, _) in numbered(scale, TICKS_MOST) {
            @let x = percent(share);
            line class="grid" x1=(x) y1=(TOP_PX) x2=(x) y2=(bottom_px) {}
        }
        line class="axis" x1=(percent(PLOT.0)) y1=(bottom_px) x2=(percent(PLOT.1))
            y2=(bottom_px) {}
        (feet(PLOT, bottom_px, "impulses per 100 m", numbered(scale, TICKS_MOST)))
    }
}

fn pass(scale: &Scale, row: &PassRow, y_px: f64) -> Markup {
    let unused = row.tape.is_none() && row.satellite.is_none();
    let finite = |v: &f64| v.is_finite();
    html! {
        text class="row-name" x="0" y=(y_px + 5.0) { (row.label) }
        @if unused {
            text class="unused" x=(percent(PLOT.0 + 0.02)) y=(y_px + 5.0) { "not used" }
        }
        @if let Some(value) = row.tape.filter(finite) {
            (mark(Series::Tape, scale.at(value), y_px - APART_PX))
        }
        @if let Some(interval) = row.satellite.filter(|i| i.value.is_finite()) {
            (whisker(scale, interval, y_px + APART_PX, "whisker satellite"))
            (mark(Series::Satellite, scale.at(interval.value), y_px + APART_PX))
        }
    }
}

fn figure(scale: &Scale, summary: &Summary, y_px: f64) -> Markup {
    let word = summary.series.word();
    let strong = format!("whisker strong {word}");
    html! {
        text class="row-name figure-name" x="0" y=(y_px + 5.0) { (word) }
        (whisker(scale, summary.interval, y_px, &strong))
        (mark(summary.series, scale.at(summary.interval.value), y_px))
    }
}

/// A line from end to end with a stop at each.
fn whisker(scale: &Scale, interval: Interval, y_px: f64, class: &str) -> Markup {
    let (low, high) = interval.ends();
    let (from, to) = (percent(scale.at(low)), percent(scale.at(high)));
    html! {
        line class=(class) x1=(from) y1=(y_px) x2=(to) y2=(y_px) {}
        @for end in [&from, &to] {
            line class=(class) x1=(end) y1=(y_px - 4.0) x2=(end) y2=(y_px + 4.0) {}
        }
    }
}

fn divider(y_px: f64) -> Markup {
    html! { line class="divider" x1="0" y1=(y_px) x2=(percent(PLOT.1)) y2=(y_px) {} }
}
