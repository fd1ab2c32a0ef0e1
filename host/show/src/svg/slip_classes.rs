//! Classes of slip, stated apart by colour, by hatching and by words.
//!
//! The colours are computed, not chosen: from pale to deep in equal steps of lightness in OKLab
//! (Ottosson 2020; CSS Color 4), the hue turning evenly from straw to plum. Lightness alone tells
//! them apart, so they hold in grey and for any kind of colour blindness. On light paper more slip
//! is deeper, on dark paper more slip is paler: always further from the ground.

use maud::{Markup, PreEscaped, html};
use std::fmt::Write as _;

/// Where one class ends and the next begins, as slip. 8 and 15 % bound the good working range on
/// soil (common practice, from memory); the others divide what is below, between and above.
pub const EDGES: [f64; 5] = [0.04, 0.08, 0.12, 0.15, 0.20];
/// Number of classes.
pub const CLASSES: usize = EDGES.len() + 1;

/// Hue of the palest and of the deepest colour, degrees: straw to plum, through clay.
const HUE_DEG: (f64, f64) = (95.0, -20.0);
/// Chroma of the palest and of the deepest, OKLab.
const CHROMA: (f64, f64) = (0.055, 0.115);
/// Lightness of the palest and of the deepest on light paper, OKLab.
const ON_LIGHT: (f64, f64) = (0.93, 0.38);
/// The same on dark paper.
const ON_DARK: (f64, f64) = (0.90, 0.35);
/// Colours lighter than this are hatched in dark, others in pale.
const HATCH_TURNS: f64 = 0.64;
/// How much larger the hatching is on a narrow page, where the whole map is shrunk.
const NARROW: f64 = 2.2;

/// Patterns by class: turn in degrees, side of a tile, what stands in it, stroke width; in units
/// of the map. Each has a direction or a density of its own.
const HATCHES: [(f64, f64, &str, f64); CLASSES] = [
    (0.0, 16.0, "M8 6.5V9.5", 1.6),
    (45.0, 15.0, "M7.5 0V15", 1.6),
    (-45.0, 10.0, "M5 0V10", 1.6),
    (0.0, 7.0, "M3.5 0V7", 1.8),
    (45.0, 10.0, "M5 0V10M0 5H10", 1.6),
    (0.0, 6.0, "M3 0V6M0 3H6", 1.8),
];

/// A colour of the screen, sRGB.
pub type Rgb = [u8; 3];

/// The class of a slip, 0 to [`CLASSES`] - 1.
#[must_use]
pub fn class_of(slip: f64) -> usize {
    EDGES.partition_point(|edge| *edge <= slip)
}

/// A class in words.
#[must_use]
pub fn words(class: usize) -> String {
    let percent = |at: usize| EDGES.get(at).map(|edge| format!("{:.0}", 100.0 * edge));
    match (class.checked_sub(1).and_then(percent), percent(class)) {
        (None, Some(high)) => format!("under {high}\u{a0}%"),
        (Some(low), Some(high)) => format!("{low} to {high}\u{a0}%"),
        (Some(low), None) => format!("{low}\u{a0}% and more"),
        (None, None) => String::new(),
    }
}

/// The colours of the classes, from least slip to most, on dark or on light paper.
#[must_use]
pub fn colours(dark: bool) -> [Rgb; CLASSES] {
    std::array::from_fn(|class| {
        let (lightness, depth) = place(class, dark);
        let between = |ends: (f64, f64)| ends.0 + depth * (ends.1 - ends.0);
        srgb(lightness, between(CHROMA), between(HUE_DEG).to_radians())
    })
}

/// Lightness of a class, and how deep it is, 0 to 1.
fn place(class: usize, dark: bool) -> (f64, f64) {
    let share = class as f64 / (CLASSES - 1) as f64;
    let (depth, (pale, deep)) = if dark { (1.0 - share, ON_DARK) } else { (share, ON_LIGHT) };
    (pale + depth * (deep - pale), depth)
}

