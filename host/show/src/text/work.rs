//! The result for the terminal: what to enter, how sure it is, what to do next; details below.

use super::lines::wrap;
use crate::phrases::plain::line;
use crate::phrases::result::{
    Sensors, clocks, course, coverage, freedom, largest_uncertainty, pair, percent, satellite_m,
    sentence, sky,
};
use std::fmt::Write as _;
use trundle_core::figure::rolling::socket_hint;
use trundle_core::result::work_v1::{ChannelV1, FlagV1, PassV1, WeightV1, WorkV1};

/// The whole result as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render(work: &WorkV1) -> String {
    let sensors: Vec<_> = work.sensors().collect();
    let mut out = String::new();
    for (name, channel) in &sensors {
        headline(&mut out, name, channel);
    }
    if sensors.is_empty() {
        out.push_str("No value: no pass can be used.\n");
    }
    flags(&mut out, work);
    passes(&mut out, work, &sensors);
    for (name, channel) in &sensors {
        details(&mut out, name, channel, usize::MAX);
        if let (Some(best), Some(_)) = (channel.best(), channel.value_to_enter) {
            let _ = writeln!(out, "  {}", socket_hint(best.impulses_per_100m));
        }
    }
    footer(&mut out, work);
    wrap(&out.replace('\u{a0}', " "))
}

fn headline(out: &mut String, name: &str, channel: &ChannelV1) {
    let Some((best, number)) = channel.best().zip(channel.value_to_enter) else {
        let _ = writeln!(out, "{name}: NO VALUE TO ENTER. For the reason, see below.");
        return;
    };
    let percent = percent(best);
    // A value that nothing was held against is no order to enter it.
    let word = if channel.agreement.is_some() { "ENTER" } else { "PROVISIONAL, not checked:" };
    let _ = writeln!(out, "{name}: {word} {number} impulses per 100 m, ±{percent:.2} % (95 %)");
    let agreement = match channel.agreement {
        Some(a) if a.agrees => {
            format!("tape and satellite agree (normalised error {:.2})", a.normalised_error)
        }
        Some(a) => format!(
            "tape and satellite differ more than expected (normalised error {:.2})",
            a.normalised_error
        ),
        None if channel.tape.is_some() => "by tape alone".to_owned(),
        None => "by satellite alone".to_owned(),
    };
    let _ = writeln!(out, "  {agreement}; largest uncertainty: {}", largest_uncertainty(best));
    let found = channel.as_found.as_ref().map(|found| &found.sentence);
    for sentence in found.into_iter().chain(channel.rolling.as_ref().map(|r| &r.sentence)) {
        let _ = writeln!(out, "  {}", line(sentence));
    }
    for one in &channel.unanswered {
        let _ = writeln!(out, "  {} {} {}", line(&one.what), line(&one.means), line(&one.next));
    }
}

fn flags(out: &mut String, work: &WorkV1) {
    let serious: Vec<&FlagV1> =
        work.flags.iter().filter(|flag| flag.weight != WeightV1::Remark).collect();
    if !serious.is_empty() {
        out.push_str("\nLook at this first:\n");
    }
    for flag in serious {
        let _ = writeln!(out, "  {} {}", line(&flag.code), sentence(flag));
    }
}

/// The table of passes, as far as these sensors counted them.
pub(super) fn passes(out: &mut String, work: &WorkV1, sensors: &Sensors<'_>) {
    out.push_str("\nPass  dir.  state    ");
    for (name, _) in sensors {
        let _ = write!(out, "{:>16}", format!("{} impulses", line(name)));
    }
    out.push_str("   satellite m    by tape  by satellite\n");
    for pass in &work.passes {
        pass_line(out, pass, sensors);
    }
}

fn pass_line(out: &mut String, pass: &PassV1, sensors: &Sensors<'_>) {
    let show = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |v| format!("{v:.1}"));
    let way = line(pass.direction.as_deref().unwrap_or("-"));
    let _ = write!(out, "{:>4}  {way:<4}  {:<9}", pass.number, line(&pass.state));
    let counted = |channel: &'_ ChannelV1| {
        channel.passes.iter().find(|one| one.number == pass.number).cloned()
    };
    for (_, channel) in sensors {
        let _ = write!(out, "{:>16}", show(counted(channel).and_then(|one| one.impulses)));
    }
    let length = satellite_m(pass).map_or_else(
        || "-".to_owned(),
        |(length_m, half_m)| format!("{length_m:.2} ± {half_m:.2}"),
    );
    let first = sensors.first().and_then(|(_, channel)| counted(channel)).filter(PassV1::used);
    let (tape, satellite) = first.map_or((None, None), |one| (one.by_tape(), one.by_satellite()));
    let _ = writeln!(out, "  {length:>14} {:>9} {:>13}", show(tape), show(satellite));
}

/// The values of one sensor, and the largest lines of the best one's budget.
pub(super) fn details(out: &mut String, name: &str, channel: &ChannelV1, lines_most: usize) {
    let _ = writeln!(out, "\n{}, impulses per 100 m", line(name));
    for (side, figure) in channel.sides() {
        let Some(figure) = figure else {
            let _ = writeln!(out, "  {side:<10} no result");
            continue;
        };
        let _ = writeln!(
            out,
            "  {side:<10} {}  ({} coverage, k = {:.2}, {} degrees of freedom)",
            pair(figure),
            coverage(figure),
            figure.coverage_factor,
            freedom(figure.degrees_of_freedom)
        );
    }
    let Some(best) = channel.best() else { return };
    if let Some(m) = channel.monte_carlo {
        let [low, high] = m.interval;
        let _ = writeln!(
            out,
            "  by {} Monte Carlo trials: {low:.1} to {high:.1}, standard uncertainty {:.2}",
            m.trials, m.standard_uncertainty
        );
    }
    out.push_str("  sources of uncertainty (standard uncertainty in the value):\n");
    for one in best.budget.iter().take(lines_most) {
        let _ = writeln!(out, "    {:>8.3}  {}", one.contribution.abs(), line(&one.source));
    }
    let more = best.budget.len().saturating_sub(lines_most);
    if more > 0 {
        let _ = writeln!(out, "    and {more} smaller");
    }
}

fn footer(out: &mut String, work: &WorkV1) {
    out.push('\n');
    for sentence in course(work).into_iter().chain(clocks(work)).chain(sky(work)) {
        let _ = writeln!(out, "{sentence}");
    }
    for assumption in &work.assumptions {
        let _ = writeln!(out, "Assumed: {}", line(assumption));
    }
    for flag in work.flags.iter().filter(|flag| flag.weight == WeightV1::Remark) {
        let _ = writeln!(out, "Remark: {}", sentence(flag));
    }
}
