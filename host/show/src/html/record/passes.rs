//! The passes, drawn and listed: those in the figure, those left out, and why.

use super::super::page::section;
use super::super::page::table::{numbers, table as draw_table, words};
use super::super::page::words::{fixed, line};
use crate::paper::{Sheet, instant, used};
use crate::svg::{self, Interval, PassChart, PassRow, Residual, ResidualChart, Series, Summary};
use maud::{Markup, html};
use trundle_core::result::work_read::{FigureRead, PassRead};

/// Coverage factor of the interval of a single pass by satellite.
const PASS_K: f64 = 2.0;

/// The section on the passes.
pub fn section_of(sheet: &Sheet<'_>) -> Markup {
    let body = html! {
        @if sheet.passes().is_empty() {
            p { "No pass stands in the result." }
        } @else {
            (chart(sheet))
            (residuals(sheet))
            (table(sheet))
            p class="quiet" {
                "Every pass that was driven is listed. A pass is left out by the rules of the "
                "method alone, never by choice; the reason stands beside it."
            }
        }
    };
    section("passes", "The passes", &body)
}

fn figures(sheet: &Sheet<'_>) -> Vec<(Series, FigureRead)> {
    let Some(channel) = sheet.channel() else { return Vec::new() };
    [
        (Series::Tape, channel.tape),
        (Series::Satellite, channel.satellite),
        (Series::Combined, channel.combined),
    ]
    .into_iter()
    .filter_map(|(series, figure)| Some((series, figure?)))
    .collect()
}

fn chart(sheet: &Sheet<'_>) -> Markup {
    let figures = figures(sheet);
    let summary = |&(series, figure): &(Series, FigureRead)| Summary {
        series,
        interval: Interval { value: figure.impulses_per_100m, half: figure.expanded_uncertainty },
    };
    let has = |series: Series| figures.iter().any(|(one, _)| *one == series);
    let chart = PassChart {
        id: "passes-chart".to_owned(),
        title: format!("Impulses per 100 m of each pass, {}", sheet.sensor()),
        description: "One row for each pass, and below them the figures with their expanded \
                      uncertainties. The values stand in the table that follows."
            .to_owned(),
        rows: sheet.passes().iter().map(row).collect(),
        summaries: figures.iter().map(summary).collect(),
    };
    html! {
        @if let Some(drawing) = chart.draw() {
            figure class="drawing" {
                (drawing)
                figcaption {
                    ul class="legend" {
                        @if has(Series::Tape) {
                            li { (svg::legend_mark(Series::Tape)) span { "by tape" } }
                        }
                        @if has(Series::Satellite) {
                            li {
                                (svg::legend_mark(Series::Satellite))
                                span { "by satellite, with twice the standard uncertainty of the \
                                        pass's length" }
                            }
                        }
                        @if has(Series::Combined) {
                            li { (svg::legend_mark(Series::Combined)) span { "combined" } }
                        }
                        li { "Below the rule and the band: expanded uncertainty." }
                    }
                }
            }
        }
    }
}

fn row(pass: &PassRead) -> PassRow {
    let way = pass.direction.as_deref().map_or_else(String::new, |way| format!(" {}", line(way)));
    let counts = used(pass);
    PassRow {
        label: format!("{}{way}", pass.number),
        tape: pass.by_tape().filter(|_| counts),
        satellite: satellite(pass).filter(|_| counts),
    }
}

/// The figure of one pass by satellite; its interval is that of the length.
fn satellite(pass: &PassRead) -> Option<Interval> {
    let value = pass.by_satellite()?;
    let half = PASS_K * value * pass.satellite_standard_uncertainty_m? / pass.satellite_m?;
    Some(Interval { value, half: half.abs() })
}

