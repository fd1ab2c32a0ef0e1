//! The chart of a history: a point a record over the days, each with its 95 % interval, and the
//! line through them.
//!
//! Records in use are filled squares, amended ones open circles without an interval; the line is
//! full where it rises or falls by significant, and broken where not.

use super::axis::{Down, Scale, feet, plain};
use super::{Caption, chart, percent, shape};
use crate::text::history::half_width;
use chrono::{Datelike, NaiveDate};
use maud::{Markup, html};
use trundle_core::history::{History, HistoryStep};

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
pub fn draw(history: &History, title: &str, description: &str) -> Option<Markup> {
    let (first, last) = (history.steps.first()?.point.day, history.steps.last()?.point.day);
    let across = days(first, last);
    let ends = history.steps.iter().flat_map(|step| {
        let half = if step.point.amended { 0.0 } else { half_width(&step.point) };
        [step.point.figure - half, step.point.figure + half]
    });
    let down = Down::new(Scale::holding(ends, 0.0, 1.0)?, TICKS_MOST, TOP_PX, PLOT_PX);
    let named = named_days(first, last).into_iter().map(|(day, words)| (across.at(day), words));
    let body = html! {
        (down.grid(PLOT, "impulses per 100 m", plain))
        (down.axes(PLOT))
        (feet(PLOT, down.bottom_px(), "day", named))
        (line(history, &across, &down))
        @for step in &history.steps { (point(step, &across, &down)) }
    };
    Some(chart(
        Caption { id: "chart-history", title, description },
        TOP_PX + PLOT_PX + AXIS_PX,
        &body,
    ))
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

fn line(history: &History, across: &Days, down: &Down) -> Markup {
    let used = || history.steps.iter().filter(|step| !step.point.amended);
    let (Ok(trend), Some(from), Some(to)) = (&history.trend, used().next(), used().next_back())
    else {
        return html! {};
    };
    let class = if trend.significant { "fit" } else { "fit radar" };
    let (from, to) = (from.point.day, to.point.day);
    html! {
        line class=(class) x1=(percent(across.at(from))) y1=(down.px(trend.at(from)))
            x2=(percent(across.at(to))) y2=(down.px(trend.at(to))) {}
    }
}

fn point(step: &HistoryStep, across: &Days, down: &Down) -> Markup {
    let x = percent(across.at(step.point.day));
    let figure = step.point.figure;
    let half = half_width(&step.point);
    let (high, low) = (down.px(figure + half), down.px(figure - half));
    let (class, outline) = shape(step.point.amended);
    html! {
        svg x=(x) y="0" overflow="visible" {
            @if !step.point.amended {
                line class="whisker" x1="0" x2="0" y1=(high) y2=(low) {}
                @for y in [high, low] {
                    line class="whisker" x1=(-STOP_PX) x2=(STOP_PX) y1=(y) y2=(y) {}
                }
            }
            svg x="0" y=(down.px(figure)) overflow="visible" { path class=(class) d=(outline) {} }
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
