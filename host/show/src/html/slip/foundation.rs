//! What to mind, what the slip rests on, and what changed since an earlier capture.

use super::super::page::section;
use super::{FACTOR, metres, with_uncertainty};
use crate::phrases::plain::{line, significant};
use maud::{Markup, html};
use trundle_core::survey::slip::compare::Difference;
use trundle_core::survey::slip::{Section, SectionFlag, Slip};
use trundle_core::units::KM_H_PER_M_S;

/// Every flag with what it means and what to do.
pub const MEANINGS: [(SectionFlag, &str, &str); 5] = [
    (
        SectionFlag::MountingUnknown,
        "They lie in turns, and the antenna position is not known: an antenna to one side travels \
         a shorter or longer distance than the axle",
        "Measure it with `trundle mount` and enter it with --right and --ahead",
    ),
    (
        SectionFlag::LinkGap,
        "They begin or end where no count was received for more than half a second",
        "Check the board's cable and plug",
    ),
    (
        SectionFlag::FixQualityChanged,
        "The kind of fix changed inside them, or got worse shortly before: positions may have \
         jumped, and the speed may be wrong",
        "Look for open sky, and for the correction signal",
    ),
    (
        SectionFlag::FixUnreliable,
        "Fixes inside them were rejected as implausible, stood still, or show a speed that their \
         own positions contradict; the uncertainty contains by how much",
        "Do not use them; look for bridges, trees and walls there, and for the receiver's settings",
    ),
    (
        SectionFlag::Unreliable,
        "Their uncertainty is more than ±5 %",
        "Use longer sections with --section, or a better receiver",
    ),
];

/// The section with the flags.
pub fn flags(slip: &Slip) -> Markup {
    let body = html! {
        @if slip.sections.iter().all(|w| w.flags.is_empty()) {
            p { "Nothing. No section has a warning." }
        } @else {
            ul class="warnings" {
                @for (flag, means, next) in MEANINGS {
                    @let with: Vec<&Section> =
                        slip.sections.iter().filter(|w| w.flags.contains(&flag)).collect();
                    @if !with.is_empty() {
                        @let length_m = with.iter().map(|w| w.length_m).sum();
                        li class="warning rank-2" {
                            p class="what" {
                                (with.len()) " of " (slip.sections.len()) " sections, "
                                (metres(length_m)) "."
                            }
                            dl {
                                div { dt { "It means" } dd { (means) "." } }
                                div { dt { "Next" } dd { (next) "." } }
                            }
                            p class="code" { (flag.word()) }
                        }
                    }
                }
            }
        }
    };
    section("flags", "Warnings", &body)
}

/// The section on what the result rests on.
pub fn rests_on(slip: &Slip) -> Markup {
    let zero = slip.zero_slip;
    // 15 % by this denominator, stated by the other.
    let other = 100.0 * 0.15 / (1.0 - 0.15);
    let noise = &slip.noise;
    let body = html! {
        p {
            strong { "Zero-slip value: " }
            (format!("{:.1}", zero.per_100m)) " impulses per 100\u{a0}m, standard uncertainty "
            (significant(zero.standard_uncertainty, 2))
            ". It belongs to these tyres at this pressure and load, on firm ground. An error of "
            "1\u{a0}% in it moves every slip here by about 1\u{a0}%, all in the same direction."
        }
        p {
            strong { "What slip is: " }
            "one less the distance over the ground divided by the distance the wheels turned. The "
            "larger, loaded quantity is the denominator. Others divide by the distance over the "
            "ground and get larger numbers: 15\u{a0}% here are " (format!("{other:.1}"))
            "\u{a0}% there."
        }
        (antenna(slip))
        p {
            strong { "Sections: " }
            (metres(slip.section_m)) " long, or the remainder of a pass or turn. Slower than "
            (format!("{:.1}", KM_H_PER_M_S * slip.least_speed_m_s))
            "\u{a0}km/h, backwards, or without "
            "positions there is no result: that was so over " (metres(slip.withheld_m)) "."
        }
        p {
            strong { "Receiver: " }
            "estimated from this drive. Its speed, added up over 10 seconds, has an uncertainty \
             of "
            (centimetres(10.0 * noise.speed_walk_m2_s)) " (standard); a single position differs "
            "from the next by " (centimetres(2.0 * noise.white_m2)) ", and the difference of two "
            "positions 10 seconds apart wanders by " (centimetres(10.0 * noise.walk_m2_s))
            ". Its delay is " (trundle_core::units::decimals(1000.0 * slip.lag_s.value, 0))
            "\u{a0}ms, standard "
            "uncertainty " (format!("{:.0}", 1000.0 * slip.lag_s.standard_uncertainty))
            "\u{a0}ms."
        }
        p {
            strong { "Uncertainty: " }
            "the intervals cover 95\u{a0}%. The receiver's errors differ from section to section \
             and "
            "average out; those of the zero-slip value and of the antenna position are the same "
            "everywhere and do not."
        }
    };
    section("foundation", "Basis of the result", &body)
}

fn antenna(slip: &Slip) -> Markup {
    let signed =
        |m: f64| format!("{}\u{a0}m", trundle_core::units::signed(m, 2)).replace('-', "\u{2212}");
    html! {
        p {
            strong { "Antenna: " }
            @if let Some(m) = slip.mounting {
                (signed(m.right_m)) " to the right of the middle, standard uncertainty "
                (centimetres(m.u_right_m.powi(2))) "; " (signed(m.ahead_m))
                " ahead of the rear axle, standard uncertainty "
                (centimetres(m.u_ahead_m.powi(2))) ". "
            } @else {
                "its position is not known; it is assumed to be near the middle, and turns have "
                "the uncertainty that follows. "
            }
            "Right of the middle counts positive and left negative, seen in the direction of "
            "travel; ahead of the rear axle counts positive and behind it negative. The map shows "
            "the track of the axle, not that of the antenna."
        }
    }
}

fn centimetres(variance_m2: f64) -> String {
    format!("{}\u{a0}cm", significant(100.0 * variance_m2.max(0.0).sqrt(), 2))
}

/// The section on an earlier capture of the same ground.
pub fn comparison(name: &str, difference: &Difference) -> Markup {
    section("comparison", "Against the earlier capture", &compared(name, difference))
}

/// What changed since an earlier capture.
pub fn compared(name: &str, difference: &Difference) -> Markup {
    let (value, half) = with_uncertainty(difference.difference, difference.expanded_uncertainty);
    let sign = if difference.difference > 0.0 { "+" } else { "" };
    let plain = |slip: f64| with_uncertainty(slip, FACTOR * difference.standard_uncertainty).0;
    let verdict = if !difference.is_significant() {
        "Not significant: the interval holds zero. No difference is shown."
    } else if difference.difference < 0.0 {
        "Less slip than before; the difference is significant."
    } else {
        "More slip than before; the difference is significant."
    };
    html! {
        p {
            "Against " bdi { (line(name)) } ", at the same places and in the same direction: slip \
                                             changed "
            "by "
            strong { (sign) (value) " ± " (half) "\u{a0}%" } " of travel (95\u{a0}%), from "
            (plain(difference.first)) "\u{a0}% to " (plain(difference.second)) "\u{a0}%."
        }
        p { strong { (verdict) } }
        p class="quiet" {
            (difference.pairs) " pairs of sections over " (metres(difference.distance_m))
            ". Pairing removes what differs between places; the interval comes from the scatter "
            "of the pairs and from the zero-slip values."
        }
    }
}