/// What each pass leaves over the figure of its own way.
fn residuals(sheet: &Sheet<'_>) -> Markup {
    let in_figure = || sheet.passes().iter().filter(|pass| used(pass));
    let charts = figures(sheet).into_iter().filter_map(|(series, figure)| {
        let value: fn(&PassRead) -> Option<f64> = match series {
            Series::Tape => PassRead::by_tape,
            Series::Satellite => PassRead::by_satellite,
            Series::Combined => return None,
        };
        let over = |pass: &PassRead| {
            let over = value(pass)? - figure.impulses_per_100m;
            Some(Residual { number: pass.number, over })
        };
        let word = series.word();
        ResidualChart {
            id: format!("residuals-{word}"),
            title: format!("What each pass leaves over the figure by {word}"),
            description: "One mark for each pass in the figure, in the order of driving, on a \
                          scale in impulses per 100 m. Without a trend they lie on both sides of \
                          zero in no order."
                .to_owned(),
            series,
            points: in_figure().filter_map(over).collect(),
        }
        .draw()
    });
    let charts: Vec<Markup> = charts.collect();
    html! {
        @if !charts.is_empty() {
            @for (at, chart) in charts.iter().enumerate() {
                figure class="drawing residuals" {
                    (chart)
                    @if at + 1 == charts.len() {
                        figcaption {
                            "Residuals: each pass less the figure of its own way, in the order "
                            "of driving. A trend, or a step between out and back, would show here."
                        }
                    }
                }
            }
        }
    }
}

fn table(sheet: &Sheet<'_>) -> Markup {
    let columns = [
        words("Pass"),
        words("Start, UTC"),
        numbers("Time, s"),
        words("Marks"),
        numbers("Impulses"),
        numbers("By satellite, m"),
        words("Fixes"),
        numbers("Per 100 m, tape"),
        numbers("Per 100 m, satellite"),
        words("Use"),
    ];
    let rows: Vec<Vec<Markup>> = sheet.passes().iter().map(|pass| table_row(sheet, pass)).collect();
    let caption = html! {
        "Each pass from mark to mark, " (sheet.measured_on()) ", as the " (sheet.sensor())
        " sensor saw it. Satellite lengths with twice their standard uncertainty."
        @if let Some(course) = sheet.work.course {
            " By tape every pass is " (format!("{:.3}", course.length_m)) "\u{a0}m, standard "
            "uncertainty " (format!("{:.1}", 1000.0 * course.standard_uncertainty_m)) "\u{a0}mm."
        }
    };
    draw_table("stack record-passes", &caption, &columns, &rows)
}

fn table_row(sheet: &Sheet<'_>, pass: &PassRead) -> Vec<Markup> {
    let dash = || "–".to_owned();
    let way = pass.direction.as_deref().map_or_else(String::new, |way| format!(" {}", line(way)));
    let length = pass.satellite_m.zip(pass.satellite_standard_uncertainty_m);
    let length = length.map_or_else(dash, |(length_m, u_m)| {
        format!("{length_m:.3}\u{a0}±\u{a0}{:.3}", PASS_K * u_m)
    });
    let fixes = pass.fix_quality.as_ref().map_or_else(dash, |[from, to]| {
        if from == to { line(from) } else { format!("{}, then {}", line(from), line(to)) }
    });
    let marks =
        pass.standing.map_or("–", |at_rest| if at_rest { "at\u{a0}rest" } else { "moving" });
    // A count with a fraction was read between two edges; a whole one at rest.
    let whole = pass.impulses.is_none_or(|count| count.fract().abs() < 1e-9);
    let mark = match pass.state.as_str() {
        "valid" => "",
        "flagged" => "▲ ",
        _ => "✕ ",
    };
    let start = pass.start_utc.as_deref().map_or_else(dash, instant);
    // On a single day, which the caption names, the time alone says it all.
    let start = match start.strip_prefix(&format!("{} ", sheet.measured_on())) {
        Some(time) => time.to_owned(),
        None => start,
    };
    vec![
        html! { (pass.number) (way) },
        html! { (start) },
        html! { (fixed(pass.duration_s, 1)) },
        html! { (marks) },
        html! { (fixed(pass.impulses, usize::from(!whole))) },
        html! { (length) },
        html! { (fixes) },
        html! { (fixed(pass.by_tape().filter(|_| used(pass)), 1)) },
        html! { (fixed(pass.by_satellite().filter(|_| used(pass)), 1)) },
        html! { span aria-hidden="true" { (mark) } (sheet.reason(pass)) },
    ]
}