/// OKLab by lightness, chroma and hue to sRGB (matrices of Ottosson 2020, from memory; transfer
/// curve of IEC 61966-2-1).
fn srgb(lightness: f64, chroma: f64, hue_rad: f64) -> Rgb {
    let (sin, cos) = hue_rad.sin_cos();
    let (a, b) = (chroma * cos, chroma * sin);
    let l = (lightness + 0.396_337_777_4 * a + 0.215_803_757_3 * b).powi(3);
    let m = (lightness - 0.105_561_345_8 * a - 0.063_854_172_8 * b).powi(3);
    let s = (lightness - 0.089_484_177_5 * a - 1.291_485_548_0 * b).powi(3);
    [
        4.076_741_662_1 * l - 3.307_711_591_3 * m + 0.230_969_929_2 * s,
        -1.268_438_004_6 * l + 2.609_757_401_1 * m - 0.341_319_396_5 * s,
        -0.004_196_086_3 * l - 0.703_418_614_7 * m + 1.707_614_701_0 * s,
    ]
    .map(|linear| {
        let linear = linear.clamp(0.0, 1.0);
        let curved = if linear <= 0.003_130_8 {
            12.92 * linear
        } else {
            1.055 * linear.powf(1.0 / 2.4) - 0.055
        };
        (255.0 * curved).round() as u8
    })
}

/// The colours as variables of the style sheet: light, dark, paper, and forced colours, where the
/// hatching alone speaks.
#[must_use]
pub fn style() -> String {
    let (light, dark) = (variables(false), variables(true));
    let mut forced = String::new();
    for class in 0..CLASSES {
        let _ = write!(forced, "--slip-{class}:Canvas;--hatch-{class}:CanvasText;");
    }
    format!(
        ":root{{{light}}}\n@media (prefers-color-scheme: dark){{:root{{{dark}}}}}\n\
         @media print{{:root{{{light}}}}}\n@media (forced-colors: active){{:root{{{forced}}}}}\n"
    )
}

fn variables(dark: bool) -> String {
    let mut out = String::new();
    for (class, [r, g, b]) in colours(dark).into_iter().enumerate() {
        let hatch = if place(class, dark).0 > HATCH_TURNS { "#14181a" } else { "#fdfcf8" };
        let _ = write!(out, "--slip-{class}:#{r:02x}{g:02x}{b:02x};--hatch-{class}:{hatch};");
    }
    out
}

/// The patterns, to stand once on the page: for the width of a page, and for a narrow one.
pub fn patterns() -> Markup {
    html! {
        @for (class, (turn, side, tile, width)) in HATCHES.into_iter().enumerate() {
            @for (name, scale) in [("hatch", 1.0), ("narrow-hatch", NARROW)] {
                @let turned = format!("rotate({turn}) scale({scale})");
                pattern id=(format!("{name}-{class}")) patternUnits="userSpaceOnUse"
                    width=(side) height=(side) patternTransform=(turned) {
                    path class=(format!("line-{class}")) d=(tile) stroke-width=(width) {}
                }
            }
        }
    }
}

/// Address of a pattern, for `fill`.
pub(crate) fn hatch(class: usize) -> String {
    format!("url(#hatch-{class})")
}

/// The mark of a class for a legend; hidden from screen readers, which read the words beside it.
pub fn key(class: usize) -> Markup {
    let words = format!("slip-{class}");
    html! {
        svg class="key" width="34" height="20" aria-hidden="true" focusable="false" {
            rect class=(words) x="0.5" y="0.5" width="33" height="19" {}
            rect class="band-edge" x="0.5" y="0.5" width="33" height="19" fill=(hatch(class)) {}
        }
    }
}

/// Style of classes and hatching.
pub(crate) fn rules() -> PreEscaped<String> {
    let mut out = String::new();
    for class in 0..CLASSES {
        let _ = writeln!(
            out,
            ".slip-{class} {{ fill: var(--slip-{class}); }} \
             .line-{class} {{ fill: none; stroke: var(--hatch-{class}); }}"
        );
    }
    PreEscaped(out)
}
