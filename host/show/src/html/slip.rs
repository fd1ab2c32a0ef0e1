//! Slip as one page for browser and paper.
//!
//! In the order of the reader's questions: how much, where, how often too much, which pass, how is
//! it shared out, on what does it rest, did the change help. See `page.rs` for what keeps the page
//! harmless. Same input, same bytes.

mod foundation;
pub use foundation::MEANINGS;
mod tables;

use super::page::{
    Page, again, capture_facts, cautions, document, drawn, header, refused as no_result, section,
};
use super::work::Facts;
use crate::phrases::slip::FACTOR;
use crate::svg::slip_charts::{along, histogram};
use crate::svg::{Caption, bar, slip_classes, slip_map};
use maud::{Markup, html};
use trundle_core::stats::budget::rounding::round_pair;
use trundle_core::survey::slip::compare::Difference;
use trundle_core::survey::slip::{Section, Slip, SlipRefusal, Total};
use trundle_core::units::decimals;

/// Style sheet of maps and charts of slip, beside the common one.
pub const STYLE: &str = include_str!("slip.css");

/// The whole page, ending with a line end; `compared`: name of an earlier capture, and what
/// changed since.
#[must_use]
pub fn page(slip: &Slip, facts: &Facts, compared: Option<&(String, Difference)>) -> String {
    let main = html! {
        (answer(slip))
        (map(slip))
        (above(slip))
        (tables::parts(slip))
        (shared_out(slip))
        (along_the_way(slip))
        (tables::places(slip))
        (foundation::flags(slip))
        (foundation::rests_on(slip))
        @if let Some((name, difference)) = compared {
            (foundation::comparison(name, difference))
        }
    };
    let about = html! {
        div { dt { "Driven" } dd { (metres(slip.totals.all.distance_m)) } }
        div { dt { "Sections" } dd { (slip.sections.len()) } }
    };
    let style = format!("{STYLE}{}{}", slip_classes::style(), slip_classes::rules().0);
    whole(&percent(&slip.totals.all), &about, &main, &style, facts)
}

/// The page of a log that gives no slip, with the reason.
#[must_use]
pub fn refused(why: &SlipRefusal, facts: &Facts) -> String {
    let main = no_result("How much slip", why, why.means(), why.next());
    whole("none", &html! {}, &main, "", facts)
}

fn whole(title: &str, about: &Markup, main: &Markup, style: &str, facts: &Facts) -> String {
    let (name, digest) = (&facts.capture_name, &facts.capture_digest);
    let about = html! { (about) (capture_facts(&facts.started_utc, name)) };
    document(&Page {
        title: &format!("Slip along the drive: {title}"),
        digest,
        style,
        practice: facts.practice.then_some("act on none of it"),
        header: header("Slip along the drive", &about),
        main: html! {
            (main)
            (cautions())
            (again("zero-slip value and the same antenna position", name, digest,
                &facts.software))
        },
    })
}

fn metres(length_m: f64) -> String {
    format!("{length_m:.0}\u{a0}m")
}

/// A part of one in per cent, to the last place of its 95 % interval.
fn with_uncertainty(value: f64, half: f64) -> (String, String) {
    // More than a hundredth of a per cent says nothing about soil.
    let half = (100.0 * half).max(0.01);
    let rounded = round_pair(100.0 * value, half);
    let places = usize::try_from(rounded.decimals.clamp(0, 2)).unwrap_or(0);
    let value = decimals(rounded.value, places).replace('-', "\u{2212}");
    (value, format!("{:.places$}", rounded.uncertainty))
}

/// A total in words: value and 95 % interval.
fn percent(total: &Total) -> String {
    let (value, half) = with_uncertainty(total.slip, FACTOR * total.standard_uncertainty);
    format!("{value} ± {half}\u{a0}%")
}

/// A total with its 95 % interval, for a station.
pub(crate) fn total_words(total: &Total) -> String {
    percent(total)
}

/// What changed since an earlier capture of that name, for a station.
pub(crate) fn compared(name: &str, difference: &Difference) -> Markup {
    foundation::compared(name, difference)
}

