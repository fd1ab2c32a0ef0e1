//! Did the value that was keyed in take, for the terminal: the answer first.

use super::bus::distance_name;
use super::lines::{assumed, with_cautions};
use crate::phrases::plain::line;
use crate::phrases::proof::{alarm, answer, cost, mistake, next, ratio_words, taken_words};
use std::fmt::Write as _;
use trundle_core::cautions;
use trundle_core::stats::budget::rounding::round_pair;
use trundle_core::survey::proof::{
    Beside, BusReading, By, HandedOn, Judged, OnBus, Proof, SpeedReading, Taken, source_words,
};
use trundle_core::units::KM_H_PER_M_S;

/// Lines of the budget that are shown.
const BUDGET_LINES: usize = 5;

/// The result as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render(proof: &Proof) -> String {
    let mut out = String::new();
    match &proof.judged {
        Ok(judged) => judgement(&mut out, judged, proof),
        Err(refusal) => {
            let _ = writeln!(out, "PROOF: NO RESULT: {refusal}.");
            let _ = writeln!(out, "{} {}", refusal.means(), refusal.next());
        }
    }
    passes(&mut out, proof);
    speeds(&mut out, proof);
    if let Some(bus) = &proof.bus {
        on_bus(&mut out, bus);
    }
    for astray in &proof.astray {
        let _ = writeln!(
            out,
            "Not used: \"{}\" was typed at no standstill beside a marked peg.",
            line(astray)
        );
    }
    if let Ok(judged) = &proof.judged {
        details(&mut out, judged);
    }
    assumed(&mut out, &assumptions(proof));
    with_cautions(out, cautions::PROOF)
}

fn judgement(out: &mut String, judged: &Judged, proof: &Proof) {
    let _ = writeln!(out, "PROOF: {}", answer(judged, &proof.known));
    if let Some(words) = cost(judged, proof.stated.rate_l_per_ha) {
        let _ = writeln!(out, "{words}");
    }
    let _ = writeln!(out, "Next: {}", next(judged, &proof.known));
    let same: Vec<String> = judged.mistakes().map(|one| mistake(one, &proof.known)).collect();
    if judged.taken == Taken::Took && !same.is_empty() {
        let same = same.join("; or ");
        let _ = writeln!(out, "Not distinguished, since it would show the same here: {same}.");
    }
    for one in &judged.beside {
        let _ = writeln!(out, "{}", beside(one));
    }
    for one in &judged.alarms {
        let _ = writeln!(out, "{}", alarm(*one, &proof.known));
    }
}

/// What the readings say, what it costs, and what is wrong; the answer left out.
pub(crate) fn after(judged: &Judged, proof: &Proof) -> Vec<String> {
    let mut out = String::new();
    judgement(&mut out, judged, proof);
    out.lines().skip(1).map(str::to_owned).collect()
}

/// What other readings say by themselves.
fn beside(one: &Beside) -> String {
    let what = match one.by {
        By::Distance => "the distance typed",
        By::Speed => "the speed typed",
        By::Bus => "the distance on the bus",
    };
    let ratio = one.ratio.map_or_else(String::new, |(value, expanded)| {
        format!(", shown over true {}", ratio_words(value, expanded.expanded_uncertainty))
    });
    format!("By {what} alone: {}{ratio}.", taken_words(one.taken))
}

fn on_bus(out: &mut String, bus: &OnBus) {
    let handed_on = match bus.handed_on {
        HandedOn::NotStated => "the tractor does not state which speed it hands on".to_owned(),
        HandedOn::From(source) => format!("the tractor hands on {}", source_words(source)),
        HandedOn::Changed(source) => {
            format!("the tractor hands on {}, and at times another one", source_words(source))
        }
    };
    let _ = writeln!(out, "\nOn the bus: {handed_on}.");
    if let Err(why) = &bus.chosen {
        let _ = writeln!(out, "The bus is not used: {why}.");
    }
    for (number, reading) in bus.readings.iter().enumerate() {
        let used = if bus.chosen == Ok(number) { ": the answer rests on it" } else { "" };
        let _ = writeln!(out, "{}{used}", distance_name(reading.key));
        bus_reading(out, reading);
    }
}

fn bus_reading(out: &mut String, reading: &BusReading) {
    for pass in &reading.passes {
        let _ = match pass.shown {
            Ok(shown) => {
                let satellite = shown
                    .satellite_m
                    .map_or_else(String::new, |metres| format!(", by satellite {metres:.2} m"));
                writeln!(out, "  pass {}: {:.3} m{satellite}", pass.number, shown.shown_m)
            }
            Err(refusal) => writeln!(out, "  pass {} not used: {refusal}", pass.number),
        };
    }
    if let Some((value, expanded)) = reading.ratio() {
        let ratio = ratio_words(value, expanded.expanded_uncertainty);
        let _ = writeln!(out, "  shown over true: {ratio} (95 % coverage)");
    }
    if let Some(((value, expanded), sensor)) = reading.in_force().zip(reading.sensor()) {
        let value = round_pair(value, expanded.expanded_uncertainty);
        let name = sensor.name();
        let _ = writeln!(out, "  works with {value} impulses per 100 m of the {name}");
    }
}

