//! The chart of what each pass leaves over its value, in the order of driving: a trend from pass
//! to pass, or a step between the two ways, is seen here and nowhere else.

use super::axis::{Down, Scale};
use super::{Caption, Series, chart, mark, percent};
use maud::{Markup, html};

/// Space above the plot, its height, and the numbers and names below it, pixels.
const TOP_PX: f64 = 28.0;
const PLOT_PX: f64 = 150.0;
const BELOW_PX: f64 = 50.0;
/// The plot's share of the width; numbers stand to the left of it.
const PLOT: (f64, f64) = (0.11, 0.97);
/// Most numbers along the scale downwards.
const TICKS_MOST: usize = 5;
/// Most passes that are named along the axis; of more every second, third and so on is.
const NAMED_MOST: usize = 12;

/// One pass of the chart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Residual {
    /// Its number.
    pub number: u32,
    /// Its value less the value.
    pub over: f64,
}

/// Draw what the passes in the value leave over it, in their order, impulses per 100 m; `series`:
/// the way of measuring. `None` when there is no value to draw.
pub fn residual_chart(said: Caption<'_>, series: Series, points: &[Residual]) -> Option<Markup> {
    let points: Vec<Residual> =
        points.iter().copied().filter(|point| point.over.is_finite()).collect();
    if points.is_empty() {
        return None;
    }
    // Zero is always in view: it is the value itself.
    let values = points.iter().map(|point| point.over).chain([0.0]);
    let down = Down::new(Scale::holding(values, 0.0, 1.0)?, TICKS_MOST, TOP_PX, PLOT_PX);
    let bottom_px = down.bottom_px();
    let zero = down.px(0.0);
    let body = html! {
        (down.grid(PLOT, &format!("{}, impulses per 100 m", series.word()), signed))
        line class="best" x1=(percent(PLOT.0)) y1=(zero) x2=(percent(PLOT.1)) y2=(zero) {}
        (marks(series, &points, &down))
        text class="axis-name" x=(percent(PLOT.1)) y=(bottom_px + 43.0) text-anchor="end" {
            "pass, in the order of driving"
        }
    };
    Some(chart(said, bottom_px + BELOW_PX, &body))
}

fn marks(series: Series, points: &[Residual], down: &Down) -> Markup {
    let step = points.len().div_ceil(NAMED_MOST);
    html! {
        @for (at, point) in points.iter().enumerate() {
            @let share = across(at, points.len());
            @let y = down.px(point.over);
            line class="grid stem" x1=(percent(share)) y1=(down.px(0.0)) x2=(percent(share))
                y2=(y) {}
            (mark(series, share, y))
            @if at % step == 0 {
                text class="tick" x=(percent(share)) y=(TOP_PX + PLOT_PX + 21.0)
                    text-anchor="middle" { (point.number) }
            }
        }
    }
}
/// Evenly along the plot, half a step free at both ends.
fn across(at: usize, of: usize) -> f64 {
    PLOT.0 + (PLOT.1 - PLOT.0) * (at as f64 + 0.5) / of as f64
}

/// With its sign, and none at zero.
fn signed(value: f64, places: usize) -> String {
    let size = format!("{:.places$}", value.abs());
    match (size.parse() == Ok(0.0), value < 0.0) {
        (true, _) => size,
        (false, true) => format!("−{size}"),
        (false, false) => format!("+{size}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zero_has_no_sign_and_a_greater_value_stands_higher() {
        assert_eq!([signed(-0.001, 1), signed(0.5, 1), signed(-2.0, 0)], ["0.0", "+0.5", "−2"]);
        let scale = Scale::holding([-3.0, 5.0], 0.0, 1.0).expect("two values");
        let down = Down::new(scale, TICKS_MOST, TOP_PX, PLOT_PX);
        assert!(down.px(5.0) < down.px(0.0) && down.px(0.0) < down.px(-3.0));
    }
}
