//! The figures with their uncertainties, where these come from, and whether two ways agree.

use super::table::{Column, numbers, table as draw_table, words};
use super::words::{sentence_case, significant};
use super::{channel_heading, section};
use crate::svg;
use crate::text::work::degrees;
use maud::{Markup, html};
use trundle_core::figure::{COVERAGE, ChannelFigures, Work};
use trundle_core::stats::budget::rounding::round_pair;
use trundle_core::stats::budget::{BudgetLine, Expanded, Quantity, cover};

/// The section with the table of figures.
pub fn table(work: &Work) -> Markup {
    let body = html! {
        @for channel in &work.channels { (channel_table(channel)) }
    };
    section("figures", "The figures", &body)
}

fn channel_table(channel: &ChannelFigures) -> Markup {
    let sides = [&channel.tape, &channel.satellite, &channel.combined];
    let given: Vec<Option<(&Quantity, Expanded)>> = sides
        .into_iter()
        .map(|side| side.as_ref().map(|q| (q, cover(q, &channel.sources, COVERAGE))))
        .collect();
    let row = |name: &str, show: &dyn Fn(&Quantity, &Expanded) -> String| {
        let mut cells = vec![html! { (name) }];
        cells.extend(given.iter().map(|side| match side {
            Some((quantity, expanded)) => html! { (show(quantity, expanded)) },
            None => html! { "–" },
        }));
        cells
    };
    let rows = [
        row("Value", &|q, e| value_text(q, e)),
        row("Standard uncertainty", &|_, e| significant(e.standard_uncertainty, 2)),
        row("Expanded uncertainty", &|_, e| significant(e.expanded_uncertainty, 2)),
        row("Expanded, % of value", &|q, e| {
            significant(100.0 * e.expanded_uncertainty / q.value().abs(), 2)
        }),
        row("Coverage factor k", &|_, e| format!("{:.2}", e.coverage_factor)),
        row("Degrees of freedom", &|_, e| degrees(e.degrees_of_freedom)),
    ];
    let columns = [words("Quantity"), numbers("Tape"), numbers("Satellite"), numbers("Combined")];
    let caption = html! {
        (sentence_case(channel.name)) ", impulses per 100 m. Expanded uncertainties cover 95 %."
    };
    html! {
        (draw_table("figures", &caption, &columns, &rows))
        (second_opinion(channel))
    }
}

/// The Monte Carlo check in a sentence, where it was asked for.
fn second_opinion(channel: &ChannelFigures) -> Markup {
    let Some(m) = channel.monte_carlo else { return html! {} };
    let rounded = round_pair(m.mean, (m.high - m.low) / 2.0);
    let places = usize::try_from(rounded.decimals.clamp(0, 9)).unwrap_or(0);
    html! {
        p class="quiet opinion" {
            "Second opinion by " (m.trials) " draws from all sources (JCGM 101:2008): mean "
            (format!("{:.places$}", m.mean)) ", 95 % between " (format!("{:.places$}", m.low))
            " and " (format!("{:.places$}", m.high)) "."
        }
    }
}

/// The value to the last place of its expanded uncertainty.
fn value_text(quantity: &Quantity, expanded: &Expanded) -> String {
    let rounded = round_pair(quantity.value(), expanded.expanded_uncertainty);
    let places = usize::try_from(rounded.decimals.clamp(0, 9)).unwrap_or(0);
    format!("{:.places$}", rounded.value)
}

/// The section with the budget of each channel's best figure, or of both where none is best.
pub fn budget(work: &Work) -> Markup {
    let body = html! {
        @for channel in &work.channels {
            (channel_heading(work, channel))
            @for (name, quantity) in in_force(channel) { (one_budget(name, quantity, channel)) }
        }
    };
    section("budget", "Where the doubt comes from", &body)
}

fn in_force(channel: &ChannelFigures) -> Vec<(&'static str, &Quantity)> {
    let tape = channel.tape.as_ref().map(|q| ("tape", q));
    let satellite = channel.satellite.as_ref().map(|q| ("satellite", q));
    match &channel.combined {
        Some(combined) => vec![("combined", combined)],
        None => tape.into_iter().chain(satellite).collect(),
    }
}

