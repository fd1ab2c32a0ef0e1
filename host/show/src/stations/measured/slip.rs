//! Slip: how much, where, and what changed since an earlier drive.

use super::{Came, Markup, none, verdict, words};
use crate::html::slip::{compared as compared_words, total_words};
use crate::reading::Reading;
use maud::html;
use trundle_core::survey::slip::compare::Difference;
use trundle_core::survey::slip::{Slip, SlipRefusal};

/// Slip, or why there is none; `compared` to the earlier capture of that name. The map stands at
/// `/slip/drawing`.
#[must_use]
pub fn slip(
    worked: &Result<Slip, SlipRefusal>,
    compared: Option<&Result<(String, Difference), SlipRefusal>>,
    reading: &Reading,
) -> Markup {
    let slip = match worked {
        Ok(slip) => slip,
        Err(why) => return none(&why.to_string(), why.means(), why.next()),
    };
    let flagged = slip.sections.iter().filter(|section| !section.flags.is_empty()).count();
    let mut said = vec![words::slip_total(&total_words(&slip.totals.all))];
    if flagged > 0 {
        said.push(words::slip_flagged(flagged, slip.sections.len()));
    }
    let came = if flagged == 0 { Came::Good } else { Came::Open };
    let parts = [
        (words::ON_PASSES, slip.totals.passes),
        (words::IN_TURNS, slip.totals.turns),
        (words::IN_WORK, slip.totals.in_work),
    ];
    let length = |length_m: f64| reading.length(length_m, 0);
    html! {
        (verdict(came, &said))
        section {
            h2 { (words::TOTALS) }
            dl .lines {
                div { dt { (words::DRIVEN) } dd { (length(slip.totals.all.distance_m)) } }
                @for (name, total) in parts {
                    @if let Some(total) = total {
                        div {
                            dt { (name) }
                            dd { (total_words(&total)) ", " (length(total.distance_m)) }
                        }
                    }
                }
                @for above in &slip.share_above {
                    div {
                        dt { (words::above(100.0 * above.slip)) }
                        dd { (format!("{:.0} %", 100.0 * above.share_of_distance)) }
                    }
                }
            }
        }
        @match compared {
            Some(Ok((name, difference))) => {
                section .before-after {
                    h2 { (words::COMPARED) }
                    (compared_words(name, difference))
                }
            },
            Some(Err(why)) => (none(&why.to_string(), why.means(), why.next())),
            None => {},
        }
        section {
            h2 { (words::MAP) }
            img .map src="/slip/drawing" alt=(words::MAP);
        }
    }
}