fn passes(out: &mut String, proof: &Proof) {
    // Beside a bus nothing has to be typed.
    if proof.passes.is_empty() || proof.typed == 0 && proof.bus.is_some() {
        return;
    }
    let show = |value: Option<f64>, places: usize| {
        value.map_or_else(|| "-".to_owned(), |value| format!("{value:.places$}"))
    };
    let _ = writeln!(
        out,
        "\n{:<6}{:>12}{:>12}{:>11}{:>14}{:>12}{:>12}",
        "Pass", "start m", "end m", "shown m", "satellite m", "wheel imp.", "radar imp."
    );
    for pass in &proof.passes {
        let (start, end) = (show(pass.start_m, 2), show(pass.finish_m, 2));
        let _ = write!(out, "{:>4}  {start:>12}{end:>12}", pass.number);
        let _ = match pass.shown {
            Ok(shown) => writeln!(
                out,
                "{:>11}{:>14}{:>12}{:>12}{}",
                show(Some(shown.shown_m), 2),
                show(shown.satellite_m, 2),
                show(shown.impulses[0].map(|count| count.impulses), 0),
                show(shown.impulses[1].map(|count| count.impulses), 0),
                if shown.wrapped { "  began again at 0" } else { "" }
            ),
            Err(refusal) => writeln!(out, "  not used: {refusal}"),
        };
    }
}

fn speeds(out: &mut String, proof: &Proof) {
    if proof.speeds.is_empty() {
        return;
    }
    let _ = writeln!(
        out,
        "\n{:<8}{:>12}{:>10}{:>16}{:>14}{:>14}",
        "Speed", "shown km/h", "run s", "satellite km/h", "wheel imp./s", "radar imp./s"
    );
    for (number, one) in (1..).zip(&proof.speeds) {
        let _ = writeln!(out, "{}", speed(number, one));
    }
}

fn speed(number: u32, one: &SpeedReading) -> String {
    let shown = KM_H_PER_M_S * one.shown_m_s;
    let start = format!("  {number:<6}{shown:>12.2}");
    let show =
        |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{value:.2}"));
    match one.run {
        Ok(run) => format!(
            "{start}{:>10.0}{:>16}{:>14}{:>14}",
            run.seconds,
            show(run.speed_m_s.map(|speed| KM_H_PER_M_S * speed.value)),
            show(run.rates_hz[0].map(|rate| rate.value)),
            show(run.rates_hz[1].map(|rate| rate.value))
        ),
        Err(refusal) => format!("{start}  not used: {refusal}"),
    }
}

fn details(out: &mut String, judged: &Judged) {
    let Some((value, expanded)) = judged.ratio else { return };
    let _ = writeln!(
        out,
        "\nShown over true: {} (95 % coverage, k = {:.2}); sources of uncertainty, standard, in %:",
        ratio_words(value, expanded.expanded_uncertainty),
        expanded.coverage_factor
    );
    for one in judged.budget.iter().take(BUDGET_LINES) {
        let _ = writeln!(out, "  {:>8.4}  {}", 100.0 * one.contribution.abs(), line(&one.source));
    }
    let more = judged.budget.len().saturating_sub(BUDGET_LINES);
    if more > 0 {
        let _ = writeln!(out, "  and {more} smaller");
    }
}

/// What was assumed, in sentences.
fn assumptions(proof: &Proof) -> Vec<String> {
    let mut out = Vec::new();
    if proof.known.source.is_none() {
        let sensor = proof.known.source().name();
        out.push(format!("The terminal should go by the {sensor} (state it with --source)."));
    }
    if proof.bus.as_ref().is_some_and(|bus| bus.chosen.is_ok()) {
        out.push("The tractor's control unit counts the same sensors as the board.".to_owned());
    }
    let distances = proof.passes.iter().any(|pass| pass.start_m.or(pass.finish_m).is_some());
    for (what, typed, stated, option) in [
        ("distance", distances, proof.stated.distance_step_m, "--step"),
        ("speed", !proof.speeds.is_empty(), proof.stated.speed_step_km_h, "--speed-step"),
    ] {
        if typed && stated.is_none() {
            out.push(format!(
                "The last digit typed is the last step of the {what} shown (state it with \
                 {option})."
            ));
        }
    }
    if !proof.speeds.is_empty() {
        out.push("The speed shown is rounded to the nearest step.".to_owned());
    }
    out.extend(proof.work.assumptions.iter().map(|assumption| line(assumption)));
    out
}
