//! Did the value take: one wording for terminal and paper.

use super::Warning;
use super::plain::{line, sentence_case};
use trundle_core::result::as_left::OTHER_VALUE;
use trundle_core::stats::budget::rounding::round_pair;
use trundle_core::survey::proof::{Alarm, By, Candidate, Judged, Known, Taken, source_words};

/// A ratio with its interval, rounded.
pub fn ratio_words(value: f64, half_width: f64) -> String {
    round_pair(value, half_width).to_string()
}

/// What is shown of the truth, in a clause.
fn shown(judged: &Judged) -> String {
    let (who, what) = match judged.by {
        By::Distance => ("the terminal", "distance"),
        By::Speed => ("the terminal", "speed"),
        By::Bus => ("the bus", "distance"),
    };
    match judged.ratio {
        Some((value, expanded)) => {
            let ratio = ratio_words(value, expanded.expanded_uncertainty);
            format!("{who} shows {ratio} of the true {what} (95 % coverage)")
        }
        None => format!("the true {what} is not known"),
    }
}

fn in_force(judged: &Judged) -> String {
    judged.in_force.map_or_else(String::new, |(value, expanded)| {
        let value = round_pair(value, expanded.expanded_uncertainty);
        format!(" It works with about {value} impulses per 100 m.")
    })
}

/// The answer of readings by themselves, in two or three words.
pub const fn taken_words(taken: Taken) -> &'static str {
    match taken {
        Taken::Took => "it took",
        Taken::TookButOff => "it took, but it is wrong",
        Taken::DidNotTake => "it did not take",
        Taken::CannotTell => "it cannot be told",
    }
}

/// The answer in one line.
pub fn answer(judged: &Judged, known: &Known) -> String {
    let shown = shown(judged);
    let display = if judged.by == By::Bus { "BUS" } else { "DISPLAY" };
    let named: Vec<String> = judged.mistakes().map(|one| mistake(one, known)).collect();
    match (judged.taken, known.entered()) {
        (Taken::Took, Some(value)) => format!("IT TOOK. Value {value} is in force; {shown}."),
        (Taken::Took, None) => format!("THE {display} IS RIGHT: {shown}."),
        (Taken::TookButOff, Some(value)) => {
            let tyres = if named.is_empty() {
                String::new()
            } else {
                format!(" {}.", sentence_case(&named.join("; or ")))
            };
            format!("IT TOOK, BUT IT IS WRONG. Value {value} is in force, but {shown}.{tyres}")
        }
        (Taken::TookButOff, None) => format!("THE {display} IS WRONG: {shown}."),
        (Taken::DidNotTake, _) if named.is_empty() => match judged.handed_on_instead() {
            Some(instead) => {
                let instead = sentence_case(&instead);
                format!("IT DID NOT TAKE. {instead}; {shown}.{}", in_force(judged))
            }
            None => {
                format!("IT DID NOT TAKE, and no known mistake fits: {shown}.{}", in_force(judged))
            }
        },
        (Taken::DidNotTake, _) => {
            let several = if named.len() > 1 { "SEVERAL MISTAKES FIT: " } else { "" };
            let named = sentence_case(&named.join("; or "));
            format!("IT DID NOT TAKE. {several}{named}; {shown}.")
        }
        (Taken::CannotTell, _) => {
            let all = judged.all_that_fits(known);
            let rest = if all.len() > 1 {
                format!(" All of this fits: {}.", line(&all.join("; or ")))
            } else {
                String::new()
            };
            format!("CANNOT BE TOLD: {shown}.{rest}")
        }
    }
}

/// What came of a proof drive, in few words; `state` as a record has it. Of a word that this
/// version does not know, that word.
pub fn outcome(state: &str) -> String {
    match state {
        "took" => "took".to_owned(),
        "took_but_off" => "in force, but shown wrong".to_owned(),
        "did_not_take" => "DID NOT TAKE".to_owned(),
        "cannot_tell" => "cannot be told".to_owned(),
        OTHER_VALUE => "ANOTHER VALUE IS IN FORCE".to_owned(),
        other => line(other),
    }
}

/// A mistake in a clause.
pub fn mistake(one: &Candidate, known: &Known) -> String {
    line(&one.words(known))
}

