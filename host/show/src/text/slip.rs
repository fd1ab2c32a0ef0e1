//! Slip for the terminal: how much, how sure, where most of it is; a line a pass or turn below.

use super::lines::wrap;
use crate::phrases::slip::FACTOR;
use std::fmt::Write as _;
use trundle_core::survey::ride::parts::PartKind;
use trundle_core::survey::slip::compare::Difference;
use trundle_core::survey::slip::{SectionFlag, Slip, SlipRefusal, Total};
use trundle_core::units::decimals;
use trundle_core::units::signed;

/// The result as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render(slip: &Slip, compared: Option<&Result<Difference, SlipRefusal>>) -> String {
    let mut out = String::new();
    let all = &slip.totals.all;
    let _ = writeln!(out, "Slip {} over {:.0} m", percent(all), all.distance_m);
    let kinds = [
        ("on passes", &slip.totals.passes),
        ("in turns", &slip.totals.turns),
        ("in work", &slip.totals.in_work),
    ];
    for (name, total) in kinds {
        if let Some(total) = total {
            let _ = writeln!(out, "  {name:<10} {} over {:.0} m", percent(total), total.distance_m);
        }
    }
    for share in &slip.share_above {
        let _ = writeln!(
            out,
            "  more than {} %: {:.0} % of the distance",
            decimals(100.0 * share.slip, 0),
            100.0 * share.share_of_distance
        );
    }
    comparison(&mut out, compared);
    uncertainties(&mut out, slip);
    parts(&mut out, slip);
    foundation(&mut out, slip);
    wrap(&out)
}

/// A refusal in three lines.
#[must_use]
pub fn refusal(refusal: &SlipRefusal) -> String {
    let what = refusal.to_string();
    wrap(&format!("No result: {what}.\n{}\n{}\n", refusal.means(), refusal.next()))
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
                "the difference is not significant"
            } else if found.difference < 0.0 {
                "less slip than before"
            } else {
                "more slip than before"
            };
            let _ = writeln!(
                out,
                "\nAgainst the earlier capture, at the same places: {} % ± {:.1} % ({} % before, \
                 {} % now, {} sections): {verdict}.",
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

fn uncertainties(out: &mut String, slip: &Slip) {
    let count = |flag| slip.sections.iter().filter(|w| w.flags.contains(&flag)).count();
    let meanings = [
        (
            SectionFlag::MountingUnknown,
            "lie in turns, and the antenna position is not known: measure it with `trundle mount` \
             and enter it with --right and --ahead",
        ),
        (SectionFlag::LinkGap, "begin or end in a gap of the counts: check the board's cable"),
        (
            SectionFlag::FixQualityChanged,
            "contain or follow a change of fix quality: look for open sky",
        ),
        (
            SectionFlag::FixUnreliable,
            "contain fixes that were rejected, stood still or contradict their speed: do not use \
             them",
        ),
        (SectionFlag::Unreliable, "have an uncertainty of more than ±5 %"),
    ];
    for (flag, words) in meanings {
        let n = count(flag);
        if n > 0 {
            let _ =
                writeln!(out, "{} {n} of {} sections {words}.", flag.word(), slip.sections.len());
        }
    }
}

fn parts(out: &mut String, slip: &Slip) {
    out.push_str("\nPart  kind   heading    metres          slip\n");
    for part in &slip.parts {
        let _ = writeln!(
            out,
            "{:>4}  {:<5} {:>7.0}° {:>9.1} {:>17}",
            part.number,
            part.kind.word(),
            part.heading_deg,
            part.total.distance_m,
            percent(&part.total)
        );
    }
}

fn foundation(out: &mut String, slip: &Slip) {
    let zero = slip.zero_slip;
    let _ = write!(
        out,
        "\nSlip is 1 - actual/theoretical travel: the loaded quantity is the \
         denominator.\nZero-slip value: {:.1} impulses per 100 m, standard uncertainty {:.1}.\n",
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
            out.push_str("The antenna position is not known: slip in turns is unreliable.\n");
        }
        None => {}
    }
    let _ = writeln!(
        out,
        "{} sections; {:.0} m were too slow, backwards or without positions. The receiver's delay \
         is {} ms ± {:.0} ms (standard).",
        slip.sections.len(),
        slip.withheld_m,
        decimals(1000.0 * slip.lag_s.value, 0),
        1000.0 * slip.lag_s.standard_uncertainty
    );
}
