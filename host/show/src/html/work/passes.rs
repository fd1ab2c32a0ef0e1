//! The passes, drawn and listed: those in the value, those rejected, and why.

use super::table::{numbers, table as draw_table, words};
use super::{drawn, section};
use crate::phrases::plain::{fixed, line, sentence_case};
use crate::phrases::result::{Sensors, days, instant, named, reason, satellite_m};
use crate::svg::{
    Caption, Interval, PassChart, PassRow, Residual, Series, Summary, legend_mark, residual_chart,
};
use maud::{Markup, html};
use trundle_core::result::work_v1::{ChannelV1, FigureV1, PassV1, WorkV1};

/// The section on the passes, as these sensors counted them.
pub fn passes(work: &WorkV1, sensors: &Sensors<'_>) -> Markup {
    let body = html! {
        @if work.passes.is_empty() {
            p { "No pass was recorded." }
        } @else {
            @for (at, (name, channel)) in sensors.iter().enumerate() {
                @if sensors.len() > 1 { h3 { (sentence_case(&line(name))) } }
                (chart(at, name, channel))
                (residuals(at, channel))
            }
            (driven(work))
            @for (name, channel) in sensors { (counted(work, name, channel)) }
            p class="quiet" {
                "Every pass driven is listed. A rejected pass has its reason beside "
                "it: a rule of the method, or the operator's own words."
            }
        }
    };
    section("passes", "The passes", &body)
}

fn figures(channel: &ChannelV1) -> Vec<(Series, &FigureV1)> {
    let series = [Series::Tape, Series::Satellite, Series::Combined].into_iter();
    series.zip(channel.sides()).filter_map(|(series, (_, side))| Some((series, side?))).collect()
}

fn chart(at: usize, name: &str, channel: &ChannelV1) -> Markup {
    let figures = figures(channel);
    let used = channel.passes.iter().filter(|pass| pass.used()).count();
    let mut description = match used {
        1 => "1 pass is in the values.".to_owned(),
        n => format!("{n} passes are in the values."),
    };
    for (series, figure) in &figures {
        let (value, half) = (figure.impulses_per_100m, figure.expanded_uncertainty);
        let word = series.word();
        description.push_str(&format!(" The {word} value is {value:.1} ± {half:.1}."));
    }
    description.push_str(" The table that follows has the values of each pass.");
    let title = format!("Impulses per 100 m of each pass, {}", line(name));
    let said = Caption { id: &format!("chart-{at}"), title: &title, description: &description };
    let chart = PassChart {
        rows: channel.passes.iter().map(row).collect(),
        summaries: figures
            .iter()
            .map(|&(series, figure)| {
                let (value, half) = (figure.impulses_per_100m, figure.expanded_uncertainty);
                Summary { series, interval: Interval { value, half } }
            })
            .collect(),
    };
    let below = html! {
        ul class="legend" {
            @for (series, _) in &figures {
                li { (legend_mark(*series)) span { (meaning(*series)) } }
            }
            li { "Values below the rule and the band: expanded uncertainty." }
        }
    };
    drawn(chart.draw(said), &below, "")
}

const fn meaning(series: Series) -> &'static str {
    match series {
        Series::Tape => "by tape",
        Series::Satellite => {
            "by satellite; a pass with twice the standard uncertainty of its length"
        }
        Series::Combined => "combined: the line through all rows",
    }
}

fn row(pass: &PassV1) -> PassRow {
    let counts = pass.used();
    PassRow {
        label: named(pass),
        tape: pass.by_tape().filter(|_| counts),
        satellite: satellite(pass).filter(|_| counts),
    }
}

/// The value of one pass by satellite; its interval is that of the length.
fn satellite(pass: &PassV1) -> Option<Interval> {
    let value = pass.by_satellite()?;
    let (length_m, half_m) = satellite_m(pass)?;
    Some(Interval { value, half: (value * half_m / length_m).abs() })
}

