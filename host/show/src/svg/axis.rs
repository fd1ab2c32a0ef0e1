//! Scales, the round numbers along them, and the lines of a grid.

use super::percent;
use maud::{Markup, html};

/// From values to shares of the width.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Value at the left edge of the plot.
    pub low: f64,
    /// Value at the right edge.
    pub high: f64,
    /// Share of the width where the plot begins.
    pub left: f64,
    /// Share of the width where it ends.
    pub right: f64,
}

impl Scale {
    /// A scale that holds all finite values with a margin; `None` without any. Values all alike
    /// get a range of their own size's ten-thousandth, so that they stand in the middle.
    pub fn holding(values: impl IntoIterator<Item = f64>, left: f64, right: f64) -> Option<Self> {
        let mut range: Option<(f64, f64)> = None;
        for value in values.into_iter().filter(|v| v.is_finite()) {
            let (low, high) = range.unwrap_or((value, value));
            range = Some((low.min(value), high.max(value)));
        }
        let (low, high) = range?;
        let spread = (high - low).max(1e-4 * high.abs()).max(1e-9);
        let margin = 0.06 * spread;
        let middle = (low + high) / 2.0;
        let half = spread / 2.0 + margin;
        Some(Self { low: middle - half, high: middle + half, left, right })
    }

    /// Where a value stands, as a share of the width.
    pub fn at(&self, value: f64) -> f64 {
        let share = (value - self.low) / (self.high - self.low);
        self.left + share.clamp(0.0, 1.0) * (self.right - self.left)
    }
}

/// Round numbers along a scale.
#[derive(Clone, Debug, PartialEq)]
pub struct Ticks {
    /// The numbers, ascending, all within the scale.
    pub values: Vec<f64>,
    /// Decimals that tell them apart.
    pub decimals: usize,
}

/// Steps of 1, 2 or 5 times a power of ten: the finest that give at most `most` numbers.
pub fn ticks(scale: &Scale, most: usize) -> Ticks {
    let span = scale.high - scale.low;
    let rough = span / most.max(1) as f64;
    let mut exponent = rough.log10().floor() as i32;
    let mut values = Vec::new();
    // Two decades are enough: ten times the rough step leaves at most one number.
    'search: for _ in 0..2 {
        for digit in [1.0, 2.0, 5.0] {
            let step = digit * 10f64.powi(exponent);
            let first = (scale.low / step).ceil() as i64;
            let last = (scale.high / step).floor() as i64;
            if last - first < most as i64 {
                values = (first..=last).map(|n| n as f64 * step).collect();
                break 'search;
            }
        }
        exponent += 1;
    }
    Ticks { values, decimals: usize::try_from(-exponent).unwrap_or(0) }
}

/// A scale from bottom to top: pixels from the top of the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Down {
    /// From values to shares of the height, from the bottom.
    pub scale: Scale,
    /// Its round numbers.
    pub ticks: Ticks,
    /// Top of the plot, pixels.
    pub top_px: f64,
    /// Its height, pixels.
    pub height_px: f64,
}

impl Down {
    /// Over a scale from 0 to 1, with at most so many numbers.
    pub fn new(scale: Scale, ticks_most: usize, top_px: f64, height_px: f64) -> Self {
        Self { scale, ticks: ticks(&scale, ticks_most), top_px, height_px }
    }

    /// Height of a value.
    pub fn px(&self, value: f64) -> f64 {
        // Two decimals are finer than any screen, and keep the page short.
        let px = self.top_px + (1.0 - self.scale.at(value)) * self.height_px;
        (px * 100.0).round() / 100.0
    }

    /// Bottom of the plot, pixels.
    pub fn bottom_px(&self) -> f64 {
        self.top_px + self.height_px
    }

    /// Lines across the plot with their numbers at the left, and the name above.
    pub fn grid(&self, plot: (f64, f64), name: &str, shown: fn(f64, usize) -> String) -> Markup {
        let (left, right) = (percent(plot.0), percent(plot.1));
        html! {
            text class="axis-name" x="0" y=(self.top_px - 14.0) { (name) }
            @for value in &self.ticks.values {
                @let y = self.px(*value);
                line class="grid" x1=(left) y1=(y) x2=(right) y2=(y) {}
                text class="tick" x=(percent(plot.0 - 0.015)) y=(y + 5.0) text-anchor="end" {
                    (shown(*value, self.ticks.decimals))
                }
            }
        }
    }

    /// The axes at the left and below.
    pub fn axes(&self, plot: (f64, f64)) -> Markup {
        let (left, right, bottom) = (percent(plot.0), percent(plot.1), self.bottom_px());
        html! {
            line class="axis" x1=(left) y1=(bottom) x2=(right) y2=(bottom) {}
            line class="axis" x1=(left) y1=(self.top_px) x2=(left) y2=(bottom) {}
        }
    }
}

/// A number with so many decimals.
pub fn plain(value: f64, places: usize) -> String {
    format!("{value:.places$}")
}

/// Places along the lower axis with their words, every other one rejected on narrow pages, and
/// the name of the axis.
pub fn feet(
    plot: (f64, f64),
    bottom_px: f64,
    name: &str,
    places: impl Iterator<Item = (f64, String)>,
) -> Markup {
    html! {
        @for (at, (share, words)) in places.enumerate() {
            @let x = percent(share);
            @let class = if at % 2 == 0 { "tick" } else { "tick spare" };
            line class="axis" x1=(x) y1=(bottom_px) x2=(x) y2=(bottom_px + 5.0) {}
            text class=(class) x=(x) y=(bottom_px + 21.0) text-anchor="middle" { (words) }
        }
        text class="axis-name" x=(percent(plot.1)) y=(bottom_px + 43.0) text-anchor="end" {
            (name)
        }
    }
}

/// Round numbers along a scale with their places.
pub fn numbered(scale: &Scale, most: usize) -> impl Iterator<Item = (f64, String)> {
    let (scale, ticks) = (*scale, ticks(scale, most));
    let places = ticks.decimals;
    ticks.values.into_iter().map(move |value| (scale.at(value), plain(value, places)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_within_the_scale_and_not_too_many() {
        for (low, high) in [(12_980.3, 12_987.1), (0.0, 1.0), (99.0, 1234.0), (-3e-4, 2e-4)] {
            let scale = Scale { low, high, left: 0.0, right: 1.0 };
            let ticks = ticks(&scale, 5);
            assert!((2..=5).contains(&ticks.values.len()), "{low} to {high}: {ticks:?}");
            assert!(ticks.values.iter().all(|v| (low..=high).contains(v)), "{ticks:?}");
            let places = ticks.decimals;
            for value in &ticks.values {
                let back: f64 = format!("{value:.places$}").parse().expect("a number");
                assert!((back - value).abs() < 1e-9 * (high - low), "{value} loses digits");
            }
        }
    }

    #[test]
    fn a_scale_holds_its_values_and_ignores_what_is_no_number() {
        let scale = Scale::holding([5.0, f64::NAN, 7.0], 0.2, 0.9).expect("two values");
        assert!(scale.at(5.0) > 0.2 && scale.at(7.0) < 0.9);
        assert!(Scale::holding([f64::INFINITY], 0.2, 0.9).is_none());
        let one = Scale::holding([100.0], 0.0, 1.0).expect("one value");
        assert!((one.at(100.0) - 0.5).abs() < 1e-9);
    }
}