fn answer(slip: &Slip) -> Markup {
    let all = &slip.totals.all;
    let (value, half) = with_uncertainty(all.slip, FACTOR * all.standard_uncertainty);
    let flagged = slip.sections.iter().filter(|w| !w.flags.is_empty()).count();
    let parts = [
        ("On passes", slip.totals.passes),
        ("In turns", slip.totals.turns),
        ("In work", slip.totals.in_work),
    ];
    let body = html! {
        div class="answers" {
            div class="answer" {
                p class="number" { (value) "\u{a0}%" }
                p class="unit" { "slip over " (metres(all.distance_m)) }
                p class="good" {
                    "Uncertainty " strong { "±" (half) "\u{a0}%" }
                    " of travel (95 %)."
                }
                dl class="trace totals" {
                    @for (name, total) in parts {
                        @if let Some(total) = total {
                            div {
                                dt { (name) }
                                dd { (percent(&total)) " over " (metres(total.distance_m)) }
                            }
                        }
                    }
                }
                @if flagged > 0 {
                    p {
                        (flagged) " of " (slip.sections.len())
                        " sections have a warning: see below."
                    }
                }
            }
        }
    };
    section("answer", "How much slip", &body)
}

fn extremes(sections: &[Section]) -> (f64, f64) {
    sections.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), w| {
        (low.min(100.0 * w.slip), high.max(100.0 * w.slip))
    })
}

fn map(slip: &Slip) -> Markup {
    let (low, high) = extremes(&slip.sections);
    let description = format!(
        "The drive as bands on the ground, north up. Slip in total is {}; in single sections it \
         is from {} to {} %. The tables that follow have the same sections, added up \
         by pass and by place.",
        percent(&slip.totals.all),
        decimals(low, 0),
        decimals(high, 0)
    );
    let body = html! {
        @if let Some(drawing) = slip_map::draw(slip, "Map of slip", &description) { (drawing) }
        @else { p { "No section has positions to draw." } }
    };
    section("map", "Where", &body)
}

fn above(slip: &Slip) -> Markup {
    let all_m = slip.totals.all.distance_m;
    let body = html! {
        @if slip.share_above.is_empty() {
            p { "No threshold was given." }
        } @else {
            ol class="bars" {
                @for above in &slip.share_above {
                    @let share = above.share_of_distance;
                    li {
                        span class="bar-name" {
                            "With more than " (decimals(100.0 * above.slip, 1)
                                .trim_end_matches(".0")) "\u{a0}% slip"
                        }
                        span class="bar-value" {
                            (format!("{:.0}", 100.0 * share)) "\u{a0}% of the distance, "
                            (metres(share * all_m))
                        }
                        (bar(share))
                    }
                }
            }
        }
    };
    section("above", "% of distance with too much slip", &body)
}

fn shared_out(slip: &Slip) -> Markup {
    let (low, high) = extremes(&slip.sections);
    let description = format!(
        "How much of the distance was driven with how much slip: from {} to {} %. The % \
         of distance of each class is under the map.",
        decimals(low, 0),
        decimals(high, 0)
    );
    let said =
        Caption { id: "histogram", title: "% of distance by slip", description: &description };
    let below = html! {
        "Each section counts by its length. Colour and hatching as on the map; broken lines: the "
        "thresholds."
    };
    section("shares", "Distribution of slip", &drawn(histogram(slip, said), &below, ""))
}

fn along_the_way(slip: &Slip) -> Markup {
    let description = format!(
        "Slip of {} sections in order of time, each with its 95 % interval. The files that go \
         with this page have the values.",
        slip.sections.len()
    );
    let said = Caption { id: "along", title: "Slip along the drive", description: &description };
    let below = html! {
        "A step is a section, the band around it its 95 % interval, cut off at ±5\u{a0}%. Broken "
        "lines: the thresholds. Thick on the axis: turns."
    };
    section("way", "As it was driven", &drawn(along(slip, FACTOR, said), &below, ""))
}