/// What to do, in a sentence.
pub fn next(judged: &Judged, known: &Known) -> String {
    let source = known.source().name();
    let entered = known.entered().map_or_else(|| "the value".to_owned(), |v| v.to_string());
    match judged.taken {
        Taken::Took => "leave it as it is.".to_owned(),
        Taken::TookButOff => {
            let right = judged.ratio.zip(known.entered()).map(|((ratio, _), value)| {
                format!(" By this drive alone it would be {:.0}.", ratio * value)
            });
            format!(
                "see that the tyres, their pressure and the ground are those of the value, and \
                 measure it again (`trundle drive`).{}",
                right.unwrap_or_default()
            )
        }
        Taken::DidNotTake if judged.by == By::Bus => {
            let choose = judged.handed_on_instead().map_or_else(String::new, |_| {
                let speed = if source == "radar" { "ground-based" } else { "wheel-based" };
                format!("choose the {speed} speed as the one that is handed on, ")
            });
            format!(
                "in the tractor, {choose}enter {entered} again for the {source}, store it, switch \
                 the ignition off and on, and drive again."
            )
        }
        Taken::DidNotTake => format!(
            "enter {entered} again for the {source}, store it, see that the terminal goes by the \
             {source}, switch it off and on, and drive again."
        ),
        Taken::CannotTell => judged.more.map_or_else(
            || {
                if judged.by == By::Bus && judged.beside.is_empty() {
                    "leave ignition and source of the speed as they are, and drive two more passes."
                } else {
                    "reject the reading that was typed wrong (x), or drive and read again."
                }
                .to_owned()
            },
            |more| {
                let passes = if more.passes == 1 {
                    "one pass".to_owned()
                } else {
                    format!("{} passes", more.passes)
                };
                format!(
                    "read the distance at both pegs of {passes} of 100 m, or of one of {:.0} m.",
                    more.metres
                )
            },
        ),
    }
}

/// What the error does, in a sentence; `None` where none is shown.
pub fn cost(judged: &Judged, rate_l_per_ha: Option<f64>) -> Option<String> {
    let cost = judged.cost?;
    let (side, more) = if cost.error > 0.0 { ("much", "more") } else { ("little", "less") };
    let percent = round_pair(100.0 * cost.error.abs(), 100.0 * cost.expanded.expanded_uncertainty);
    let mut text = format!(
        "Until it is mended: speed, distance and area read too {side} by {percent} %, and the \
         implement applies as much too {side}. For each hectare worked {:.0} m² {more} are \
         counted.",
        cost.area_m2_per_ha.abs()
    );
    if let Some(rate) = rate_l_per_ha {
        let off = cost.of_rate(rate);
        text += &format!(
            " Set to {rate} l/ha it puts out {:.1} l/ha, {:.1} l/ha {more} than wanted.",
            rate + off,
            off.abs()
        );
    }
    Some(text)
}

/// What is to be looked at.
pub fn alarm(one: Alarm, known: &Known) -> Warning {
    let (source, other) = (known.source().name(), known.other().name());
    let code = one.code();
    match one {
        Alarm::SpeedDisagrees { apart } => Warning {
            code,
            what: format!(
                "The speed shown is {:.1} % {} than the distance shown would have it.",
                100.0 * apart.abs(),
                if apart > 0.0 { "higher" } else { "lower" }
            ),
            means: "Speed and distance go by different sensors or values, or one was typed wrong.",
            next: "find out in the terminal's settings which one the implement goes by.",
        },
        Alarm::Contradict => Warning {
            code,
            what: "The readings contradict each other by more than the display allows.".to_owned(),
            means: "One was typed wrong, the distance was reset, or it follows no sensor of these.",
            next: "reject the wrong one, or drive two more passes.",
        },
        Alarm::BusDisagrees { .. }
        | Alarm::BusContradicts
        | Alarm::OtherHandedOn(_)
        | Alarm::HandedOnChanged => bus_alarm(one, known),
        Alarm::OtherSensorFollowed => Warning {
            code,
            what: format!(
                "What is shown goes with the {other}'s impulses, not with the {source}'s."
            ),
            means: "The terminal goes by another sensor than it should.",
            next: "choose the right sensor in the terminal, and drive again.",
        },
        Alarm::NoTruth => Warning {
            code,
            what: "There is no true distance by tape or satellite.".to_owned(),
            means: "It is shown which value is in force, not whether it is right.",
            next: "give the course with --length, or connect the receiver.",
        },
        Alarm::EnteredUnknown => Warning {
            code,
            what: "Nobody said which value was keyed in.".to_owned(),
            means: "It is shown whether the display is right, not which value is in force.",
            next: "give it with --entered.",
        },
    }
}

/// The same of what the bus shows.
fn bus_alarm(one: Alarm, known: &Known) -> Warning {
    let code = one.code();
    let (what, means, next) = match one {
        Alarm::BusDisagrees { apart } => (
            format!(
                "The bus shows {:.2} % {} than what was typed.",
                100.0 * apart.abs(),
                if apart > 0.0 { "more" } else { "less" }
            ),
            "The terminal does not go by what the tractor hands on, or a reading was typed wrong. \
             Nothing was averaged.",
            "find out in the terminal's settings where its speed comes from, and drive again.",
        ),
        Alarm::OtherHandedOn(other) => (
            format!(
                "The tractor hands on {}, and implements should go by the {}.",
                source_words(other),
                known.source().name()
            ),
            "What was keyed in for one sensor does nothing while another one is handed on.",
            "choose the right source in the tractor, and drive again.",
        ),
        Alarm::HandedOnChanged => (
            "The tractor handed on now one speed, now another one.".to_owned(),
            "The distance on the bus is made of both, and no value can be judged by it.",
            "choose one source in the tractor, and drive again.",
        ),
        _ => (
            "The passes on the bus contradict each other by more than its messages allow."
                .to_owned(),
            "Its distance follows no sensor of these, or something was changed in between.",
            "drive two more passes and change nothing in between.",
        ),
    };
    Warning { code, what, means, next }
}
