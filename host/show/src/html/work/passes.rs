//! The passes, drawn and listed.

use super::table::{Column, numbers, table as draw_table, words};
use super::words::fixed;
use super::{channel_heading, section};
use crate::svg::{self, Interval, PassChart, PassRow, Series, Summary};
use maud::{Markup, html};
use trundle_core::figure::{COVERAGE, ChannelFigures, PassLine, PassSummary, Work};
use trundle_core::passes::pass::quality_words;
use trundle_core::stats::budget::{Quantity, cover};
use trundle_core::units::rfc3339;

/// Coverage factor of the interval of a single pass by satellite.
const PASS_K: f64 = 2.0;

/// The section with a chart for each channel.
pub fn chart(work: &Work) -> Markup {
    let body = html! {
        @for channel in &work.channels { (channel_chart(work, channel)) }
    };
    section("chart", "The passes, drawn", &body)
}

fn channel_chart(work: &Work, channel: &ChannelFigures) -> Markup {
    let summaries: Vec<Summary> = figures(channel)
        .into_iter()
        .map(|(series, quantity)| {
            let half = cover(quantity, &channel.sources, COVERAGE).expanded_uncertainty;
            Summary { series, interval: Interval { value: quantity.value(), half } }
        })
        .collect();
    let chart = PassChart {
        id: format!("chart-{}", channel.name),
        title: format!("Impulses per 100 m of each pass, {}", channel.name),
        description: description(channel, &summaries),
        rows: work.passes.iter().map(|pass| row(pass, channel)).collect(),
        summaries,
    };
    html! {
        @if let Some(drawing) = chart.draw() {
            figure class="drawing" {
                (channel_heading(work, channel))
                (drawing)
                figcaption { (legend(&chart)) }
            }
        }
    }
}

fn figures(channel: &ChannelFigures) -> Vec<(Series, &Quantity)> {
    [
        (Series::Tape, &channel.tape),
        (Series::Satellite, &channel.satellite),
        (Series::Combined, &channel.combined),
    ]
    .into_iter()
    .filter_map(|(series, quantity)| Some((series, quantity.as_ref()?)))
    .collect()
}

fn description(channel: &ChannelFigures, summaries: &[Summary]) -> String {
    let mut out = format!("{} passes are in the figures.", channel.passes.len());
    for summary in summaries {
        let Interval { value, half } = summary.interval;
        let word = summary.series.word();
        out.push_str(&format!(" The {word} figure is {value:.1}, give or take {half:.1}."));
    }
    out.push_str(" The values of each pass stand in the table that follows.");
    out
}

fn row(pass: &PassSummary, channel: &ChannelFigures) -> PassRow {
    let line = line_of(pass, channel);
    let way = pass.direction.map_or(String::new(), |way| format!(" {}", way.word()));
    PassRow {
        label: format!("{}{way}", pass.number),
        tape: line.and_then(|l| l.tape),
        satellite: line.and_then(|l| satellite(pass, l)),
    }
}

fn line_of<'a>(pass: &PassSummary, channel: &'a ChannelFigures) -> Option<&'a PassLine> {
    channel.passes.iter().find(|line| line.number == pass.number)
}

/// The figure of one pass by satellite; its interval is that of the length.
fn satellite(pass: &PassSummary, line: &PassLine) -> Option<Interval> {
    let value = line.satellite?;
    let length = pass.measured.as_ref()?.satellite?.joined;
    let half = PASS_K * value * length.standard_uncertainty_m / length.length_m;
    Some(Interval { value, half: half.abs() })
}

fn legend(chart: &PassChart) -> Markup {
    let has = |series: Series| chart.summaries.iter().any(|s| s.series == series);
    html! {
        ul class="legend" {
            @if has(Series::Tape) {
                li { (svg::legend_mark(Series::Tape)) span { "by tape" } }
            }
            @if has(Series::Satellite) {
                li {
                    (svg::legend_mark(Series::Satellite))
                    span {
                        "by satellite; a pass with twice the standard uncertainty of its length"
                    }
                }
            }
            @if has(Series::Combined) {
                li {
                    (svg::legend_mark(Series::Combined))
                    span { "combined: the line through all rows" }
                }
            }
            li { "Figures below the rule and the band: 95 % coverage." }
        }
    }
}

