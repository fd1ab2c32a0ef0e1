//! Impulses per revolution of the PTO shaft for the terminal: the answer first.

use super::lines::{assumed, with_cautions};
use crate::phrases::Warning;
use std::fmt::Write as _;
use trundle_core::cautions;
use trundle_core::stats::budget::rounding::round_pair;
use trundle_core::survey::pto::{Found, Pto, PtoRefusal, SetNow, Whole};

/// The result as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render(pto: &Pto) -> String {
    let mut out = String::new();
    match &pto.found {
        Ok(found) => answer(&mut out, found, pto),
        Err(refusal) => refused(&mut out, *refusal),
    }
    table(&mut out, pto);
    if let Ok(found) = &pto.found {
        details(&mut out, found);
    }
    assumed(&mut out, &assumptions(pto));
    with_cautions(out, cautions::PTO)
}

/// The answer and what belongs to it, a line each.
pub(crate) fn answers(pto: &Pto) -> Vec<String> {
    let mut out = String::new();
    match &pto.found {
        Ok(found) => answer(&mut out, found, pto),
        Err(refusal) => refused(&mut out, *refusal),
    }
    out.lines().map(|line| line.trim_start_matches("PTO: ").to_owned()).collect()
}

/// What was taken for granted, in sentences.
pub(crate) fn assumptions(pto: &Pto) -> Vec<String> {
    let step = pto.options.display_step_rpm;
    let origin = if pto.options.step_given {
        "as stated"
    } else {
        "assumed; state it with \
                                                                --display-step"
    };
    vec![
        format!(
            "The tractor's display shows steps of {step} rpm, rounded to the nearest ({origin})."
        ),
        "The tractor's display is right: an error of the display is an error of the result."
            .to_owned(),
    ]
}

fn refused(out: &mut String, refusal: PtoRefusal) {
    let head = match refusal {
        PtoRefusal::NoSensor | PtoRefusal::NoImpulses => "PTO: NOT NEEDED without a sensor",
        _ => "PTO: NO RESULT",
    };
    let _ = writeln!(out, "{head}: {refusal}.");
    let _ = writeln!(out, "{} {}", refusal.means(), refusal.next());
}

fn answer(out: &mut String, found: &Found, pto: &Pto) {
    let measured = measured(found);
    let _ = match (found.to_enter(), found.whole) {
        (Some(number), _) => writeln!(
            out,
            "PTO: ENTER {number} impulses per revolution (measured {measured}, 95 % coverage)."
        ),
        (None, Whole::Several(low, high)) => writeln!(
            out,
            "PTO: NOT CLEAR, from {low} to {high} impulses per revolution all fit (measured \
             {measured}, 95 % coverage)."
        ),
        (None, Whole::Outside(nearest)) => writeln!(
            out,
            "PTO: NOT CLEAR, measured {measured} impulses per revolution (95 % coverage), and no \
             whole number fits; the nearest is {nearest}."
        ),
        (None, Whole::Only(number)) => writeln!(
            out,
            "PTO: NOT CLEAR, measured {measured} impulses per revolution (95 % coverage); \
             {number} fits, but see the warning."
        ),
    };
    for warning in warnings(found) {
        let _ = writeln!(out, "{warning}");
    }
    if let (Some(verdict), Some(set)) = (found.set_now, pto.options.set_now) {
        let _ = writeln!(out, "{}", set_now(verdict, set, found));
    }
}

/// The ratio with its interval, rounded.
fn measured(found: &Found) -> String {
    round_pair(found.per_rev, found.expanded.expanded_uncertainty).to_string()
}

