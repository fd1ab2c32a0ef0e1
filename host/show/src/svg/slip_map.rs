//! The map of slip: the way as bands on the ground, north up, nothing fetched from anywhere.
//!
//! Bands grow and shrink with the page; numbers, scale and arrow keep their size, in drawings of
//! their own that lie over and under the bands with all places in per cent. Each section is shown
//! by the class of its slip in colour, hatching and, where there is room, number. A section with a
//! flag has a dashed outline; where work is shown apart at all, one out of work is a thin band.

mod alone;
mod lanes;
mod numbers;

pub use alone::alone;

use super::percent;
use super::slip_classes::{CLASSES, class_of, key, patterns, words};
use lanes::{Band, bands, offset};
use maud::{Markup, PreEscaped, html};
use std::fmt::Write as _;
use trundle_core::geodesy::{Enu, LocalPlane};
use trundle_core::survey::slip::{Section, Slip};

/// Width of the sheet in units of the drawing.
const WIDTH_UNITS: f64 = 1000.0;
/// Free space around the bands, share of the longer side.
const MARGIN: f64 = 0.04;
/// Least and greatest height of the sheet, of its width: a single row must not make a map that no
/// page holds.
const HEIGHTS: (f64, f64) = (0.3, 1.15);
/// A sheet higher than this is drawn smaller on paper.
const TALL_UNITS: f64 = 750.0;
/// Bands thinner than this have outlines thin enough not to cover them, units of the drawing.
const FINE_UNITS: f64 = 9.0;
/// A band out of work against one in work.
const THIN: f64 = 0.4;
/// Longest scale bar, of the width.
const SCALE_SHARE: f64 = 0.3;

/// The ground shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    west_m: f64,
    north_m: f64,
    units_per_m: f64,
    height_units: f64,
}

impl Sheet {
    fn holding(bands: &[Band]) -> Option<Self> {
        let reach_m = bands.iter().map(|band| band.width_m).fold(0.0, f64::max);
        let mut ends: Option<(Enu, Enu)> = None;
        for at in bands.iter().flat_map(|band| &band.centre) {
            let (low, high) = ends.unwrap_or((*at, *at));
            ends = Some((
                Enu { east_m: low.east_m.min(at.east_m), north_m: low.north_m.min(at.north_m) },
                Enu { east_m: high.east_m.max(at.east_m), north_m: high.north_m.max(at.north_m) },
            ));
        }
        let (low, high) = ends?;
        let (wide_m, high_m) = (high.east_m - low.east_m, high.north_m - low.north_m);
        let margin_m = reach_m + MARGIN * wide_m.max(high_m);
        let (wide_m, high_m) = (wide_m + 2.0 * margin_m, high_m + 2.0 * margin_m);
        let width_m = wide_m.max(high_m / HEIGHTS.1);
        let height_m = high_m.max(HEIGHTS.0 * width_m);
        let units_per_m = WIDTH_UNITS / width_m;
        Some(Self {
            west_m: f64::midpoint(low.east_m, high.east_m) - width_m / 2.0,
            north_m: f64::midpoint(low.north_m, high.north_m) + height_m / 2.0,
            units_per_m,
            height_units: height_m * units_per_m,
        })
    }

    fn units(&self, at: &Enu) -> (f64, f64) {
        let units = |m: f64| m * self.units_per_m;
        (units(at.east_m - self.west_m), units(self.north_m - at.north_m))
    }

    /// A place as shares of width and height.
    fn share(&self, at: &Enu) -> (f64, f64) {
        let (x, y) = self.units(at);
        (x / WIDTH_UNITS, y / self.height_units)
    }
}