/// The section with the table of passes.
pub fn table(work: &Work) -> Markup {
    let body = html! {
        @if work.passes.is_empty() {
            p { "No pass was recorded." }
        } @else {
            (common(work))
            @for channel in &work.channels { (counted(work, channel)) }
        }
    };
    section("passes", "The passes, listed", &body)
}

/// What is the same for all channels: when, how long, how far, with what state.
fn common(work: &Work) -> Markup {
    let columns = [
        words("Pass"),
        words("Way"),
        words("Start, UTC"),
        numbers("Time, s"),
        words("Marks"),
        numbers("By satellite, m"),
        words("Fixes"),
        words("State"),
    ];
    let rows: Vec<Vec<Markup>> = work.passes.iter().map(common_row).collect();
    let caption = html! {
        "Each pass from peg to peg. Satellite lengths with twice their standard uncertainty."
    };
    draw_table("stack passes", &caption, &columns, &rows)
}

fn common_row(pass: &PassSummary) -> Vec<Markup> {
    let measured = pass.measured.as_ref();
    let dash = || "–".to_owned();
    let start = measured.and_then(|m| m.utc_ns).map_or_else(dash, |(start, _)| {
        // Tenths and the letter of the zone say nothing to a reader here.
        rfc3339(start).chars().take(19).collect::<String>().replace('T', " ")
    });
    let marks = measured.map_or("–", |m| if m.standing { "at rest" } else { "on the move" });
    let length = measured.and_then(|m| m.satellite).map_or_else(dash, |s| {
        let half_m = PASS_K * s.joined.standard_uncertainty_m;
        format!("{:.3}\u{a0}±\u{a0}{half_m:.3}", s.joined.length_m)
    });
    let fixes = measured.and_then(|m| m.ends).map_or_else(dash, |(start, finish)| {
        let (from, to) = (quality_words(start.quality), quality_words(finish.quality));
        if from == to { from.to_owned() } else { format!("{from}, then {to}") }
    });
    vec![
        html! { (pass.number) },
        html! { (pass.direction.map_or("–", |way| way.word())) },
        html! { (start) },
        html! { (fixed(measured.map(|m| m.duration_s), 1)) },
        html! { (marks) },
        html! { (length) },
        html! { (fixes) },
        state(pass.state()),
    ]
}

/// A state by word and mark.
fn state(word: &str) -> Markup {
    let mark = match word {
        "valid" => "",
        "flagged" => "▲ ",
        _ => "✕ ",
    };
    html! { span class=(format!("state {word}")) { span aria-hidden="true" { (mark) } (word) } }
}

/// What one sensor counted.
fn counted(work: &Work, channel: &ChannelFigures) -> Markup {
    let columns: [Column; 5] = [
        words("Pass"),
        numbers("Impulses"),
        numbers("By tape"),
        numbers("By satellite"),
        words("In the figure"),
    ];
    let rows: Vec<Vec<Markup>> = work.passes.iter().map(|p| counted_row(p, channel)).collect();
    let caption = html! {
        "Impulses of the " (channel.name) " between the marks, and what they make per 100 m by "
        "tape and by satellite."
    };
    draw_table("stack counted", &caption, &columns, &rows)
}

fn counted_row(pass: &PassSummary, channel: &ChannelFigures) -> Vec<Markup> {
    let measured = pass.measured.as_ref();
    let count = measured.and_then(|m| m.impulses[channel.index]).map(|c| c.impulses);
    let line = line_of(pass, channel);
    // A count with a fraction was read between two edges; a whole one at rest.
    let places = usize::from(count.is_some_and(|c| c.fract().abs() > 1e-9));
    let satellite = line.and_then(|l| satellite(pass, l));
    vec![
        html! { (pass.number) },
        html! { (fixed(count, places)) },
        html! { (fixed(line.and_then(|l| l.tape), 1)) },
        html! {
            (fixed(satellite.map(|s| s.value), 1))
            @if let Some(s) = satellite { "\u{a0}±\u{a0}" (fixed(Some(s.half), 1)) }
        },
        html! { (if line.is_some() { "yes" } else { "no" }) },
    ]
}
