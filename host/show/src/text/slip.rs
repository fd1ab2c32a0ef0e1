//! Slip for the terminal: how much, how sure, where most of it is; a line a pass or turn below.

use super::lines::wrap;
use std::fmt::Write as _;
use trundle_core::survey::ride::parts::PartKind;
use trundle_core::survey::slip::compare::Difference;
use trundle_core::survey::slip::{Section, SectionFlag, Slip, SlipRefusal, Total};
use trundle_core::units::KM_H_PER_M_S;
use trundle_core::units::decimals;
use trundle_core::units::signed;

/// Coverage factor of the intervals shown: 95 %, the noise being learned from many seconds.
pub const FACTOR: f64 = 1.96;

/// The result as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render(slip: &Slip, compared: Option<&Result<Difference, SlipRefusal>>) -> String {
    let mut out = String::new();
    let all = &slip.totals.all;
    let _ = writeln!(out, "Slip {} over {:.0} m", percent(all), all.distance_m);
    let parts = [
        ("on passes", &slip.totals.passes),
        ("in turns", &slip.totals.turns),
        ("in work", &slip.totals.in_work),
    ];
    for (name, total) in parts {
        if let Some(total) = total {
            let _ = writeln!(out, "  {name:<10} {} over {:.0} m", percent(total), total.distance_m);
        }
    }
    for share in &slip.share_above {
        let _ = writeln!(
            out,
            "  more than {} %: {:.0} % of the way",
            decimals(100.0 * share.slip, 0),
            100.0 * share.share_of_distance
        );
    }
    comparison(&mut out, compared);
    doubts(&mut out, slip);
    legs(&mut out, slip);
    foundation(&mut out, slip);
    wrap(&out)
}

/// A refusal in three lines.
#[must_use]
pub fn refusal(refusal: &SlipRefusal) -> String {
    let what = refusal.to_string();
    wrap(&format!("No slip is given: {what}.\n{}\n{}\n", refusal.means(), refusal.next()))
}

/// One window while it is driven, in a line.
#[must_use]
pub fn window_line(window: &Section) -> String {
    let kind = window.kind.word();
    let words: Vec<&str> = window.flags.iter().map(|flag| flag.word()).collect();
    format!(
        "{kind} {}: slip {} % ± {:.1} % at {:.1} km/h {}",
        window.part,
        decimals(100.0 * window.slip, 1),
        100.0 * FACTOR * window.standard_uncertainty,
        KM_H_PER_M_S * window.ground_speed_m_s,
        words.join(" ")
    )
    .trim_end()
    .to_owned()
}

fn percent(total: &Total) -> String {
    let half = 100.0 * FACTOR * total.standard_uncertainty;
    let slip = decimals((1000.0 * total.slip).round() / 10.0, 1);
    format!("{slip} % ± {:.1} %", half.max(0.1))
}

fn comparison(out: &mut String, compared: Option<&Result<Difference, SlipRefusal>>) {
    match compared {
        Some(Ok(found)) => {
            let verdict = if !found.is_significant() {
                "no difference that could not be chance"
            } else if found.difference < 0.0 {
                "less slip than before"
            } else {
                "more slip than before"
            };
            let _ = writeln!(
                out,
                "\nAgainst the earlier capture, at the same places: {} % ± {:.1} % ({} % \
                 before, {} % now, {} windows): {verdict}.",
                signed(100.0 * found.difference, 1),
                100.0 * found.expanded_uncertainty,
                decimals(100.0 * found.first, 1),
                decimals(100.0 * found.second, 1),
                found.pairs
            );
        }
        Some(Err(refused)) => {
            let _ = write!(
                out,
                "\nNot compared: {refused}.\n{}\n{}\n",
                refused.means(),
                refused.next()
            );
        }
        None => {}
    }
}

fn doubts(out: &mut String, slip: &Slip) {
    let count = |flag| slip.sections.iter().filter(|w| w.flags.contains(&flag)).count();
    let told = [
        (
            SectionFlag::MountingUnknown,
            "lie in turns, and the place of the antenna is not known: measure it with `trundle \
             mount` and give it with --right and --ahead",
        ),
        (SectionFlag::LinkGap, "begin or end in a hole of the counts: check the board's cable"),
        (SectionFlag::FixQualityChanged, "saw the kind of fix change: look for open sky"),
        (SectionFlag::FixUnreliable, "hold fixes that were rejected or stood still"),
        (SectionFlag::Unreliable, "are less sure than ±5 %"),
    ];
    for (flag, words) in told {
        let n = count(flag);
        if n > 0 {
            let _ =
                writeln!(out, "{} {n} of {} windows {words}.", flag.word(), slip.sections.len());
        }
    }
}

fn legs(out: &mut String, slip: &Slip) {
    out.push_str("\n Leg  kind   heading    metres          slip\n");
    for leg in &slip.parts {
        let _ = writeln!(
            out,
            "{:>4}  {:<5} {:>7.0}° {:>9.1} {:>17}",
            leg.number,
            leg.kind.word(),
            leg.heading_deg,
            leg.total.distance_m,
            percent(&leg.total)
        );
    }
}

fn foundation(out: &mut String, slip: &Slip) {
    let zero = slip.zero_slip;
    let _ = write!(
        out,
        "\nSlip is 1 - actual/theoretical travel: the loaded quantity stands in the denominator.\n\
         Figure without slip: {:.1} impulses per 100 m, standard uncertainty {:.1}.\n",
        zero.per_100m, zero.standard_uncertainty
    );
    match slip.mounting {
        Some(m) => {
            let _ = writeln!(
                out,
                "Antenna {} m from the middle (right is positive) and {} m from the rear \
                 axle (ahead is positive).",
                signed(m.right_m, 2),
                signed(m.ahead_m, 2)
            );
        }
        None if slip.sections.iter().any(|w| w.kind == PartKind::Turn) => {
            out.push_str("The place of the antenna is not known: slip in turns is doubtful.\n");
        }
        None => {}
    }
    let _ = writeln!(
        out,
        "{} windows; {:.0} m were too slow, backwards or without positions. The receiver's lag is \
         {} ms ± {:.0} ms (standard).",
        slip.sections.len(),
        slip.withheld_m,
        decimals(1000.0 * slip.lag_s.value, 0),
        1000.0 * slip.lag_s.standard_uncertainty
    );
}