fn one_budget(name: &str, quantity: &Quantity, channel: &ChannelFigures) -> Markup {
    let mut lines = quantity.budget(&channel.sources);
    lines.sort_by(|a, b| b.contribution.abs().total_cmp(&a.contribution.abs()));
    html! {
        (bars(name, &lines, channel))
        (budget_table(name, quantity, &lines, channel))
    }
}

/// Bars beside words: a list, so that long names wrap and screen readers get the numbers.
fn bars(name: &str, lines: &[BudgetLine], channel: &ChannelFigures) -> Markup {
    let longest = lines.first().map_or(0.0, |line| line.contribution.abs());
    html! {
        figure class="drawing" {
            figcaption {
                "What each source alone does to the " (name) " figure of the " (channel.name)
                ": standard uncertainty, impulses per 100 m, the largest first."
            }
            ol class="bars" {
                @for line in lines {
                    @let size = line.contribution.abs();
                    li {
                        span class="bar-name" { (line.source) }
                        span class="bar-value" { (significant(size, 2)) }
                        (svg::bar(size / longest))
                    }
                }
            }
        }
    }
}

fn budget_table(
    name: &str,
    quantity: &Quantity,
    lines: &[BudgetLine],
    channel: &ChannelFigures,
) -> Markup {
    let columns: [Column; 7] = [
        words("Source"),
        words("Type"),
        words("Distribution"),
        numbers("u of the source"),
        numbers("Degrees of freedom"),
        numbers("Contribution"),
        numbers("Share, %"),
    ];
    let variance = quantity.standard_uncertainty().powi(2);
    let rows: Vec<Vec<Markup>> = lines
        .iter()
        .map(|line| {
            let share = 100.0 * line.contribution.powi(2) / variance;
            vec![
                html! { (line.source) },
                html! { (line.kind.to_string()) },
                html! { (line.distribution.to_string()) },
                html! { (significant(line.standard_uncertainty, 3)) },
                html! { (degrees(line.degrees_of_freedom)) },
                html! { (significant(line.contribution.abs(), 3)) },
                html! { (format!("{share:.1}")) },
            ]
        })
        .collect();
    let caption = html! {
        "Budget of the " (name) " figure of the " (channel.name)
        ". The contribution is in impulses per 100 m; u stands in the unit of its source. "
        "The squares of the contributions add up to the square of "
        (significant(quantity.standard_uncertainty(), 3)) "."
    };
    draw_table("stack budget", &caption, &columns, &rows)
}

/// The section on tape against satellite.
pub fn agreement(work: &Work) -> Markup {
    let body = html! {
        @for channel in &work.channels {
            (channel_heading(work, channel))
            p { (agreement_sentence(channel)) }
            @if let Some(agreement) = channel.agreement {
                p class="quiet" {
                    "Normalised error " (format!("{:.2}", agreement.normalised_error))
                    ": the difference over its expanded uncertainty, with what both share left "
                    "out. Up to 1 they agree."
                }
            }
        }
    };
    section("agreement", "Tape against satellite", &body)
}

/// Whether the two ways agree, in a plain sentence.
pub fn agreement_sentence(channel: &ChannelFigures) -> String {
    let (Some(satellite), Some(agreement)) = (&channel.satellite, channel.agreement) else {
        return match (&channel.tape, &channel.satellite) {
            (Some(_), _) => "By tape alone: nothing checks the taped length.".to_owned(),
            (_, Some(_)) => "By satellite alone: nothing checks the receiver.".to_owned(),
            _ => "There is neither a figure by tape nor one by satellite.".to_owned(),
        };
    };
    // Against the satellite, as the finding has it when they contradict each other.
    let percent = |size: f64| significant(100.0 * (size / satellite.value()).abs(), 2);
    let apart = percent(agreement.difference);
    let chance = percent(agreement.expanded_uncertainty);
    if agreement.agrees {
        format!(
            "Tape and satellite agree: {apart}\u{a0}% apart, where up to {chance}\u{a0}% is to be \
             expected."
        )
    } else if channel.combined.is_some() {
        format!(
            "Tape and satellite stand further apart than expected: {apart}\u{a0}%, where up to \
             {chance}\u{a0}% is to be expected. The doubt of the figure is widened for it."
        )
    } else {
        format!(
            "Tape and satellite contradict each other: {apart}\u{a0}% apart, where no more than \
             {chance}\u{a0}% is to be expected."
        )
    }
}
