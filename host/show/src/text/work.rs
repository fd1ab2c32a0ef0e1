//! The result for the terminal: what to enter, how sure it is, what to do next; details below.

use super::lines::wrap;
use std::fmt::Write as _;
use trundle_core::figure::rolling::socket_hint;
use trundle_core::figure::{COVERAGE, ChannelFigures, PassSummary, Work};
use trundle_core::stats::budget::rounding::round_pair;
use trundle_core::stats::budget::{Quantity, Sources, cover};

/// The whole result as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render(work: &Work) -> String {
    let mut out = String::new();
    for channel in &work.channels {
        headline(&mut out, channel);
    }
    if work.channels.is_empty() {
        out.push_str("No figure: no pass can be used.\n");
    }
    flags(&mut out, work);
    passes(&mut out, work);
    for channel in &work.channels {
        details(&mut out, channel);
    }
    footer(&mut out, work);
    wrap(&out)
}

fn headline(out: &mut String, channel: &ChannelFigures) {
    let name = channel.name;
    let Some((best, number)) = channel.best().zip(channel.figure_to_enter) else {
        let _ = writeln!(out, "{name}: NO FIGURE TO ENTER. The reason stands below.");
        return;
    };
    let expanded = cover(best, &channel.sources, COVERAGE);
    let percent = 100.0 * expanded.expanded_uncertainty / best.value();
    let _ =
        writeln!(out, "{name}: ENTER {number} impulses per 100 m, good to about ±{percent:.2} %");
    let agreement = match channel.agreement {
        Some(a) if a.agrees => {
            format!("tape and satellite agree (normalised error {:.2})", a.normalised_error)
        }
        Some(a) => format!(
            "tape and satellite differ a little more than they should (normalised error {:.2})",
            a.normalised_error
        ),
        None if channel.tape.is_some() => "by tape alone".to_owned(),
        None => "by satellite alone".to_owned(),
    };
    let most = main_doubt(best, &channel.sources);
    let _ = writeln!(out, "  {agreement}; most of the doubt: {most}");
    answers(out, channel);
}

fn answers(out: &mut String, channel: &ChannelFigures) {
    match &channel.found {
        Some(Ok(found)) => {
            let _ = writeln!(out, "  {}", found.sentence);
        }
        Some(Err(fault)) => {
            let _ = writeln!(out, "  {fault} {} {}", fault.meaning(), fault.remedy());
        }
        None => {}
    }
    match &channel.rolling {
        Some(Ok(rolling)) => {
            let _ = writeln!(out, "  {}", rolling.sentence);
        }
        Some(Err(fault)) => {
            let _ = writeln!(out, "  {fault} {} {}", fault.meaning(), fault.remedy());
        }
        None => {}
    }
}

/// The largest line of the budget, in words.
#[must_use]
pub fn main_doubt(quantity: &Quantity, sources: &Sources) -> String {
    let budget = quantity.budget(sources);
    let largest =
        budget.iter().max_by(|a, b| a.contribution.abs().total_cmp(&b.contribution.abs()));
    largest.map_or_else(|| "none known".to_owned(), |line| line.source.clone())
}

fn flags(out: &mut String, work: &Work) {
    let serious: Vec<_> = work.all_flags().filter(|f| !f.code.is_remark()).collect();
    if serious.is_empty() {
        return;
    }
    out.push_str("\nLook at this first:\n");
    for flag in serious {
        let _ = writeln!(out, "  {} {}", flag.code.word(), flag.sentence());
    }
}

fn passes(out: &mut String, work: &Work) {
    out.push_str("\nPass  way   state    ");
    for channel in &work.channels {
        let _ = write!(out, "{:>16}", format!("{} impulses", channel.name));
    }
    out.push_str("   satellite m    by tape  by satellite\n");
    for pass in &work.passes {
        pass_line(out, pass, work);
    }
}