/// What each pass leaves over the value of its own way.
fn residuals(at: usize, channel: &ChannelV1) -> Markup {
    let chart = |(series, figure): (Series, &FigureV1)| {
        let value: fn(&PassV1) -> Option<f64> = match series {
            Series::Tape => PassV1::by_tape,
            Series::Satellite => PassV1::by_satellite,
            Series::Combined => return None,
        };
        let over = |pass: &PassV1| {
            let over = value(pass)? - figure.impulses_per_100m;
            Some(Residual { number: pass.number, over })
        };
        let word = series.word();
        let points: Vec<Residual> =
            channel.passes.iter().filter(|pass| pass.used()).filter_map(over).collect();
        let said = Caption {
            id: &format!("residuals-{at}-{word}"),
            title: &format!("Residual of each pass from the value by {word}"),
            description: "One mark for each pass in the value, in the order of driving, on a \
                          scale in impulses per 100 m. Without a trend they lie on both sides of \
                          zero in no order.",
        };
        residual_chart(said, series, &points)
    };
    let charts: Vec<Markup> = figures(channel).into_iter().filter_map(chart).collect();
    html! {
        @for (at, chart) in charts.iter().enumerate() {
            figure class="drawing residuals" {
                (chart)
                @if at + 1 == charts.len() {
                    figcaption {
                        "Residuals: each pass less the value of its own method, in the order of "
                        "driving. A trend, or a step between out and back, would show here."
                    }
                }
            }
        }
    }
}

/// What is the same for all sensors: when, how long, how far, with what state.
fn driven(work: &WorkV1) -> Markup {
    let columns = [
        words(["Pass", "Start, UTC"]),
        numbers(["Time, s"]),
        words(["Marks"]),
        numbers(["By satellite, m"]),
        words(["Fixes", "State"]),
    ]
    .concat();
    let days = days(&work.passes);
    let rows: Vec<Vec<Markup>> =
        work.passes.iter().map(|pass| driven_row(pass, days.as_deref())).collect();
    let caption = html! {
        "Each pass from mark to mark"
        @if let Some(days) = &days { ", " (days) }
        ". Satellite lengths with twice their standard uncertainty."
        @if let Some(course) = work.course {
            " By tape every pass is " (format!("{:.3}", course.length_m)) "\u{a0}m."
        }
    };
    draw_table("stack passes", &caption, &columns, &rows)
}

fn driven_row(pass: &PassV1, days: Option<&str>) -> Vec<Markup> {
    let dash = || "–".to_owned();
    let start = pass.start_utc.as_deref().map_or_else(dash, instant);
    // On a single day, which the caption names, the time alone says it all.
    let alone = days.and_then(|day| start.strip_prefix(day)).map(str::trim_start);
    let marks = pass.standing.map_or("–", |still| if still { "standstill" } else { "moving" });
    let length = satellite_m(pass)
        .map_or_else(dash, |(length_m, half_m)| format!("{length_m:.3}\u{a0}±\u{a0}{half_m:.3}"));
    let fixes = pass.fix_quality.as_ref().map_or_else(dash, |[from, to]| {
        if from == to { line(from) } else { format!("{}, then {}", line(from), line(to)) }
    });
    vec![
        html! { (named(pass)) },
        html! { (alone.unwrap_or(&start)) },
        html! { (fixed(pass.duration_s, 1)) },
        html! { (marks) },
        html! { (length) },
        html! { (fixes) },
        state(&pass.state),
    ]
}

/// A state by word and mark.
fn state(word: &str) -> Markup {
    let (class, mark) = match word {
        "valid" => ("state", ""),
        "flagged" => ("state flagged", "▲ "),
        _ => ("state refused", "✕ "),
    };
    html! { span class=(class) { span aria-hidden="true" { (mark) } (line(word)) } }
}

/// What one sensor counted.
fn counted(work: &WorkV1, name: &str, channel: &ChannelV1) -> Markup {
    let columns = [
        words(["Pass"]),
        numbers(["Impulses", "Per 100 m, tape", "Per 100 m, satellite"]),
        words(["Use"]),
    ]
    .concat();
    let row = |pass: &PassV1| {
        // A count with a fraction was read between two edges; a whole one at rest.
        let places = usize::from(pass.impulses.is_some_and(|count| count.fract().abs() > 1e-9));
        let counts = pass.used();
        let satellite = satellite(pass).filter(|_| counts);
        vec![
            html! { (named(pass)) },
            html! { (fixed(pass.impulses, places)) },
            html! { (fixed(pass.by_tape().filter(|_| counts), 1)) },
            html! {
                (fixed(satellite.map(|s| s.value), 1))
                @if let Some(s) = satellite { "\u{a0}±\u{a0}" (fixed(Some(s.half), 1)) }
            },
            html! { (reason(work, name, pass)) },
        ]
    };
    let rows: Vec<Vec<Markup>> = channel.passes.iter().map(row).collect();
    let caption = html! {
        "Impulses of the " (line(name)) " between the marks, and what they make per 100 m by tape "
        "and by satellite."
    };
    draw_table("stack counted", &caption, &columns, &rows)
}
