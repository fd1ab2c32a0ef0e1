//! The chart of a history: a point a record over the days, each with its 95 % interval, and the
//! line through them.
//!
//! Records in use are filled squares, amended ones open circles without an interval; the line is
//! full where it rises or falls by more than chance, and broken where not.

use super::axis::{Scale, Ticks, ticks};
use super::percent;
use crate::text::history::half_width;
use chrono::{Datelike, NaiveDate};
use maud::{Markup, html};
use trundle_core::history::{History, Step};

/// Height of the plot and what lies around it, pixels.
const TOP_PX: f64 = 28.0;
const PLOT_PX: f64 = 300.0;
const AXIS_PX: f64 = 50.0;
/// The plot's share of the width; numbers stand to the left of it.
const PLOT: (f64, f64) = (0.13, 0.95);
/// Most numbers along an axis.
const TICKS_MOST: usize = 6;
/// Steps between the months named, by the span that is to be named in few words.
const MONTHS: [i32; 8] = [1, 2, 3, 6, 12, 24, 60, 120];
/// Least span of the days, so that records of one week do not fill the width.
const SPAN_LEAST_DAYS: f64 = 14.0;
/// Half of a whisker's stop, pixels.
const STOP_PX: f64 = 4.0;

/// Draw it.
#[must_use]
pub fn draw(history: &History, title: &str, description: &str) -> Option<Markup> {
    let (first, last) = (history.steps.first()?.point.day, history.steps.last()?.point.day);
    let across = days(first, last);
    let ends = history.steps.iter().flat_map(|step| {
        let half = if step.point.amended { 0.0 } else { half_width(&step.point) };
        [step.point.figure - half, step.point.figure + half]
    });
    let down = Scale::holding(ends, 0.0, 1.0)?;
    Some(html! {
        svg class="chart" role="img" width="100%" height=(TOP_PX + PLOT_PX + AXIS_PX)
            aria-labelledby="chart-history-title" aria-describedby="chart-history-desc" {
            title id="chart-history-title" { (title) }
            desc id="chart-history-desc" { (description) }
            (grid(&down, &ticks(&down, TICKS_MOST)))
            (feet(&across, first, last))
            (line(history, &across, &down))
            @for step in &history.steps { (point(step, &across, &down)) }
        }
    })
}

/// From days to shares of the width.
struct Days {
    origin: NaiveDate,
    scale: Scale,
}

impl Days {
    fn at(&self, day: NaiveDate) -> f64 {
        self.scale.at((day - self.origin).num_days() as f64)
    }
}

fn days(first: NaiveDate, last: NaiveDate) -> Days {
    let span = ((last - first).num_days() as f64).max(SPAN_LEAST_DAYS);
    let margin = 0.05 * span;
    let scale = Scale { low: -margin, high: span + margin, left: PLOT.0, right: PLOT.1 };
    Days { origin: first, scale }
}

fn px(down: &Scale, value: f64) -> f64 {
    // Two decimals are finer than any screen, and keep the page short.
    let px = TOP_PX + (1.0 - down.at(value)) * PLOT_PX;
    (px * 100.0).round() / 100.0
}

fn grid(down: &Scale, ticks: &Ticks) -> Markup {
    let (left, right) = (percent(PLOT.0), percent(PLOT.1));
    let places = ticks.decimals;
    let bottom = TOP_PX + PLOT_PX;
    html! {
        text class="axis-name" x="0" y=(TOP_PX - 12.0) { "impulses per 100 m" }
        @for value in &ticks.values {
            @let y = px(down, *value);
            line class="grid" x1=(left) y1=(y) x2=(right) y2=(y) {}
            text class="tick" x=(percent(PLOT.0 - 0.015)) y=(y + 5.0) text-anchor="end" {
                (format!("{value:.places$}"))
            }
        }
        line class="axis" x1=(left) y1=(bottom) x2=(right) y2=(bottom) {}
        line class="axis" x1=(left) y1=(TOP_PX) x2=(left) y2=(bottom) {}
    }
}

