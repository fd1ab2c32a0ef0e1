//! Guidance under way: how far a value is from what is wanted, and the map of the passes.

use crate::model::FurtherRow;

pub(crate) const COURSE_MAP: &str = "Course and passes";
pub(crate) const NO_COURSE_MAP: &str =
    "The map begins with the first pass that was driven with a receiver.";
pub(crate) const PEG: &str = "peg";
/// Heads of the numbers beside the map.
pub(crate) const MAP_HEADS: [&str; 4] = ["Pass", "Way", "By satellite", "Beside the line"];

/// Label of what further passes would do for a sensor's value.
pub(crate) fn further_of(channel: &str) -> String {
    format!("Uncertainty, {channel}")
}

/// What further passes would do, one sentence or two.
#[must_use]
pub fn further(row: &FurtherRow, narrow: bool) -> String {
    let FurtherRow { wanted_percent, reached_percent, more, endless_percent, stays } = row;
    if narrow {
        return match more {
            Some(0) => "passes enough".to_owned(),
            Some(1) => "1 more pass".to_owned(),
            Some(more) => format!("about {more} more passes"),
            None => "more passes will not do".to_owned(),
        };
    }
    let now = format!("\u{b1}{reached_percent:.2} % now, \u{b1}{wanted_percent:.2} % wanted");
    match more {
        Some(more @ 1..) if reached_percent <= wanted_percent => format!(
            "{now}: reached so far. {more} more to be sure: four passes at least, as many back as \
             out."
        ),
        Some(0) => format!("{now}: reached. More passes are not needed."),
        Some(1) => format!("{now}. 1 more pass should do."),
        Some(more) => format!("{now}. About {more} more passes should do."),
        None if endless_percent >= wanted_percent => {
            let stays = stays
                .as_ref()
                .map_or_else(String::new, |stays| format!(" What stays is mostly: {stays}."));
            format!(
                "{now}. Passes alone will not do: \u{b1}{endless_percent:.2} % is left however \
                 many are driven.{stays}"
            )
        }
        None => format!(
            "{now}. It would take more passes than are worth driving. A longer course or a better \
             stop beside the pegs helps more."
        ),
    }
}

pub(crate) fn not_used() -> String {
    format!(" ({})", super::pass_state(crate::model::PassState::Refused))
}

/// The map in words.
pub(crate) fn map_words(passes: usize, wider: f64) -> String {
    let passes = if passes == 1 { "1 pass".to_owned() } else { format!("{passes} passes") };
    format!(
        "{passes} along the course, square for out and round for back; the arrow points north. \
         Across the course everything is drawn {wider:.0} times wider."
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_is_said_in_one_plain_sentence() {
        let row = |reached_percent: f64, more| FurtherRow {
            wanted_percent: 0.1,
            reached_percent,
            more,
            endless_percent: 0.05,
            stays: Some("tape class".to_owned()),
        };
        let said = |row: &FurtherRow| further(row, false);
        assert_eq!(
            said(&row(0.08, Some(0))),
            "\u{b1}0.08 % now, \u{b1}0.10 % wanted: reached. More passes are not needed."
        );
        assert!(said(&row(0.08, Some(2))).contains("four passes at least"));
        assert!(said(&row(0.2, Some(4))).contains("About 4 more passes"));
        assert!(said(&row(0.9, None)).contains("than are worth driving"));
        let never = FurtherRow { endless_percent: 0.15, ..row(0.2, None) };
        assert!(said(&never).contains("mostly: tape class"), "{}", said(&never));
        assert_eq!(further(&row(0.2, Some(4)), true), "about 4 more passes");
    }
}
