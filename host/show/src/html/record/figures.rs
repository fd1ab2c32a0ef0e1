//! The results with their uncertainties, and where these come from.

use super::super::page::section;
use super::super::page::table::{Column, numbers, table as draw_table, words};
use super::super::page::words::{line, sentence_case, significant};
use crate::paper::{Sheet, coverage, freedom, places};
use crate::svg;
use maud::{Markup, html};
use trundle_core::result::work_read::{BudgetLineRead, ChannelRead, FigureRead};
use trundle_core::stats::budget::rounding::round_pair;

/// The section with the table of results.
pub fn results(sheet: &Sheet<'_>) -> Markup {
    let body = html! {
        @if let Some(channel) = sheet.channel() {
            (table(&sheet.sensor(), channel))
            (agreement(channel))
            (rolling(sheet, channel))
        } @else {
            p { "The result holds nothing of this sensor." }
        }
        @for (name, channel) in &sheet.work.channels {
            @if *name != sheet.record.channel { (other(name, channel)) }
        }
    };
    section("figures", "Results", &body)
}

fn table(name: &str, channel: &ChannelRead) -> Markup {
    let sides = [channel.tape, channel.satellite, channel.combined];
    let row = |name: &str, show: &dyn Fn(&FigureRead) -> String| {
        let mut cells = vec![html! { (name) }];
        cells.extend(sides.iter().map(|side| match side {
            Some(figure) => html! { (show(figure)) },
            None => html! { "–" },
        }));
        cells
    };
    let rows = [
        row("Value", &|f| rounded(f).0),
        row("Expanded uncertainty U", &|f| rounded(f).1),
        row("U, % of value", &|f| {
            significant(100.0 * f.expanded_uncertainty / f.impulses_per_100m.abs(), 2)
        }),
        row("Coverage", &coverage),
        row("Coverage factor k", &|f| format!("{:.2}", f.coverage_factor)),
        row("Standard uncertainty u", &|f| significant(f.standard_uncertainty, 2)),
        row("Effective degrees of freedom", &|f| freedom(f.degrees_of_freedom)),
    ];
    let columns = [words("Quantity"), numbers("Tape"), numbers("Satellite"), numbers("Combined")];
    let caption = html! { (sentence_case(name)) ", impulses per 100 m." };
    draw_table("figures", &caption, &columns, &rows)
}

/// Value and expanded uncertainty, rounded together.
fn rounded(figure: &FigureRead) -> (String, String) {
    let rounded = round_pair(figure.impulses_per_100m, figure.expanded_uncertainty);
    let places = places(rounded.decimals);
    (format!("{:.places$}", rounded.value), format!("{:.places$}", rounded.uncertainty))
}

fn agreement(channel: &ChannelRead) -> Markup {
    html! {
        @if let Some(agreement) = channel.agreement {
            p {
                @if agreement.agrees {
                    "Tape and satellite agree: "
                } @else if channel.combined.is_some() {
                    "Tape and satellite stand further apart than expected, and the doubt is "
                    "widened for it: "
                } @else {
                    "Tape and satellite contradict each other: "
                }
                "the normalised error (ISO 13528) is "
                (format!("{:.2}", agreement.normalised_error)) ", where up to 1 is agreement."
            }
        } @else if channel.tape.is_some() {
            p { "By tape alone: nothing checks the taped length." }
        } @else if channel.satellite.is_some() {
            p { "By satellite alone: nothing checks the receiver." }
        }
    }
}

fn rolling(sheet: &Sheet<'_>, channel: &ChannelRead) -> Markup {
    html! {
        @if let Some(rolling) = &channel.rolling { p { (line(&rolling.sentence)) } }
        @if let Some(rate) = sheet.record.method.rate_l_per_ha {
            p class="quiet" { "The implement was set to " (rate) " l/ha." }
        }
    }
}

/// The sensor that was not signed off, so that nothing measured is kept back.
fn other(name: &str, channel: &ChannelRead) -> Markup {
    html! {
        @if let Some(best) = channel.best() {
            p class="quiet" {
                "The other sensor, " (line(name)) ", gave " (crate::paper::pair(best))
                " impulses per 100\u{a0}m at a coverage of " (coverage(best))
                ". It is not what this record is about."
            }
        }
    }
}

/// The section with the budget of the best figure.
pub fn doubt(sheet: &Sheet<'_>) -> Markup {
    let mut lines: Vec<&BudgetLineRead> =
        sheet.channel().map_or_else(Vec::new, |channel| channel.budget.iter().collect());
    lines.sort_by(|a, b| b.contribution.abs().total_cmp(&a.contribution.abs()));
    let body = html! {
        @if let (Some(best), false) = (sheet.best(), lines.is_empty()) {
            (bars(&lines))
            (budget_table(best, &lines))
        } @else {
            p { "Without a figure in force there is no budget." }
        }
    };
    section("budget", "Where the doubt comes from", &body)
}

/// Bars beside words and numbers: read without colour, and by screen readers.
fn bars(lines: &[&BudgetLineRead]) -> Markup {
    let longest = lines.first().map_or(0.0, |line| line.contribution.abs());
    html! {
        figure class="drawing" {
            figcaption {
                "What each source alone does to the figure: standard uncertainty, impulses per "
                "100 m, the largest first."
            }
            ol class="bars" {
                @for one in lines {
                    @let size = one.contribution.abs();
                    li {
                        span class="bar-name" { (line(&one.source)) }
                        span class="bar-value" { (significant(size, 2)) }
                        (svg::bar(size / longest))
                    }
                }
            }
        }
    }
}

fn budget_table(best: &FigureRead, lines: &[&BudgetLineRead]) -> Markup {
    let columns: [Column; 7] = [
        words("Source"),
        words("Type"),
        words("Distribution"),
        numbers("u of the source"),
        numbers("Degrees of freedom"),
        numbers("Contribution"),
        numbers("Share, %"),
    ];
    let variance = best.standard_uncertainty.powi(2);
    let rows: Vec<Vec<Markup>> = lines
        .iter()
        .map(|one| {
            let share = 100.0 * one.contribution.powi(2) / variance;
            vec![
                html! { (line(&one.source)) },
                html! { (line(&one.r#type)) },
                html! { (line(&one.distribution)) },
                html! { (significant(one.standard_uncertainty, 2)) },
                html! { (freedom(one.degrees_of_freedom)) },
                html! { (significant(one.contribution.abs(), 3)) },
                html! { (format!("{share:.1}")) },
            ]
        })
        .collect();
    let caption = html! {
        "Budget of the figure in force. The contribution is in impulses per 100 m; u stands in "
        "the unit of its source. The squares of the contributions add up to the square of u = "
        (significant(best.standard_uncertainty, 3)) "; U = k u with k = "
        (format!("{:.2}", best.coverage_factor)) "."
    };
    draw_table("stack budget", &caption, &columns, &rows)
}
