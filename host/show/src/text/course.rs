//! A taped course and a plan for the terminal: the answer first, the tables below.

use super::lines::{assumed, wrap};
use std::fmt::Write as _;
use trundle_core::figure::COVERAGE;
use trundle_core::figure::plan::{Expected, LengthPlan, Plan};
use trundle_core::result::course_v1::TapedCourse;
use trundle_core::stats::budget::cover;
use trundle_core::stats::budget::rounding::round_pair;
use trundle_core::units::decimals;

/// Changes that are named, at the most.
const REMEDIES_SHOWN: usize = 3;
/// The course as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render_course(course: &TapedCourse<'_>) -> String {
    let mut out = String::new();
    let length = &course.length.length;
    let e = cover(length, course.sources, COVERAGE);
    let _ = writeln!(
        out,
        "The course is {} m along the ground (95 % coverage, ±{:.3} %).",
        round_pair(length.value(), e.expanded_uncertainty),
        100.0 * e.expanded_uncertainty / length.value()
    );
    let _ = writeln!(
        out,
        "  standard uncertainty {:.1} mm, k = {:.2}, {} degrees of freedom",
        1000.0 * e.standard_uncertainty,
        e.coverage_factor,
        crate::phrases::result::degrees(e.degrees_of_freedom)
    );
    if let Some(level) = &course.length.horizontal {
        let u = cover(level, course.sources, COVERAGE).expanded_uncertainty;
        let _ = writeln!(out, "  {} m on the level", round_pair(level.value(), u));
    }
    for key in course.unknown_keys {
        let _ = writeln!(
            out,
            "Warning: the course file's {key} is not known and was not used; its default is used \
             instead. Next: correct the key, or delete it."
        );
    }
    corrections(&mut out, course);
    budget(&mut out, course);
    assumed(&mut out, &course.length.assumptions);
    wrap(&out)
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
    out.push_str("\nSources of uncertainty (standard uncertainty in the length)\n");
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
        answer(&mut out, plan, length);
    }
    out.push_str("\nHalf-width of the 95 % interval to expect, per cent of the value\n");
    for length in &plan.lengths {
        table(&mut out, length);
    }
    assumed(&mut out, &plan.assumptions);
    out.push_str("With few passes the scatter varies: a job of two or three may do much worse.\n");
    wrap(&out)
}

fn answer(out: &mut String, plan: &Plan, length: &LengthPlan) {
    let target = percent(plan.inputs.target);
    let course_m = length.length_m;
    let best = percent(length.at.best());
    let endless = percent(length.endless);
    let _ = match length.needed {
        Some(passes) => {
            writeln!(
                out,
                "{course_m} m: DRIVE {passes} PASSES for ±{target} % (expected ±{best} %)"
            )
        }
        None if length.endless < plan.inputs.target => writeln!(
            out,
            "{course_m} m: ±{target} % TAKES TOO MANY PASSES; {} give ±{best} %",
            length.at.passes
        ),
        None => writeln!(
            out,
            "{course_m} m: ±{target} % CANNOT BE REACHED; {} passes give ±{best} %, any number \
             ±{endless} %",
            length.at.passes
        ),
    };
    let dominant = &length.dominant;
    let (share, source) = (100.0 * dominant.variance_share, &dominant.source);
    let _ = writeln!(out, "  largest uncertainty, {share:.0} % of the variance: {source}");
    for remedy in length.remedies.iter().take(REMEDIES_SHOWN) {
        let _ = writeln!(out, "  ±{} % if you {}", percent(remedy.expected), remedy.change);
    }
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

fn percent(share: f64) -> String {
    format!("{:.3}", 100.0 * share)
}