/// What speaks against the result.
pub(crate) fn warnings(found: &Found) -> Vec<Warning> {
    let mut out = Vec::new();
    if found.contradict {
        out.push(Warning {
            code: "READINGS_CONTRADICT",
            what: "The readings contradict each other by more than display and shaft allow."
                .to_owned(),
            means: "One was typed wrong, or the display counts in coarser steps.",
            next: "delete the wrong reading, or give the display's step with --display-step.",
        });
    }
    if found.offset_differs() {
        out.push(Warning {
            code: "OFFSET_NOT_ZERO",
            what: "Rate and shaft speed are not proportional: a line through them misses zero."
                .to_owned(),
            means: "There are impulses from elsewhere, some are lost, or the display is wrong.",
            next: "check the sensor's plug and cable, and take the readings again.",
        });
    }
    match found.whole {
        Whole::Several(..) => out.push(Warning {
            code: "SEVERAL_NUMBERS_FIT",
            what: "The interval holds more than one whole number.".to_owned(),
            means: "The display is too coarse for this many impulses per revolution.",
            next: "add readings at other, faster shaft speeds, or give the display's true step.",
        }),
        Whole::Outside(_) => out.push(Warning {
            code: "NO_NUMBER_FITS",
            what: "No whole number lies in the interval.".to_owned(),
            means: "The sensor is on a geared shaft, misses teeth, or the display is wrong.",
            next: "read the sensor's data, and compare the display at another shaft speed.",
        }),
        Whole::Only(_) => {}
    }
    out
}

fn set_now(verdict: SetNow, set: f64, found: &Found) -> String {
    let shown = 100.0 * (found.per_rev / set - 1.0);
    let enter = found.to_enter().map_or_else(
        || "Next: solve the above first.".to_owned(),
        |number| format!("Next: enter {number}."),
    );
    let usual = "this is the usual mistake (common practice, no source)";
    match verdict {
        SetNow::Equal => format!("The terminal is set to {set}: this is right; do not change it."),
        SetNow::TwiceTooHigh => format!(
            "The terminal is set to {set}: A FACTOR OF TWO TOO HIGH; {usual}. It shows the shaft \
             half as fast as it turns. {enter}"
        ),
        SetNow::HalfTooLow => format!(
            "The terminal is set to {set}: A FACTOR OF TWO TOO LOW; {usual}. It shows the shaft \
             twice as fast as it turns. {enter}"
        ),
        SetNow::Other => format!(
            "The terminal is set to {set}: WRONG. It shows the shaft speed {} % off. \
             {enter}",
            trundle_core::units::signed(shown, 1)
        ),
    }
}

fn table(out: &mut String, pto: &Pto) {
    if pto.readings.is_empty() {
        return;
    }
    let _ = writeln!(
        out,
        "\n{:<10}{:>10}{:>14}{:>12}{:>14}",
        "Reading", "shown rpm", "impulses/s", "+/-", "per rev"
    );
    for (number, reading) in (1..).zip(&pto.readings) {
        let shown = reading.shown_rpm;
        let _ = match reading.rate {
            Ok(rate) => writeln!(
                out,
                "  {number:<8}{shown:>10}{:>14.3}{:>12.3}{:>14.4}",
                rate.rate_hz,
                rate.u_hz,
                rate.rate_hz / (shown / 60.0)
            ),
            Err(refusal) => writeln!(out, "  {number:<8}{shown:>10}  not used: {refusal}"),
        };
    }
    out.push_str("  (+/-: standard uncertainty, the scatter of single seconds)\n");
}

fn details(out: &mut String, found: &Found) {
    let e = &found.expanded;
    let _ = writeln!(
        out,
        "\nRate over shaft speed: {} per revolution, standard uncertainty {:.4}, k = {:.2}",
        measured(found),
        e.standard_uncertainty,
        e.coverage_factor
    );
    let _ = match &found.line {
        Ok(line) => writeln!(
            out,
            "Line, errors in both: slope {} per revolution, offset {} impulses/s{}; {}",
            round_pair(line.slope, line.slope_half_width),
            round_pair(line.offset_hz, line.offset_half_width_hz),
            line.reduced_chi_squared
                .map_or_else(String::new, |chi| format!(", reduced chi-squared {chi:.2}")),
            if line.offset_differs { "NOT ZERO" } else { "zero lies in its interval" }
        ),
        Err(why) => writeln!(out, "No line: {why}."),
    };
}
