//! The values, the sources of their uncertainty, and whether tape and satellite agree.

use super::table::{numbers, table as draw_table, words};
use crate::phrases::plain::{line, sentence_case, significant};
use crate::phrases::result::{Sensors, agreement, coverage, freedom, percent, rounded};
use crate::svg;
use maud::{Markup, html};
use trundle_core::result::work_v1::{BudgetLineV1, ChannelV1, FigureV1};
use trundle_core::stats::budget::rounding::round_pair;

/// The table of each sensor's values, and what checks them.
pub fn results(sensors: &Sensors<'_>) -> Markup {
    html! {
        @for (name, channel) in sensors {
            (table(name, channel))
            (second_opinion(channel))
            p {
                (agreement(channel))
                @if let Some(agreement) = channel.agreement {
                    " The normalised error (ISO 13528), the difference over its expanded "
                    "uncertainty without what both share, is "
                    (format!("{:.2}", agreement.normalised_error)) ": up to 1 is agreement."
                }
            }
            @if let Some(rolling) = &channel.rolling { p { (line(&rolling.sentence)) } }
            @for one in &channel.unanswered {
                p { (line(&one.what)) " " (line(&one.means)) " " (line(&one.next)) }
            }
        }
    }
}

fn table(name: &str, channel: &ChannelV1) -> Markup {
    let row = |name: &str, show: &dyn Fn(&FigureV1) -> String| {
        let sides = channel.sides().into_iter();
        let cells = sides.map(|(_, side)| side.map_or_else(|| "–".to_owned(), show));
        std::iter::once(name.to_owned()).chain(cells).map(|cell| html! { (cell) }).collect()
    };
    let rows: [Vec<Markup>; 7] = [
        row("Value", &|f| rounded(f).0),
        row("Expanded uncertainty U", &|f| rounded(f).1),
        row("U, % of value", &|f| significant(percent(f), 2)),
        row("Coverage", &coverage),
        row("Coverage factor k", &|f| format!("{:.2}", f.coverage_factor)),
        row("Standard uncertainty u", &|f| significant(f.standard_uncertainty, 2)),
        row("Effective degrees of freedom", &|f| freedom(f.degrees_of_freedom)),
    ];
    let columns = [words(["Quantity"]), numbers(["Tape", "Satellite", "Combined"])].concat();
    let caption = html! { (sentence_case(&line(name))) ", impulses per 100 m." };
    draw_table("figures", &caption, &columns, &rows)
}

/// The Monte Carlo check in a sentence, where it was asked for.
pub fn second_opinion(channel: &ChannelV1) -> Markup {
    let Some(m) = channel.monte_carlo else { return html! {} };
    let [low, high] = m.interval;
    let places = round_pair(m.mean, (high - low) / 2.0).decimals.clamp(0, 9);
    let places = usize::try_from(places).unwrap_or(0);
    html! {
        p class="quiet opinion" {
            "Second opinion by " (m.trials) " draws from all sources (JCGM 101:2008): mean "
            (format!("{:.places$}", m.mean)) ", 95 % between " (format!("{low:.places$}"))
            " and " (format!("{high:.places$}")) "."
        }
    }
}

/// The budget of each sensor's best value, or those of both ways where none is best.
pub fn budgets(sensors: &Sensors<'_>) -> Markup {
    html! {
        @for (name, channel) in sensors {
            @if sensors.len() > 1 { h3 { (sentence_case(&line(name))) } }
            @for (side, figure) in in_force(channel) { (one_budget(name, side, figure)) }
        }
        @if sensors.iter().all(|(_, channel)| in_force(channel).is_empty()) {
            p { "Without a value there is no budget." }
        }
    }
}

fn in_force(channel: &ChannelV1) -> Vec<(&'static str, &FigureV1)> {
    let given = channel.sides().into_iter().filter_map(|(side, figure)| Some((side, figure?)));
    given.filter(|(side, _)| *side == "combined" || channel.combined.is_none()).collect()
}

/// Bars beside words and numbers, then the table of them.
fn one_budget(name: &str, side: &str, figure: &FigureV1) -> Markup {
    let lines = &figure.budget;
    let longest = lines.first().map_or(0.0, |line| line.contribution.abs());
    html! {
        // A list, so that long names wrap and screen readers get the numbers.
        figure class="drawing" {
            figcaption {
                "Effect of each source alone on the " (side) " value of the " (line(name))
                ": standard uncertainty, impulses per 100 m, the largest first."
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
        (budget_table(side, figure, lines))
    }
}

fn budget_table(side: &str, figure: &FigureV1, lines: &[BudgetLineV1]) -> Markup {
    let columns = [
        words(["Source", "Type", "Distribution"]),
        numbers(["u of the source", "Degrees of freedom", "Contribution", "Share, %"]),
    ]
    .concat();
    let variance = figure.standard_uncertainty.powi(2);
    let row = |one: &BudgetLineV1| {
        let cells = [
            line(&one.source),
            line(&one.r#type),
            line(&one.distribution),
            significant(one.standard_uncertainty, 2),
            freedom(one.degrees_of_freedom),
            significant(one.contribution.abs(), 3),
            format!("{:.1}", 100.0 * one.contribution.powi(2) / variance),
        ];
        cells.map(|cell| html! { (cell) }).to_vec()
    };
    let rows: Vec<Vec<Markup>> = lines.iter().map(row).collect();
    let caption = html! {
        "Budget of the " (side) " value. The contribution is in impulses per 100 m; u is in "
        "the unit of its source. The squares of the contributions add up to the square of u = "
        (significant(figure.standard_uncertainty, 3)) "; U = k u with k = "
        (format!("{:.2}", figure.coverage_factor)) "."
    };
    draw_table("stack budget", &caption, &columns, &rows)
}
