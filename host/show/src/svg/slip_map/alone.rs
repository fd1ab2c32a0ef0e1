//! The map as a drawing of its own, for a live screen: bands, hatching, the place of the tractor,
//! a scale, and a legend with numbers, all growing and shrinking together.

use super::super::slip_classes::{CLASSES, class_of, rules, style, words};
use super::{Outlined, SCALE_SHARE, WIDTH_UNITS, classes, metres, outlined, round_below};
use maud::{PreEscaped, html};
use trundle_core::survey::slip::Section;

/// Height of a row of the legend.
const ROW_UNITS: f64 = 64.0;
/// Classes beside each other in the legend.
const COLUMNS: usize = 2;

/// Colours of ground and writing, light and dark; those of the page that shows it.
const OWN: &str = ":root{--ground:#fffefb;--ink:#10140f;--rule:#626a60}\n\
    @media (prefers-color-scheme: dark){:root{--ground:#0f1311;--ink:#f4f3ec;--rule:#8e9a91}}\n\
    @media (forced-colors: active){:root{--ground:Canvas;--ink:CanvasText;--rule:CanvasText}}\n\
    .paper{fill:var(--ground)}text{fill:var(--ink);font:600 34px system-ui,sans-serif}\
    .wide{display:none}.band-edge{stroke:var(--rule);stroke-width:1.5}\
    .band-edge.fine{stroke-width:0.5}\
    .flagged{fill:none;stroke:var(--ink);stroke-width:3;stroke-dasharray:6 4}\
    .here{fill:none;stroke:var(--ink);stroke-width:9}\
    .rule{stroke:var(--ink);stroke-width:4}\n";

/// The map of these sections as a whole SVG file; `None` where no section has a way to draw. The
/// last section is where the tractor was last.
#[must_use]
pub fn alone(sections: &[Section]) -> Option<String> {
    let Outlined { sheet, outlines, flagged, fine, .. } = outlined(sections)?;
    let used: Vec<usize> = (0..CLASSES)
        .filter(|class| sections.iter().any(|section| class_of(section.slip) == *class))
        .collect();
    let rows = used.len().div_ceil(COLUMNS);
    let map = sheet.height_units;
    let height = map + ROW_UNITS * (rows as f64 + 1.0);
    let longest = round_below(SCALE_SHARE * WIDTH_UNITS / sheet.units_per_m);
    let scale = longest * sheet.units_per_m;
    let (scale_y, legend_y) = (map + 0.6 * ROW_UNITS, map + ROW_UNITS);
    let place = |at: usize| {
        let (column, row) = (at % COLUMNS, at / COLUMNS);
        let x = column as f64 * WIDTH_UNITS / COLUMNS as f64;
        (x, legend_y + row as f64 * ROW_UNITS)
    };
    let here = outlines.last()?;
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox={ "0 0 " (WIDTH_UNITS) " " (f1(height)) } {
            style { (PreEscaped(OWN)) (PreEscaped(style())) (rules()) }
            rect class="paper" width=(WIDTH_UNITS) height=(f1(height)) {}
            (classes(sections, &outlines, fine))
            @if !flagged.is_empty() { path class="flagged" d=(flagged) {} }
            path class="here" d=(here) {}
            path class="rule" d={ "M2 " (f1(scale_y)) "H" (f1(scale)) } {}
            text x=(f1(scale + 16.0)) y=(f1(scale_y + 12.0)) { (metres(longest)) }
            text x=(WIDTH_UNITS - 10.0) y=(f1(scale_y + 12.0)) text-anchor="end" { "N \u{2191}" }
            @for (at, class) in used.iter().enumerate() {
                @let (x, y) = place(at);
                @let (x, y) = (f1(x), f1(y + 8.0));
                rect class={ "slip-" (class) } x=(x) y=(y) width="84" height="48" {}
                rect class="band-edge" x=(x) y=(y) width="84" height="48"
                    fill={ "url(#narrow-hatch-" (class) ")" } {}
                text x=(f1(place(at).0 + 100.0)) y=(f1(place(at).1 + 44.0)) { (words(*class)) }
            }
        }
    };
    Some(drawing.into_string())
}

fn f1(units: f64) -> String {
    format!("{units:.1}")
}
