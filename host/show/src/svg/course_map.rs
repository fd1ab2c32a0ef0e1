//! The course with the passes on it, as a drawing of its own for a live screen: the course lies
//! across the sheet, and what is beside it is drawn much wider, since passes differ by decimetres.
//! A pass is told from the others by its number and by the pattern of its line.

use crate::words::under_way as words;
use maud::{Markup, PreEscaped, html};
use std::fmt::Write as _;
use trundle_core::figure::ground::{Ground, PassWay, Place};

/// The sheet, in units of the drawing.
const SHEET: (f64, f64) = (1000.0, 620.0);
/// Where the pegs stand, from the left.
const PEGS: (f64, f64) = (110.0, 890.0);
/// The middle of the course, and how far a way may reach from it.
const MIDDLE: (f64, f64) = (290.0, 200.0);
/// Ways nearer to the line than this are not drawn wider still, metres.
const REACH_LEAST_M: f64 = 0.5;
/// Radius of the disc with a number, and a little.
const DISC: f64 = 30.0;
/// Passes drawn: the newest, so that the numbers can be told apart.
pub const DRAWN: usize = 8;
/// Patterns of lines: long, short, dotted, mixed.
const PATTERNS: [&str; 8] =
    ["none", "30 14", "6 10", "30 10 6 10", "60 14", "14 14", "60 10 6 10", "6 22"];
/// Colours of ground and writing, light and dark; those of the page that shows it.
const OWN: &str = ":root{--ground:#fffefb;--ink:#10140f;--rule:#626a60}\n\
    @media (prefers-color-scheme: dark){:root{--ground:#0f1311;--ink:#f4f3ec;--rule:#8e9a91}}\n\
    @media (forced-colors: active){:root{--ground:Canvas;--ink:CanvasText;--rule:CanvasText}}\n\
    .paper,.disc{fill:var(--ground)}text{fill:var(--ink);font:600 40px system-ui,sans-serif}\
    .line{stroke:var(--rule);stroke-width:3}.peg{fill:var(--ink)}\
    .disc{stroke:var(--ink);stroke-width:3}.out .disc{rx:4}\
    .way{fill:none;stroke:var(--ink);stroke-width:5}.refused .way{stroke-width:2}\
    .north{fill:none;stroke:var(--ink);stroke-width:6}\n";

/// The drawing, and how many times wider it is across the course; `None` where nothing is to be
/// drawn.
#[must_use]
pub fn alone(ground: &Ground) -> Option<(String, f64)> {
    let ways = &ground.ways[ground.ways.len().saturating_sub(DRAWN)..];
    let places = ways.iter().flat_map(|way| &way.places);
    let reach_m = places.map(|at| at.right_m.abs()).fold(REACH_LEAST_M, f64::max);
    let along = (PEGS.1 - PEGS.0) / ground.length_m;
    // Never narrower than it is: a way far off the course makes all of them narrow.
    let across = (MIDDLE.1 / reach_m).max(along);
    if ways.is_empty() || !along.is_finite() {
        return None;
    }
    let units = |at: &Place| {
        let x = (PEGS.0 + along * at.along_m).clamp(20.0, SHEET.0 - 20.0);
        (x, (MIDDLE.0 + across * at.right_m).clamp(20.0, 2.0 * MIDDLE.0))
    };
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox={ "0 0 " (SHEET.0) " " (SHEET.1) } {
            style { (PreEscaped(OWN)) }
            rect class="paper" width=(SHEET.0) height=(SHEET.1) {}
            path class="line" d={ "M" (PEGS.0) " " (MIDDLE.0) "H" (PEGS.1) } {}
            @for x in [PEGS.0, PEGS.1] {
                path class="peg" d={ "M" (x - 9.0) " " (MIDDLE.0 - 40.0) "h18v80h-18z" } {}
            }
            @for way in ways { (drawn(way, ways.len(), units)) }
            text x=(PEGS.0) y=(SHEET.1 - 14.0) text-anchor="middle" { (words::PEG) }
            text x=(SHEET.0 / 2.0) y=(SHEET.1 - 14.0) text-anchor="middle" {
                (format!("{:.0} m", ground.length_m))
            }
            text x=(PEGS.1) y=(SHEET.1 - 14.0) text-anchor="middle" { (words::PEG) }
            (north(ground.bearing_deg))
        }
    };
    Some((drawing.into_string(), across / along))
}

fn drawn(way: &PassWay, of: usize, units: impl Fn(&Place) -> (f64, f64)) -> Markup {
    let mut path = String::new();
    for (n, at) in way.places.iter().enumerate() {
        let (x, y) = units(at);
        let _ = write!(path, "{}{x:.0} {y:.0}", if n == 0 { "M" } else { "L" });
    }
    let pattern = PATTERNS[(way.number as usize).wrapping_sub(1) % PATTERNS.len()];
    // The numbers stand one beside the other, each on its own line.
    let share = (f64::from(way.number) % of as f64 + 1.0) / (of as f64 + 1.0);
    let at = (share * way.places.len() as f64) as usize;
    let (x, y) = way.places.get(at).map_or(PEGS, &units);
    // A pass that led off the sheet has its number at the edge.
    let (x, y) = (x.clamp(DISC, SHEET.0 - DISC), y.clamp(DISC, SHEET.1 - 2.0 * DISC));
    html! {
        g class=(format!("{} {}", way.direction.map_or("", |way| way.word()), way.state)) {
            path class="way" stroke-dasharray=(pattern) d=(path) {}
            rect class="disc" x=(format!("{:.0}", x - 26.0)) y=(format!("{:.0}", y - 26.0))
                width="52" height="52" rx="26" {}
            text x=(format!("{x:.0}")) y=(format!("{:.0}", y + 14.0)) text-anchor="middle" {
                (way.number)
            }
        }
    }
}

/// An arrow to the north; the course leads to the right.
fn north(bearing_deg: f64) -> Markup {
    let turn = format!("rotate({:.0} 60 60)", 90.0 - bearing_deg);
    // The letter is not turned, so that it can be read.
    html! {
        path class="north" d="M60 100V20M40 46L60 20L80 46" transform=(turn) {}
        text x="118" y="74" { "N" }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn ground(passes: u32) -> Ground {
        let way = |number: u32| PassWay {
            number,
            direction: None,
            state: "valid",
            length_m: Some(100.0),
            beside_m: 0.2,
            places: (0..=50)
                .map(|n| Place { along_m: f64::from(2 * n), right_m: f64::from(number) * 0.1 })
                .collect(),
        };
        Ground { length_m: 100.0, bearing_deg: 90.0, ways: (1..=passes).map(way).collect() }
    }

    #[test]
    fn each_pass_has_its_number_and_a_pattern_of_its_own() {
        let (svg, wider) = alone(&ground(6)).unwrap();
        assert_eq!(svg.matches("class=\"way\"").count(), 6);
        for pattern in &PATTERNS[..6] {
            assert_eq!(svg.matches(&format!("stroke-dasharray=\"{pattern}\"")).count(), 1);
        }
        // 0.6 m to the side are 200 units, 100 m along are 780.
        assert!((wider - (200.0 / 0.6) / 7.8).abs() < 0.1, "{wider}");
        // East is to the right: north is straight up, and stays so.
        assert!(svg.contains("rotate(0 60 60)"), "{svg}");
        let (many, _) = alone(&ground(60)).unwrap();
        assert_eq!(many.matches("class=\"way\"").count(), DRAWN);
        assert!(many.contains(">60</text>") && many.len() < 20_000, "{}", many.len());
        assert_eq!(alone(&ground(0)), None);
    }
}
