//! Slip by pass and turn, and by place.

use super::super::page::section;
use super::super::page::table::{numbers, table, words};
use super::percent;
use crate::phrases::plain::sentence_case;
use maud::{Markup, html};
use trundle_core::survey::slip::Slip;
use trundle_core::units::rfc3339;

/// Most places listed; the files hold every section.
const PLACES_MOST: usize = 24;

/// The section with a row for each pass and turn.
pub fn parts(slip: &Slip) -> Markup {
    let columns = [
        words(["Part", "Kind", "Begin, UTC"]),
        numbers(["Heading, °", "Metres", "Sections", "Slip, 95 %"]),
    ]
    .concat();
    let rows: Vec<Vec<Markup>> = slip
        .parts
        .iter()
        .map(|part| {
            // Tenths and the letter of the zone say nothing to a reader here.
            let begin: String = rfc3339(part.utc_ns.0).chars().take(19).collect();
            vec![
                html! { (part.number) },
                html! { (sentence_case(part.kind.word())) },
                html! { (begin.replace('T', " ")) },
                html! { (format!("{:.0}", part.heading_deg)) },
                html! { (format!("{:.1}", part.total.distance_m)) },
                html! { (part.total.sections) },
                html! { (percent(&part.total)) },
            ]
        })
        .collect();
    let caption = html! {
        "In order of time. Slip is added up by distance, never averaged over sections; the \
         heading "
        "is that of the first section."
    };
    section("passes", "Passes and turns", &table("stack", &caption, &columns, &rows))
}

/// The section with a row for each square of ground, the most slip first.
pub fn places(slip: &Slip) -> Markup {
    let mut places: Vec<_> = slip.places.iter().collect();
    places.sort_by(|a, b| b.total.slip.total_cmp(&a.total.slip));
    let listed = places.len().min(PLACES_MOST);
    let columns =
        [words(["Middle of the square"]), numbers(["Slip, 95 %", "Metres", "Sections"])].concat();
    let rows: Vec<Vec<Markup>> = places
        .iter()
        .take(listed)
        .map(|place| {
            let (lat_deg, lon_deg) = place.lat_lon_deg;
            vec![
                html! { (format!("{lat_deg:.5}°, {lon_deg:.5}°").replace('-', "\u{2212}")) },
                html! { (percent(&place.total)) },
                html! { (format!("{:.1}", place.total.distance_m)) },
                html! { (place.total.sections) },
            ]
        })
        .collect();
    let side_m = slip.places.first().map_or(0.0, |place| place.side_m);
    let caption = html! {
        "Squares of " (format!("{side_m:.0}")) "\u{a0}m, the most slip first: latitude and "
        "longitude, WGS\u{a0}84. Each holds the sections whose middle lies in it."
        @if listed < places.len() {
            " The first " (listed) " of " (places.len()) "; the files have every section."
        }
    };
    section("places", "By place", &table("stack places", &caption, &columns, &rows))
}