/// First days of months, as far apart as it takes to name few; without two of them within the
/// span, its ends.
fn named_days(first: NaiveDate, last: NaiveDate) -> Vec<(NaiveDate, String)> {
    let month = |day: NaiveDate| day.year() * 12 + day.month0() as i32;
    for step in MONTHS {
        let from = (month(first) + step - 1).div_euclid(step) * step;
        let firsts: Vec<NaiveDate> = (from..=month(last))
            .step_by(usize::try_from(step).unwrap_or(1))
            .filter_map(|n| {
                let number = u32::try_from(n.rem_euclid(12) + 1).ok()?;
                NaiveDate::from_ymd_opt(n.div_euclid(12), number, 1)
            })
            .filter(|day| *day >= first)
            .collect();
        if firsts.len() < 2 {
            break;
        }
        if firsts.len() <= TICKS_MOST {
            return firsts.into_iter().map(|day| (day, day.format("%Y-%m").to_string())).collect();
        }
    }
    let mut ends = vec![first, last];
    ends.dedup();
    ends.into_iter().map(|day| (day, day.to_string())).collect()
}

fn feet(across: &Days, first: NaiveDate, last: NaiveDate) -> Markup {
    let bottom = TOP_PX + PLOT_PX;
    html! {
        @for (at, (day, words)) in named_days(first, last).into_iter().enumerate() {
            @let x = percent(across.at(day));
            @let class = if at % 2 == 0 { "tick" } else { "tick spare" };
            line class="axis" x1=(x) y1=(bottom) x2=(x) y2=(bottom + 5.0) {}
            text class=(class) x=(x) y=(bottom + 21.0) text-anchor="middle" { (words) }
        }
        text class="axis-name" x=(percent(PLOT.1)) y=(bottom + 43.0) text-anchor="end" { "day" }
    }
}

fn line(history: &History, across: &Days, down: &Scale) -> Markup {
    let used = || history.steps.iter().filter(|step| !step.point.amended);
    let (Ok(trend), Some(from), Some(to)) = (&history.trend, used().next(), used().next_back())
    else {
        return html! {};
    };
    let class = if trend.significant { "fit" } else { "fit radar" };
    let (from, to) = (from.point.day, to.point.day);
    html! {
        line class=(class) x1=(percent(across.at(from))) y1=(px(down, trend.at(from)))
            x2=(percent(across.at(to))) y2=(px(down, trend.at(to))) {}
    }
}

fn point(step: &Step, across: &Days, down: &Scale) -> Markup {
    let x = percent(across.at(step.point.day));
    let figure = step.point.figure;
    let half = half_width(&step.point);
    let (high, low) = (px(down, figure + half), px(down, figure - half));
    let (class, outline) = shape(step.point.amended);
    html! {
        svg x=(x) y="0" overflow="visible" {
            @if !step.point.amended {
                line class="whisker" x1="0" x2="0" y1=(high) y2=(low) {}
                @for y in [high, low] {
                    line class="whisker" x1=(-STOP_PX) x2=(STOP_PX) y1=(y) y2=(y) {}
                }
            }
            svg x="0" y=(px(down, figure)) overflow="visible" { path class=(class) d=(outline) {} }
        }
    }
}

const fn shape(amended: bool) -> (&'static str, &'static str) {
    if amended {
        ("mark radar", "M-4.5 0A4.5 4.5 0 1 1 4.5 0A4.5 4.5 0 1 1-4.5 0Z")
    } else {
        ("mark", "M-4.5-4.5H4.5V4.5H-4.5Z")
    }
}

/// The mark alone, for a legend; hidden from screen readers, which read the word beside it.
#[must_use]
pub fn legend_mark(amended: bool) -> Markup {
    let (class, outline) = shape(amended);
    html! {
        svg class="key" width="18" height="18" aria-hidden="true" focusable="false" {
            svg x="9" y="9" overflow="visible" { path class=(class) d=(outline) {} }
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn few_days_are_named_and_all_lie_within() {
        let day = |year, month, day| NaiveDate::from_ymd_opt(year, month, day).unwrap();
        let first = day(2024, 11, 7);
        for last in [
            day(2024, 11, 7),
            day(2024, 11, 30),
            day(2024, 12, 20),
            day(2025, 2, 3),
            day(2026, 4, 1),
            day(2031, 1, 1),
            day(2060, 1, 1),
        ] {
            let named = named_days(first, last);
            assert!((1..=TICKS_MOST).contains(&named.len()), "{last}: {named:?}");
            assert!(named.iter().all(|(day, _)| (first..=last).contains(day)), "{last}: {named:?}");
            assert!(named.len() > 1 || first == last, "{last}: {named:?}");
        }
        let words: Vec<String> =
            named_days(first, day(2025, 2, 3)).into_iter().map(|n| n.1).collect();
        assert_eq!(words, ["2024-12", "2025-01", "2025-02"]);
    }
}
