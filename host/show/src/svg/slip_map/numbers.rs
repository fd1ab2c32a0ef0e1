//! The numbers on the map, thinned so that none covers another.
//!
//! They keep their size while the map shrinks with the page, so fewer fit on a narrow one: each
//! number belongs to the narrowest of three widths at which it has room.

use super::super::percent;
use super::Sheet;
use super::lanes::Band;
use maud::{Markup, html};
use trundle_core::survey::slip::Section;
use trundle_core::units::decimals;

/// Widths of the map for which numbers are placed, pixels: the least that occurs on a phone and on
/// paper, from 30 rem, and from 45 rem. The style sheet shows the classes by the same widths.
const WIDTHS_PX: [f64; 3] = [280.0, 440.0, 655.0];
/// Height of a plate, pixels.
const HIGH_PX: f64 = 18.0;
/// Width of a plate without and for each sign, pixels.
const WIDE_PX: (f64, f64) = (7.0, 8.0);
/// Free space between plates at each width, pixels: the smaller the map, the more of it they hide.
const APART_PX: [f64; 3] = [18.0, 12.0, 7.0];

/// A number and where it stands, as shares of the map's width and height.
struct Number {
    x: f64,
    y: f64,
    text: String,
    /// Index in [`WIDTHS_PX`] from which on it is shown.
    tier: usize,
}

/// Draw them over the sheet.
pub fn numbers(sections: &[Section], bands: &[Band], sheet: &Sheet) -> Markup {
    html! {
        svg class="numbers" width="100%" height="100%" aria-hidden="true" focusable="false" {
            @for number in placed(sections, bands, sheet) {
                @let wide = wide_px(&number.text);
                svg class=(format!("tier-{}", number.tier)) x=(percent(number.x))
                    y=(percent(number.y)) overflow="visible" {
                    rect class="plate" x=(-wide / 2.0) y=(-HIGH_PX / 2.0) width=(wide)
                        height=(HIGH_PX) rx="3" {}
                    text y="4.5" text-anchor="middle" { (number.text) }
                }
            }
        }
    }
}

fn wide_px(text: &str) -> f64 {
    WIDE_PX.0 + WIDE_PX.1 * text.chars().count() as f64
}

/// The most slip first, then the least, then the others in the order of time: the ends of the
/// range are always to be read.
fn placed(sections: &[Section], bands: &[Band], sheet: &Sheet) -> Vec<Number> {
    let by_slip = |a: &&(usize, &Section), b: &&(usize, &Section)| a.1.slip.total_cmp(&b.1.slip);
    let all: Vec<(usize, &Section)> = sections.iter().enumerate().collect();
    let most = all.iter().max_by(by_slip).map(|w| w.0);
    let least = all.iter().min_by(by_slip).map(|w| w.0);
    let order = most.into_iter().chain(least).chain(0..sections.len());
    let order: Vec<usize> = order.collect();
    let mut out: Vec<Number> = Vec::new();
    let mut shown = vec![false; sections.len()];
    for (tier, width_px) in WIDTHS_PX.into_iter().enumerate() {
        let height_px = width_px * sheet.height_units / super::WIDTH_UNITS;
        for &at in &order {
            let Some(band) = bands.get(at).filter(|band| !shown[at] && !band.centre.is_empty())
            else {
                continue;
            };
            let (x, y) = sheet.share(&super::middle(&band.centre));
            // Plus zero, so that none is not printed as -0.
            let text = decimals((100.0 * sections[at].slip).round(), 0);
            let text = text.replace('-', "\u{2212}");
            let wide = wide_px(&text);
            let free = out.iter().all(|other| {
                let (dx, dy) = ((other.x - x) * width_px, (other.y - y) * height_px);
                let reach_px = f64::midpoint(wide_px(&other.text), wide) + APART_PX[tier];
                dx.abs() >= reach_px || dy.abs() >= HIGH_PX + APART_PX[tier]
            });
            if free {
                shown[at] = true;
                out.push(Number { x, y, text, tier });
            }
        }
    }
    out
}
