//! The antenna position for the terminal: numbers and signs first, what they come from below.

use super::lines::{assumed, wrap};
use crate::words::stations_measured as words;
use std::fmt::Write as _;
use trundle_core::cautions;
use trundle_core::figure::COVERAGE;
use trundle_core::stats::budget::rounding::round_pair;
use trundle_core::stats::budget::{Quantity, Sources, cover};
use trundle_core::survey::mount::{AheadFrom, Mount, MountRefusal};
use trundle_core::units;

/// Lines of the budget shown.
const SOURCES_SHOWN: usize = 4;

/// The result, or why there is none, as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render(worked: &Result<Mount, MountRefusal>) -> String {
    let mut out = String::from("Cautions\n");
    for caution in cautions::ALL {
        let _ = writeln!(out, "- {caution}");
    }
    out.push('\n');
    match worked {
        Ok(mount) => whole(&mut out, mount),
        Err(refusal) => {
            let _ = writeln!(out, "NO MOUNTING POSITION: {refusal}.");
            let _ = writeln!(out, "  {}\n  Next: {}", refusal.means(), refusal.next());
        }
    }
    wrap(&out)
}

fn whole(out: &mut String, mount: &Mount) {
    headline(out, mount);
    taped(out, mount);
    out.push_str(
        "\nOffset to the side, measured in two independent ways (right of the middle is \
                  positive)\n",
    );
    passes(out, mount);
    turns(out, mount);
    if let Some(e) = mount.agreement {
        let verdict = if e.agrees { "they agree" } else { "they differ more than expected" };
        let _ = writeln!(
            out,
            "  passes less turns {} m, normalised error {:.2}: {verdict}",
            units::signed(e.difference, 3),
            e.normalised_error
        );
    }
    out.push_str("\nAhead of the rear axle (ahead is positive)\n");
    ahead(out, mount);
    uncertainties(out, mount);
    assumed(out, &mount.assumptions());
}

