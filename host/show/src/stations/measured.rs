//! Results of the stations at which something is measured, in the order of the reader's questions:
//! the answer large, what is wrong, what it comes from. The sentences are those of the terminal.

mod antenna;
mod proof;
mod slip;
mod speeds;

pub use antenna::antenna;
pub use proof::proof;
pub use slip::slip;
pub use speeds::speeds;

use super::Markup;
use crate::live::page::filled::check_rows;
use crate::live::page::listed::{CheckRow, bus_row, check_row, pto_row};
use crate::phrases::plain::line;
use crate::text::{bench as bench_text, bus as bus_text, check as check_text, pto as pto_text};
use crate::words::stations_measured as words;
use maud::html;
use trundle_core::survey::bench::Bench;
use trundle_core::survey::bus::{BusSurvey, KeyedIn};
use trundle_core::survey::pto::Pto;
use trundle_core::survey::sensors::check::{Check, Mark};

/// How an answer came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Came {
    /// It can be relied on.
    Good,
    /// Something is wrong.
    Bad,
    /// Not clear yet.
    Open,
}

/// The answer large, with a sign beside, and what belongs to it.
fn verdict(came: Came, said: &[String]) -> Markup {
    let (sign, class) = match came {
        Came::Good => (words::SIGN_GOOD, "good"),
        Came::Bad => (words::SIGN_BAD, "bad"),
        Came::Open => (words::SIGN_MISSING, "open"),
    };
    html! {
        section class={ "verdict " (class) } {
            h2 { (words::RESULT) }
            @if let Some((first, rest)) = said.split_first() {
                @let (large, more) = first.split_at(first.find(" (").unwrap_or(first.len()));
                p .verdict-words {
                    span .verdict-sign aria-hidden="true" { (sign) " " }
                    (line(large))
                }
                @if !more.is_empty() { p { (line(more.trim_start())) } }
                @for words in rest { p { (line(words)) } }
            }
        }
    }
}

/// Each thing that was looked at, with how it stands.
fn rows(heading: &str, rows: &[CheckRow]) -> Markup {
    html! {
        section {
            h2 { (heading) }
            ul .passes .checks { (check_rows(rows)) }
        }
    }
}

/// A capture that gives no result: why, what it means, what to do.
fn none(why: &str, means: &str, next: &str) -> Markup {
    let why = words::sentence(why);
    verdict(Came::Bad, &[words::NO_RESULT.to_owned(), why, means.to_owned(), next.to_owned()])
}

/// A check on the tractor.
#[must_use]
pub fn check(check: &Check) -> Markup {
    let came = came(check.passes(), check.with(Mark::Fail).next().is_some());
    let lines: Vec<CheckRow> = check.lines.iter().map(check_row).collect();
    html! { (verdict(came, &check_text::head(check))) (rows(words::LINES, &worst_first(lines))) }
}

/// A check on the bench.
#[must_use]
pub fn bench(bench: &Bench) -> Markup {
    let came = came(bench.passes(), bench.with(Mark::Fail).next().is_some());
    let lines: Vec<CheckRow> = bench.lines.iter().map(check_row).collect();
    html! { (verdict(came, &bench_text::head(bench))) (rows(words::LINES, &worst_first(lines))) }
}

const fn came(passes: bool, failed: bool) -> Came {
    match (passes, failed) {
        (true, _) => Came::Good,
        (false, true) => Came::Bad,
        (false, false) => Came::Open,
    }
}

/// What is wrong first, then what is missing; each in the order of the work.
fn worst_first(mut rows: Vec<CheckRow>) -> Vec<CheckRow> {
    rows.sort_by_key(|row| (!row.beware, row.done));
    rows
}

/// Impulses per revolution of the shaft.
#[must_use]
pub fn pto(pto: &Pto) -> Markup {
    let came = match &pto.found {
        Ok(found) if found.to_enter().is_some() => Came::Good,
        Ok(_) => Came::Open,
        Err(_) => Came::Bad,
    };
    let readings: Vec<CheckRow> =
        pto.readings.iter().enumerate().map(|(n, reading)| pto_row(n + 1, reading)).collect();
    html! {
        (verdict(came, &pto_text::answers(pto)))
        @if !readings.is_empty() { (rows(words::READINGS, &readings)) }
    }
}

/// The speeds on the implement bus.
#[must_use]
pub fn bus(survey: Option<&BusSurvey>, keyed: &KeyedIn) -> Markup {
    let Some(survey) = survey else {
        let [why, next] = bus_text::NOTHING;
        return verdict(Came::Bad, &[why.to_owned(), next.to_owned()]);
    };
    let streams: Vec<CheckRow> =
        survey.streams.iter().map(|stream| bus_row(stream, keyed)).collect();
    let came = if streams.iter().any(|row| row.done) { Came::Good } else { Came::Open };
    html! {
        (verdict(came, &[words::sentence(&bus_text::handed_on(survey))]))
        (rows(words::LINES, &streams))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::page::listed::How;

    #[test]
    fn what_is_wrong_stands_first_and_is_read_without_colour() {
        let row = |how, label: &str| CheckRow::new(how, "state", label, "<b>".to_owned(), "do");
        let sorted = worst_first(vec![
            row(How::Good, "a"),
            row(How::Missing, "b"),
            row(How::Bad, "c"),
            row(How::Bad, "d"),
        ]);
        let order: Vec<&str> = sorted.iter().map(|row| row.label.as_str()).collect();
        assert_eq!(order, ["c", "d", "b", "a"]);
        let page = rows("Line by line", &sorted).into_string();
        assert!(page.contains("\u{2715}") && page.contains("c: state"), "{page}");
        assert!(!page.contains("<b>"), "{page}");
    }
}