/// Half way along a line.
fn middle(line: &[Enu]) -> Enu {
    let apart =
        |pair: &[Enu]| (pair[1].east_m - pair[0].east_m).hypot(pair[1].north_m - pair[0].north_m);
    let mut rest_m = line.windows(2).map(apart).sum::<f64>() / 2.0;
    for pair in line.windows(2) {
        let length_m = apart(pair);
        if length_m >= rest_m && length_m > 0.0 {
            let share = rest_m / length_m;
            return Enu {
                east_m: pair[0].east_m + share * (pair[1].east_m - pair[0].east_m),
                north_m: pair[0].north_m + share * (pair[1].north_m - pair[0].north_m),
            };
        }
        rest_m -= length_m;
    }
    line.first().copied().unwrap_or_default()
}

/// Sections as outlines on a sheet that holds them.
struct Outlined {
    bands: Vec<Band>,
    /// How far ways over the same ground were moved apart, metres.
    moved_m: f64,
    sheet: Sheet,
    outlines: Vec<String>,
    /// The outlines of those with a flag, together.
    flagged: String,
    /// Work is shown apart.
    thin: bool,
    /// The bands are so narrow that outlines would cover them.
    fine: bool,
}

fn outlined(sections: &[Section]) -> Option<Outlined> {
    let origin = sections.first()?.middle();
    let plane = LocalPlane::new(origin.0, origin.1, 0.0);
    let (bands, moved_m) = bands(sections, &plane);
    let sheet = Sheet::holding(&bands)?;
    let thin = sections.iter().any(|w| w.in_work) && sections.iter().any(|w| !w.in_work);
    let fine = bands.iter().any(|band| band.width_m * sheet.units_per_m < FINE_UNITS);
    let outlines: Vec<String> = sections
        .iter()
        .zip(&bands)
        .map(|(w, band)| outline(band, if thin && !w.in_work { THIN } else { 1.0 }, &sheet))
        .collect();
    let flagged: String = sections
        .iter()
        .zip(&outlines)
        .filter(|(section, _)| !section.flags.is_empty())
        .map(|(_, outline)| outline.as_str())
        .collect();
    Some(Outlined { bands, moved_m, sheet, outlines, flagged, thin, fine })
}

/// The map with scale and legend; `None` where no section has a way to draw. `title` and
/// `description` are for those who cannot see it.
pub fn draw(slip: &Slip, title: &str, description: &str) -> Option<Markup> {
    let Outlined { bands, moved_m, sheet, outlines, flagged, thin, fine } =
        outlined(&slip.sections)?;
    let look = if sheet.height_units > TALL_UNITS { "sheet tall" } else { "sheet" };
    let mind = if fine { "flagged fine" } else { "flagged" };
    let view = format!("0 0 {WIDTH_UNITS} {:.1}", sheet.height_units);
    Some(html! {
        figure class="drawing" {
            div class=(look) {
                div class="map" {
                    svg class="ground" role="img" viewBox=(view) aria-labelledby="map-title"
                        aria-describedby="map-desc" {
                        title id="map-title" { (title) }
                        desc id="map-desc" { (description) }
                        (classes(&slip.sections, &outlines, fine))
                        @if !flagged.is_empty() { path class=(mind) d=(flagged) {} }
                    }
                    (numbers::numbers(&slip.sections, &bands, &sheet))
                }
                (scale_and_north(&sheet))
            }
            figcaption { (legend(slip, !flagged.is_empty(), thin, moved_m)) }
        }
    })
}

/// The outline of a band, closed.
fn outline(band: &Band, share: f64, sheet: &Sheet) -> String {
    let half_m = share * band.width_m / 2.0;
    let right = offset(&band.centre, half_m);
    let left = offset(&band.centre, -half_m);
    let mut out = String::new();
    for (at, point) in right.iter().chain(left.iter().rev()).enumerate() {
        let (x, y) = sheet.units(point);
        let _ = write!(out, "{}{x:.1} {y:.1}", if at == 0 { "M" } else { "L" });
    }
    if !out.is_empty() {
        out.push('Z');
    }
    out
}