fn pass_line(out: &mut String, pass: &PassSummary, work: &Work) {
    let way = pass.direction.map_or("-", |d| d.word());
    let _ = write!(out, "{:>4}  {way:<4}  {:<9}", pass.number, pass.state());
    let measured = pass.measured.as_ref();
    for channel in &work.channels {
        let count = measured.and_then(|m| m.impulses[channel.index]);
        let text = count.map_or_else(|| "-".to_owned(), |c| format!("{:.1}", c.impulses));
        let _ = write!(out, "{text:>16}");
    }
    let satellite = measured.and_then(|m| m.satellite);
    let length = satellite.map_or_else(
        || "-".to_owned(),
        |s| format!("{:.2} ± {:.2}", s.joined.length_m, 2.0 * s.joined.standard_uncertainty_m),
    );
    let line =
        work.channels.first().and_then(|c| c.passes.iter().find(|line| line.number == pass.number));
    let show = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |v| format!("{v:.1}"));
    let _ = writeln!(
        out,
        "  {length:>14} {:>9} {:>13}",
        show(line.and_then(|l| l.tape)),
        show(line.and_then(|l| l.satellite))
    );
}

fn details(out: &mut String, channel: &ChannelFigures) {
    let _ = writeln!(out, "\n{}, impulses per 100 m (interval: 95 % coverage)", channel.name);
    for (side, quantity) in [
        ("tape", &channel.tape),
        ("satellite", &channel.satellite),
        ("combined", &channel.combined),
    ] {
        let Some(quantity) = quantity else {
            let _ = writeln!(out, "  {side:<10} not given");
            continue;
        };
        let e = cover(quantity, &channel.sources, COVERAGE);
        let shown = round_pair(quantity.value(), e.expanded_uncertainty);
        let _ = writeln!(
            out,
            "  {side:<10} {shown}  (k = {:.2}, {} degrees of freedom)",
            e.coverage_factor,
            degrees(e.degrees_of_freedom)
        );
    }
    let Some(best) = channel.best() else { return };
    if channel.figure_to_enter.is_some() {
        let _ = writeln!(out, "  {}", socket_hint(best.value()));
    }
    if let Some(m) = channel.monte_carlo {
        let _ = writeln!(
            out,
            "  by {} Monte Carlo trials: {:.1} to {:.1}, standard uncertainty {:.2}",
            m.trials, m.low, m.high, m.standard_uncertainty
        );
    }
    let _ = writeln!(out, "  where the doubt comes from (standard uncertainty in the figure):");
    let mut lines = best.budget(&channel.sources);
    lines.sort_by(|a, b| b.contribution.abs().total_cmp(&a.contribution.abs()));
    for line in lines {
        let _ = writeln!(out, "    {:>8.3}  {}", line.contribution.abs(), line.source);
    }
}

/// Degrees of freedom for people: whole numbers, and a word for very many.
#[must_use]
pub fn degrees(value: f64) -> String {
    if value < 1000.0 { format!("{value:.0}") } else { "very many".to_owned() }
}

fn footer(out: &mut String, work: &Work) {
    out.push('\n');
    if let Some(course) = work.course {
        let _ = writeln!(
            out,
            "Course {:.3} m along the ground, standard uncertainty {:.1} mm.",
            course.length_m,
            1000.0 * course.standard_uncertainty_m
        );
    }
    if let Some(clock) = work.clock {
        let _ = writeln!(
            out,
            "Clocks joined by {}; the receiver's lag is {:.0} ms ± {:.0} ms (standard).",
            clock.method,
            1000.0 * clock.lag_s,
            1000.0 * clock.lag_standard_uncertainty_s
        );
    }
    for assumption in &work.assumptions {
        let _ = writeln!(out, "Taken for granted: {assumption}");
    }
    for flag in work.all_flags().filter(|f| f.code.is_remark()) {
        let _ = writeln!(out, "Remark: {}", flag.sentence());
    }
}
