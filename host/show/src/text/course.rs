//! A taped course and a plan for the terminal: the answer first, the tables below.

use super::lines::{assumed, wrap};
use std::fmt::Write as _;
use trundle_core::figure::COVERAGE;
use trundle_core::figure::plan::{Expected, LengthPlan, Plan};
use trundle_core::result::course_v1::TapedCourse;
use trundle_core::stats::budget::cover;
use trundle_core::stats::budget::rounding::round_pair;
use trundle_core::units::decimals;

/// Heading of the table of a plan.
pub(crate) const TABLE: &str = "Half-width of the 95 % interval to expect, per cent of the value";
/// What no plan can promise.
pub(crate) const FEW: &str =
    "With few passes the scatter varies: a job of two or three may do much worse.";
/// Heading of the sources of a course.
pub(crate) const SOURCES: &str = "Sources of uncertainty (standard uncertainty in the length)";
/// Changes that are named, at the most.
const REMEDIES_SHOWN: usize = 3;
/// The course as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render_course(course: &TapedCourse<'_>) -> String {
    let mut out = format!("{}\n", headline(course));
    for line in details(course) {
        let _ = writeln!(out, "  {line}");
    }
    for warning in warnings(course) {
        let _ = writeln!(out, "{warning}");
    }
    corrections(&mut out, course);
    budget(&mut out, course);
    assumed(&mut out, &course.length.assumptions);
    wrap(&out)
}

/// The length and its interval, as a sentence.
#[must_use]
pub fn headline(course: &TapedCourse<'_>) -> String {
    let length = &course.length.length;
    let e = cover(length, course.sources, COVERAGE);
    format!(
        "The course is {} m along the ground (95 % coverage, ±{:.3} %).",
        round_pair(length.value(), e.expanded_uncertainty),
        100.0 * e.expanded_uncertainty / length.value()
    )
}

/// What is behind the interval, and the length on the level.
pub(crate) fn details(course: &TapedCourse<'_>) -> Vec<String> {
    let e = cover(&course.length.length, course.sources, COVERAGE);
    let mut lines = vec![format!(
        "standard uncertainty {:.1} mm, k = {:.2}, {} degrees of freedom",
        1000.0 * e.standard_uncertainty,
        e.coverage_factor,
        crate::phrases::result::degrees(e.degrees_of_freedom)
    )];
    if let Some(level) = &course.length.horizontal {
        let u = cover(level, course.sources, COVERAGE).expanded_uncertainty;
        lines.push(format!("{} m on the level", round_pair(level.value(), u)));
    }
    lines
}

/// What was not used.
pub(crate) fn warnings(course: &TapedCourse<'_>) -> Vec<String> {
    let warning = |key: &String| {
        format!(
            "Warning: the course file's {key} is not known and was not used; its default is used \
             instead. Next: correct the key, or delete it."
        )
    };
    course.unknown_keys.iter().map(warning).collect()
}

fn corrections(out: &mut String, course: &TapedCourse<'_>) {
    let _ = writeln!(out, "\n{:<34}{:>12}{:>18}", "Correction", "mm", "standard unc. mm");
    let _ = writeln!(out, "{:<34}{:>12.1}", "  nominal length", 1000.0 * course.nominal_m);
    for c in &course.length.corrections {
        let name = format!("  {}", c.name);
        let (value_mm, u_mm) = (1000.0 * c.value_m, 1000.0 * c.standard_uncertainty_m);
        let _ = writeln!(out, "{name:<34}{:>12}{u_mm:>18.2}", decimals(value_mm, 2));
    }
}

fn budget(out: &mut String, course: &TapedCourse<'_>) {
    let _ = writeln!(out, "\n{SOURCES}");
    let variance = course.length.length.standard_uncertainty().powi(2);
    for line in course.length.length.budget(course.sources) {
        let share = 100.0 * line.contribution.powi(2) / variance;
        let distribution = format!("{}, {}", line.kind.word(), line.distribution.word());
        let _ = writeln!(
            out,
            "  {:>7.2} mm {share:>5.1} %  {distribution:<16}{}",
            1000.0 * line.contribution.abs(),
            line.source
        );
    }
}

/// The plan as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render_plan(plan: &Plan) -> String {
    let mut out = String::new();
    for length in &plan.lengths {
        let _ = writeln!(out, "{}", answer(plan, length));
        for line in why(length) {
            let _ = writeln!(out, "  {line}");
        }
    }
    let _ = writeln!(out, "\n{TABLE}");
    for length in &plan.lengths {
        table(&mut out, length);
    }
    assumed(&mut out, &plan.assumptions);
    let _ = writeln!(out, "{FEW}");
    wrap(&out)
}

/// How many passes it takes, as a line.
pub(crate) fn answer(plan: &Plan, length: &LengthPlan) -> String {
    let target = percent(plan.inputs.target);
    let course_m = length.length_m;
    let best = percent(length.at.best());
    let endless = percent(length.endless);
    match length.needed {
        Some(passes) => {
            format!("{course_m} m: DRIVE {passes} PASSES for ±{target} % (expected ±{best} %)")
        }
        None if length.endless < plan.inputs.target => format!(
            "{course_m} m: ±{target} % TAKES TOO MANY PASSES; {} give ±{best} %",
            length.at.passes
        ),
        None => format!(
            "{course_m} m: ±{target} % CANNOT BE REACHED; {} passes give ±{best} %, any number \
             ±{endless} %",
            length.at.passes
        ),
    }
}

/// What most of the uncertainty comes from, and what would help.
pub(crate) fn why(length: &LengthPlan) -> Vec<String> {
    let dominant = &length.dominant;
    let (share, source) = (100.0 * dominant.variance_share, &dominant.source);
    let mut lines = vec![format!("largest uncertainty, {share:.0} % of the variance: {source}")];
    let remedies = length.remedies.iter().take(REMEDIES_SHOWN);
    lines.extend(remedies.map(|one| format!("±{} % if you {}", percent(one.expected), one.change)));
    lines
}

fn table(out: &mut String, length: &LengthPlan) {
    let course = format!("{} m", length.length_m);
    let _ = writeln!(
        out,
        "\n{course:<10}{:>8}{:>10}{:>12}{:>10}",
        "passes", "tape", "satellite", "combined"
    );
    for row in &length.rows {
        let _ = writeln!(out, "{}", table_line(row));
    }
}

fn table_line(row: &Expected) -> String {
    let show = |share: Option<f64>| share.map_or_else(|| "-".to_owned(), percent);
    format!(
        "{:<10}{:>8}{:>10}{:>12}{:>10}",
        "",
        row.passes,
        percent(row.tape),
        show(row.satellite),
        show(row.combined)
    )
}

pub(crate) fn percent(share: f64) -> String {
    format!("{:.3}", 100.0 * share)
}