/// One path a class, drawn in colour and hatched, once for a wide page and once for a narrow one.
fn classes(sections: &[Section], outlines: &[String], fine: bool) -> Markup {
    let edge = if fine { "band-edge fine" } else { "band-edge" };
    let of = |class: usize| -> String {
        let pairs = sections.iter().zip(outlines);
        pairs.filter(|(w, _)| class_of(w.slip) == class).map(|(_, d)| d.as_str()).collect()
    };
    html! {
        defs {
            (patterns())
            @for class in 0..CLASSES {
                path id=(format!("bands-{class}")) d=(of(class)) {}
            }
        }
        @for class in 0..CLASSES {
            (again(class, &format!("slip-{class}"), None))
            (again(class, "wide", Some(&format!("url(#hatch-{class})"))))
            (again(class, "narrow", Some(&format!("url(#narrow-hatch-{class})"))))
            (again(class, edge, Some("none")))
        }
    }
}

/// The bands of a class once more, in another look. All parts are ours: nothing is escaped.
fn again(class: usize, look: &str, fill: Option<&str>) -> Markup {
    let fill = fill.map_or(String::new(), |fill| format!(" fill=\"{fill}\""));
    PreEscaped(format!("<use class=\"{look}\" href=\"#bands-{class}\"{fill}></use>"))
}

/// A bar of round metres and an arrow, below the map and as wide as it.
fn scale_and_north(sheet: &Sheet) -> Markup {
    let width_m = WIDTH_UNITS / sheet.units_per_m;
    let longest = round_below(SCALE_SHARE * width_m);
    let share = longest / width_m;
    html! {
        svg class="scale" width="100%" height="44" aria-hidden="true" focusable="false" {
            line x1="1" y1="30" x2=(percent(share)) y2="30" {}
            line x1="1" y1="24" x2="1" y2="36" {}
            line x1=(percent(share)) y1="24" x2=(percent(share)) y2="36" {}
            text x="1" y="17" { (metres(longest)) }
            svg x="100%" y="0" overflow="visible" {
                path class="arrow" d="M-12 6L-4 38L-12 32L-20 38Z" {}
                text x="-26" y="28" text-anchor="end" { "N" }
            }
        }
    }
}

/// The largest of 1, 2 or 5 times a power of ten that is no more than this.
fn round_below(length_m: f64) -> f64 {
    let decade = 10f64.powi(length_m.max(1e-3).log10().floor() as i32);
    let digit = [5.0, 2.0].into_iter().find(|digit| digit * decade <= length_m).unwrap_or(1.0);
    digit * decade
}

fn metres(length_m: f64) -> String {
    let places = usize::from(length_m < 1.0);
    format!("{length_m:.places$}\u{a0}m")
}

fn legend(slip: &Slip, flagged: bool, thin: bool, moved_m: f64) -> Markup {
    let all_m: f64 = slip.sections.iter().map(|w| w.length_m).sum();
    let share = |class: usize| {
        let inside = slip.sections.iter().filter(|w| class_of(w.slip) == class);
        // From plus zero, so that nothing is not printed as -0.
        100.0 * inside.fold(0.0, |sum, w| sum + w.length_m) / all_m
    };
    html! {
        ul class="legend classes" {
            @for class in 0..CLASSES {
                li {
                    (key(class))
                    span {
                        "slip " (words(class)) ": " (format!("{:.0}", share(class)))
                        "\u{a0}% of the distance"
                    }
                }
            }
        }
        ul class="legend" {
            @if flagged {
                li {
                    svg class="key" width="34" height="20" aria-hidden="true" focusable="false" {
                        rect class="flagged" x="2" y="2" width="30" height="16" {}
                    }
                    span { "warning: see below" }
                }
            }
            @if thin { li { "A thin band: the implement was out of work." } }
            li { "Numbers: slip of the section, in per cent; some are not shown." }
            @if moved_m > 0.0 {
                li {
                    "Passes over the same ground are drawn side by side, moved by up to "
                    (format!("{moved_m:.0}")) "\u{a0}m."
                }
            }
        }
    }
}
