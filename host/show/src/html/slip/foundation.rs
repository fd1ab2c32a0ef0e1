//! What to mind, what the slip rests on, and what changed since an earlier capture.

use super::super::page::section;
use super::super::page::words::{line, significant};
use super::{FACTOR, metres, with_doubt};
use maud::{Markup, html};
use trundle_core::survey::slip::compare::Difference;
use trundle_core::survey::slip::{Section, SectionFlag, Slip};
use trundle_core::units::KM_H_PER_M_S;

/// Every flag with what it means and what to do.
const TOLD: [(SectionFlag, &str, &str); 5] = [
    (
        SectionFlag::MountingUnknown,
        "They lie in turns, and the place of the antenna is not known: an antenna to one side goes \
         a shorter or longer way than the axle",
        "Measure its place with `trundle mount` and give it with --right and --ahead",
    ),
    (
        SectionFlag::LinkGap,
        "They begin or end where no count came in for more than half a second",
        "Check the board's cable and plug",
    ),
    (
        SectionFlag::FixQualityChanged,
        "The kind of fix changed inside them, and positions may have jumped",
        "Look for open sky, and for the correction signal",
    ),
    (
        SectionFlag::FixUnreliable,
        "Fixes inside them were rejected as implausible, or stood still",
        "Check the receiver's place and settings",
    ),
    (
        SectionFlag::Unreliable,
        "They are less sure than ±5 %",
        "Take longer windows with --window, or a better receiver",
    ),
];

/// The section with the flags.
pub fn flags(slip: &Slip) -> Markup {
    let body = html! {
        @if slip.sections.iter().all(|w| w.flags.is_empty()) {
            p { "Nothing. No window has a flag." }
        } @else {
            ul class="findings" {
                @for (flag, means, next) in TOLD {
                    @let with: Vec<&Section> =
                        slip.sections.iter().filter(|w| w.flags.contains(&flag)).collect();
                    @if !with.is_empty() {
                        @let length_m = with.iter().map(|w| w.length_m).sum();
                        li class="finding rank-2" {
                            p class="what" {
                                (with.len()) " of " (slip.sections.len()) " windows, "
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
    section("flags", "What to mind", &body)
}

/// The section on what the result rests on.
pub fn rests_on(slip: &Slip) -> Markup {
    let zero = slip.zero_slip;
    // 15 % by this denominator, told by the other.
    let other = 100.0 * 0.15 / (1.0 - 0.15);
    let noise = &slip.noise;
    let body = html! {
        p {
            strong { "Figure without slip: " }
            (format!("{:.1}", zero.per_100m)) " impulses per 100\u{a0}m, standard uncertainty "
            (significant(zero.standard_uncertainty, 2))
            ". It belongs to these tyres at this pressure and load, on firm ground. An error of "
            "1\u{a0}% in it moves every slip here by about 1\u{a0}%, all the same way."
        }
        p {
            strong { "What slip is: " }
            "one less the way over the ground divided by the way that the wheels turned. The "
            "larger, loaded quantity stands in the denominator. Others divide by the way over the "
            "ground and get larger numbers: 15\u{a0}% here are " (format!("{other:.1}"))
            "\u{a0}% there."
        }
        (antenna(slip))
        p {
            strong { "Windows: " }
            (metres(slip.section_m)) " long, or what a pass or turn leaves over. Slower than "
            (format!("{:.1}", KM_H_PER_M_S * slip.least_speed_m_s))
            "\u{a0}km/h, backwards, or without "
            "positions no slip is given: that was so over " (metres(slip.withheld_m)) "."
        }
        p {
            strong { "Receiver: " }
            "learned from this drive. Its speed, added up over 10 seconds, is good to "
            (centimetres(10.0 * noise.speed_walk_m2_s)) " (standard); a single position differs "
            "from the next by " (centimetres(2.0 * noise.white_m2)) ", and the difference of two "
            "positions 10 seconds apart wanders by " (centimetres(10.0 * noise.walk_m2_s))
            ". It answers " (trundle_core::units::decimals(1000.0 * slip.lag_s.value, 0))
            "\u{a0}ms late, standard "
            "uncertainty " (format!("{:.0}", 1000.0 * slip.lag_s.standard_uncertainty))
            "\u{a0}ms."
        }
        p {
            strong { "Doubt: " }
            "the intervals cover 95\u{a0}%. The receiver's errors are each window's own and "
            "average out; those of the figure without slip and of the antenna's place are the same "
            "everywhere and do not."
        }
    };
    section("foundation", "On what it rests", &body)
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
                "its place is not known; it was taken to be near the middle, and turns are given "
                "the doubt that goes with that. "
            }
            "Right of the middle counts positive and left negative, seen in the direction of "
            "travel; ahead of the rear axle counts positive and behind it negative. The map shows "
            "the way of the axle, not that of the antenna."
        }
    }
}

fn centimetres(variance_m2: f64) -> String {
    format!("{}\u{a0}cm", significant(100.0 * variance_m2.max(0.0).sqrt(), 2))
}

/// The section on an earlier capture of the same ground.
pub fn comparison(name: &str, difference: &Difference) -> Markup {
    let (value, half) = with_doubt(difference.difference, difference.expanded_uncertainty);
    let sign = if difference.difference > 0.0 { "+" } else { "" };
    let plain = |slip: f64| with_doubt(slip, FACTOR * difference.standard_uncertainty).0;
    let verdict = if !difference.is_significant() {
        "That may be chance: the interval holds zero. No difference shows here."
    } else if difference.difference < 0.0 {
        "Less slip than before, by more than chance allows."
    } else {
        "More slip than before, by more than chance allows."
    };
    let body = html! {
        p {
            "Against " bdi { (line(name)) } ", at the same places and the same way: slip changed "
            "by "
            strong { (sign) (value) " ± " (half) "\u{a0}%" } " of travel (95\u{a0}%), from "
            (plain(difference.first)) "\u{a0}% to " (plain(difference.second)) "\u{a0}%."
        }
        p { strong { (verdict) } }
        p class="quiet" {
            (difference.pairs) " pairs of windows over " (metres(difference.distance_m))
            ". Pairing leaves out what differs between places; the interval comes from the scatter "
            "of the pairs and from the figures without slip."
        }
    };
    section("comparison", "Against the earlier capture", &body)
}
