//! The history of a rig as a page for browser and paper.

use super::page::table::{numbers, table, words};
use super::page::{Page, cautions, document, drawn, header, refused, section};
use crate::phrases::plain::line;
use crate::svg::history::draw;
use crate::svg::legend_shape;
use crate::text::history::{cells, half_width, trend_words};
use maud::{Markup, html};
use trundle_core::history::{History, HistoryRefusal, causes, sentence};
use trundle_core::result::history_v1::HistoryFacts;

/// The whole page, ending with a line end.
#[must_use]
pub fn page(history: &Result<History, HistoryRefusal>, facts: &HistoryFacts) -> String {
    let about = html! {
        div { dt { "Rig" } dd { bdi { (line(&facts.rig)) } } }
        div { dt { "Sensor" } dd { bdi { (line(&facts.channel)) } } }
    };
    let main = html! {
        @match history {
            Ok(history) => (given(history, facts)),
            Err(why) => (refused("Has it changed?", why, why.means(), why.next())),
        }
        (cautions())
        (method())
    };
    document(&Page {
        title: "History of a calibration value",
        digest: "",
        style: "",
        practice: facts.practice.then_some("act on none of it"),
        header: header("History of a calibration value", &about),
        main,
    })
}

fn given(history: &History, facts: &HistoryFacts) -> Markup {
    let answer = html! {
        p { strong { (sentence(history)) } }
        @if let Some(causes) = causes(history, &facts.channel) { p { (causes) } }
        p { (history.verdict.next()) }
        p { (trend_words(history)) }
    };
    html! {
        (section("answer", "Has it changed?", &answer))
        (section("chart", "Chart of the values", &chart(history)))
        (section("records", "Record by record", &records(history)))
    }
}

fn chart(history: &History) -> Markup {
    let description = "One mark for each record, over its day, with its 95 % interval, and the \
                       line through those in use. The table below has the same values.";
    let below = html! {
        ul class="legend" {
            li { (legend_shape(false)) "record, with its 95\u{a0}% interval" }
            li { (legend_shape(true)) "amended record, not used" }
        }
        p { "Line: the trend, full where it is significant, else broken." }
    };
    let drawing = draw(history, "Calibration value over time", description);
    drawn(drawing, &below, "There is nothing to draw.")
}

fn records(history: &History) -> Markup {
    let columns = [
        words(["Day"]),
        numbers(["Value", "±", "Since last", "En", "Against mean", "En of that"]),
        words(["Record"]),
    ]
    .concat();
    let rows: Vec<Vec<Markup>> = history
        .steps
        .iter()
        .map(|step| {
            let point = &step.point;
            let (previous, previous_en) = cells(step.previous);
            let (mean, mean_en) = cells(step.mean);
            let figures = [
                point.day.to_string(),
                format!("{:.1}", point.figure),
                format!("{:.1}", half_width(point)),
            ];
            let changes = [previous, previous_en, mean, mean_en];
            let changes = changes.map(|cell| shown(&cell));
            let mut row: Vec<Markup> =
                figures.into_iter().chain(changes).map(|cell| html! { (cell) }).collect();
            row.push(html! {
                bdi { (line(&point.record)) }
                @if point.amended { ", amended: not used" }
            });
            row
        })
        .collect();
    let caption = html! {
        "Impulses per 100 m; ± is 95\u{a0}%. En is the difference over its expanded uncertainty: "
        "above 1, marked !, it is significant."
    };
    table("stack", &caption, &columns, &rows)
}

/// As set on paper: a true minus, a dash for none.
fn shown(cell: &str) -> String {
    if cell == "-" { "–".to_owned() } else { cell.replace('-', "\u{2212}") }
}

fn method() -> Markup {
    let body = html! {
        p {
            strong { "Differences: " }
            "each record against the one before and against the weighted mean of all before, which "
            "has a larger uncertainty where those disagree. The error of the same tape is "
            "the same in all records and cancels out."
        }
        p {
            strong { "En: " }
            "normalised error (ISO 13528; ISO/IEC 17043:2010, B.3)."
        }
        p {
            strong { "Trend: " }
            "weighted least squares; its interval is enlarged where the records scatter about the "
            "line by more than their uncertainties."
        }
    };
    section("method", "How it was calculated", &body)
}
