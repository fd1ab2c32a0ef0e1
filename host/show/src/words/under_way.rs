//! Guidance under way: how far a value is from what is wanted, and the map of the passes.

use crate::model::FurtherRow;

pub(crate) const COURSE_MAP: &str = "Course and passes";
pub(crate) const NO_COURSE_MAP: &str =
    "The map begins with the first pass that was driven with a receiver.";
pub(crate) const PEG: &str = "peg";
/// Heads of the numbers beside the map.
pub(crate) const MAP_HEADS: [&str; 4] = ["Pass", "Way", "By satellite", "Beside the line"];

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
    let now = format!("\u{b1}{reached_percent:.2} % of \u{b1}{wanted_percent:.2} % wanted");
    match more {
        Some(0) => format!("{now}: reached. More passes are not needed."),
        Some(1) => format!("{now}. 1 more pass should do."),
        Some(more) => format!("{now}. About {more} more passes should do."),
        None if endless_percent >= wanted_percent => {
            let stays = stays
                .as_ref()
                .map_or_else(String::new, |stays| format!(" What stays is mostly: {stays}."));
            format!(
                "{now}. Passes alone will not do: \u{b1}{endless_percent:.2} % is left however many \
                 are driven.{stays}"
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
        "{passes} along the course; the arrow points north. Across the course everything is drawn \
         {wider:.0} times wider."
    )
}