/// What one part of the drive has shown, or why nothing and what to do.
pub(crate) struct Witness {
    /// Which part.
    pub label: &'static str,
    /// What it shows.
    pub found: Result<String, (String, &'static str)>,
}

/// What each part of the drive has shown.
pub(crate) fn witnesses(mount: &Mount) -> [Witness; 3] {
    let shown = |value: &Quantity| signed(value, &mount.sources);
    let passes = match &mount.passes {
        Ok(seen) => Ok(format!("{} passes, {}", seen.places.len(), shown(&seen.right))),
        Err(why) => Err((why.to_string(), why.next())),
    };
    let turns = match &mount.turns {
        Ok(seen) => {
            let (left, right) = (seen.turned_rad.0.to_degrees(), seen.turned_rad.1.to_degrees());
            let right_m = shown(&seen.right);
            Ok(format!("turned {left:.0} degrees left, {right:.0} right, {right_m}"))
        }
        Err(why) => Err((why.to_string(), why.next())),
    };
    let circles = match &mount.circles {
        Ok(seen) => Ok(format!("{} circles, {}", seen.arcs.len(), shown(&seen.ahead))),
        Err(why) => Err((why.to_string(), why.next())),
    };
    [(words::OPPOSITE, passes), (words::TURNS, turns), (words::CIRCLES, circles)]
        .map(|(label, found)| Witness { label, found })
}

/// The two numbers of the position with their names; `None` where one is not known.
pub(crate) fn positions(mount: &Mount) -> [(&'static str, Option<String>); 2] {
    let shown = |value: &Quantity| signed(value, &mount.sources);
    [
        (words::RIGHT, mount.right.as_ref().map(shown)),
        (words::AHEAD, mount.ahead.as_ref().map(|(value, _)| shown(value))),
    ]
}

fn signed(value: &Quantity, sources: &Sources) -> String {
    let u = cover(value, sources, COVERAGE).expanded_uncertainty;
    let rounded = round_pair(value.value(), u);
    let places = usize::try_from(rounded.decimals.clamp(0, 4)).unwrap_or(3);
    let value = units::signed(rounded.value, places);
    format!("{value} m ± {:.places$} m", rounded.uncertainty)
}

fn headline(out: &mut String, mount: &Mount) {
    let side = |m: f64| if m < 0.0 { "left" } else { "right" };
    match (&mount.right, mount.suspect) {
        (Some(right), _) => {
            let shown = signed(right, &mount.sources);
            let side = side(right.value());
            let _ = writeln!(
                out,
                "Antenna {shown} to the {side} of the middle (right is positive; 95 % coverage)"
            );
        }
        (None, Some(suspect)) => {
            let _ = writeln!(
                out,
                "NO OFFSET TO THE SIDE: passes and turns contradict each other; {}.",
                suspect.why()
            );
            out.push_str("  Next: look there first, then drive again, line and turns.\n");
        }
        (None, None) => out.push_str("NO OFFSET TO THE SIDE. For the reasons, see below.\n"),
    }
    match &mount.ahead {
        Some((ahead, from)) => {
            let shown = signed(ahead, &mount.sources);
            let _ = writeln!(
                out,
                "Antenna {shown} ahead of the rear axle (ahead is positive; 95 % coverage)"
            );
            if *from == AheadFrom::Turns {
                let next = mount.circles.as_ref().err().map_or("", |refusal| refusal.next());
                let _ = writeln!(
                    out,
                    "  from turns as they were driven, with a larger uncertainty than from \
                     circles. To improve it: {next}"
                );
            }
        }
        None => out.push_str("NO DISTANCE AHEAD OF THE AXLE. For the reasons, see below.\n"),
    }
    if mount.cut {
        out.push_str("The capture is too long: its end was not used.\n");
    }
}

/// Taped measures beside the driven ones, and the coupling point; a sentence each.
pub(crate) fn beside(mount: &Mount) -> Vec<String> {
    let mut out = String::new();
    taped(&mut out, mount);
    out.lines().map(str::to_owned).collect()
}

/// The answer and what speaks against it, a sentence each.
pub(crate) fn head(mount: &Mount) -> Vec<String> {
    let mut out = String::new();
    headline(&mut out, mount);
    out.lines().map(|line| line.trim().to_owned()).collect()
}

fn taped(out: &mut String, mount: &Mount) {
    for beside in mount.beside() {
        let e = beside.agreement;
        let verdict = if e.agrees { "they agree" } else { "THEY DO NOT AGREE: tape it again" };
        let _ = writeln!(
            out,
            "Taped {} {} m: {verdict}; driven less taped {} m ± {:.3} m, normalised \
             error {:.2}",
            beside.of,
            units::signed(beside.taped_m, 3),
            units::signed(e.difference, 3),
            e.expanded_uncertainty,
            e.normalised_error
        );
    }
    if let Some(coupling) = mount.coupling() {
        let along = signed(&coupling.along, &coupling.sources);
        let _ = writeln!(out, "Coupling point to antenna, along the tractor: {along} ahead");
        if let Some(right) = &coupling.right {
            let right = signed(right, &coupling.sources);
            let _ = writeln!(out, "Coupling point to antenna, across: {right} to the right");
        }
    }
}

fn passes(out: &mut String, mount: &Mount) {
    match &mount.passes {
        Ok(witness) => {
            let shown = signed(&witness.right, &mount.sources);
            let (n, lines) = (witness.places.len(), witness.lines);
            let ratio = witness.variance_ratio;
            let _ = writeln!(
                out,
                "  opposite passes   {shown}  ({n} passes, lines: {lines}, scatter {ratio:.2} \
                 times what is expected)"
            );
            for place in &witness.places {
                let way = if place.out { "out" } else { "back" };
                let _ = writeln!(
                    out,
                    "    line {} {way:<4} {:>8.1} s  {:>8} m across, {:>7} m residual",
                    place.line,
                    place.at_s,
                    units::signed(place.across_m, 3),
                    units::signed(place.residual_m, 3)
                );
            }
        }
        Err(refusal) => {
            let _ = writeln!(out, "  opposite passes   none: {refusal}. {}", refusal.next());
        }
    }
}

fn turns(out: &mut String, mount: &Mount) {
    match &mount.turns {
        Ok(witness) => {
            let shown = signed(&witness.right, &mount.sources);
            let (left, right) = witness.turned_rad;
            let _ = writeln!(
                out,
                "  turns             {shown}  (turned {:.0} degrees left, {:.0} right, scatter \
                 {:.2} times what is expected)",
                left.to_degrees(),
                right.to_degrees(),
                witness.variance_ratio
            );
        }
        Err(refusal) => {
            let _ = writeln!(out, "  turns             none: {refusal}. {}", refusal.next());
        }
    }
}

fn ahead(out: &mut String, mount: &Mount) {
    match &mount.circles {
        Ok(witness) => {
            let shown = signed(&witness.ahead, &mount.sources);
            let _ = writeln!(out, "  steady circles    {shown}");
            for arc in &witness.arcs {
                let way = if arc.left { "left" } else { "right" };
                let _ = writeln!(
                    out,
                    "    {way:<5} {:>4.0} degrees: axle {:.3} m, antenna {:.3} m by position, \
                     {:.3} m by speed",
                    arc.turned_rad.to_degrees(),
                    arc.axle_radius_m,
                    arc.by_position_m,
                    arc.by_speed_m
                );
            }
        }
        Err(refusal) => {
            let _ = writeln!(out, "  steady circles    none: {refusal}. {}", refusal.next());
        }
    }
    match &mount.turns {
        Ok(witness) if witness.ahead_at_edge => {
            out.push_str("  turns             the distance ahead does not show in these turns\n");
        }
        Ok(witness) => {
            let shown = signed(&witness.ahead, &mount.sources);
            let _ = writeln!(out, "  turns             {shown}");
        }
        Err(_) => {}
    }
}

fn uncertainties(out: &mut String, mount: &Mount) {
    let ahead = mount.ahead.as_ref().map(|ahead| &ahead.0);
    for (name, quantity) in [("offset", mount.right.as_ref()), ("distance ahead", ahead)] {
        let Some(quantity) = quantity else { continue };
        let _ = writeln!(out, "\nSources of uncertainty of the {name} (standard uncertainty)");
        for line in quantity.budget(&mount.sources).iter().take(SOURCES_SHOWN) {
            let _ = writeln!(
                out,
                "  {:>6.1} mm  {}, {}",
                1000.0 * line.contribution.abs(),
                line.kind.word(),
                line.source
            );
        }
    }
}
