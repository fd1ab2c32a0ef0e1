//! Did the value take: the answer large, what is wrong and what to do before anything else.

use super::{Came, Markup, none, rows, verdict, words};
use crate::live::page::listed::{CheckRow, How, proof_row};
use crate::phrases::proof::answer;
use crate::reading::Reading;
use crate::text::proof as text;
use maud::html;
use trundle_core::survey::proof::{Proof, Taken};

/// What a proof drive came to.
#[must_use]
pub fn proof(proof: &Proof, reading: &Reading) -> Markup {
    let speeds = proof.speeds.iter().map(|one| speed(one, reading));
    let readings: Vec<CheckRow> = proof.passes.iter().map(proof_row).chain(speeds).collect();
    html! {
        @match &proof.judged {
            Err(why) => (none(&why.to_string(), why.means(), why.next())),
            Ok(judged) => {
                @let came = match judged.taken {
                    Taken::Took if judged.alarms.is_empty() => Came::Good,
                    Taken::Took | Taken::CannotTell => Came::Open,
                    Taken::TookButOff | Taken::DidNotTake => Came::Bad,
                };
                @let whole = answer(judged, &proof.known);
                (verdict(came, &said(&whole, text::after(judged, proof))))
            },
        }
        @if !readings.is_empty() { (rows(words::READINGS, &readings)) }
    }
}

/// The first sentence by itself, which is read from a distance.
fn said(whole: &str, after: Vec<String>) -> Vec<String> {
    let (first, rest) = whole.split_once(". ").unwrap_or((whole, ""));
    let first = format!("{}.", first.trim_end_matches('.'));
    let rest = Some(rest.to_owned()).filter(|rest| !rest.is_empty());
    std::iter::once(first).chain(rest).chain(after).collect()
}

fn speed(one: &trundle_core::survey::proof::SpeedReading, reading: &Reading) -> CheckRow {
    let label = words::speed_read(&reading.speed(one.shown_m_s, 2));
    match one.run {
        Ok(run) => {
            let satellite = run.speed_m_s.map(|speed| reading.speed(speed.value, 2));
            let seen = words::speed_run(run.seconds, satellite);
            CheckRow::new(How::Good, words::USED, &label, seen, "")
        }
        Err(why) => {
            let seen = words::sentence(&why.to_string());
            CheckRow::new(How::Bad, words::NOT_USED, &label, seen, "")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::said;

    #[test]
    fn the_answer_stands_alone_and_loses_no_word() {
        let parts = said("IT TOOK. Value 12 is in force.", vec!["Next: x.".to_owned()]);
        assert_eq!(parts, ["IT TOOK.", "Value 12 is in force.", "Next: x."]);
        assert_eq!(said("THE BUS IS RIGHT: 1.0.", Vec::new()), ["THE BUS IS RIGHT: 1.0."]);
    }
}
