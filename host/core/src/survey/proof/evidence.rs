//! What several passes together say of metres shown, counts and truth, however they were read.

use super::{Evidence, FITS};
use crate::figure::{ChannelFigures, Work};
use crate::passes::pass::PassImpulses;
use crate::stats::budget::student::coverage_factor;
use crate::stats::budget::{Quantity, Source, Sources};
use trundle_protocol::units::Channel;

/// What was shown of one pass.
pub(super) struct Way {
    pub number: u32,
    pub shown_m: f64,
    /// Impulses of wheel and radar.
    pub impulses: [Option<PassImpulses>; 2],
    /// Where the uncertainty of what is shown comes from, each with what it does to it.
    pub parts: Vec<(Source, f64)>,
    /// What is shown may be off what its impulses make by so much, metres.
    pub allowed_m: f64,
}

/// What the passes together say. The first of `bridges` that gave impulses leads to the truth;
/// `source` is the sensor that is meant to be followed. What shows it may count another sensor than
/// the board does: from pass to pass the two differ by `sensors_u`, a share for wheel and radar.
pub(super) fn together(
    ways: &[Way],
    work: &Work,
    bridges: [Channel; 2],
    source: Channel,
    sensors_u: [f64; 2],
) -> Option<Evidence> {
    if ways.is_empty() {
        return None;
    }
    let figures = |channel: usize| work.channels.iter().find(|one| one.index == channel);
    let per_impulse = |channel: usize| ways.iter().all(|one| one.impulses[channel].is_some());
    let bridge = bridges.into_iter().find_map(|channel| {
        let channel = channel.index().min(1);
        let found: &ChannelFigures = figures(channel)?;
        per_impulse(channel).then_some((channel, found, found.blended.as_ref()?))
    });
    let mut sources = bridge.map_or_else(Sources::new, |(_, found, _)| found.sources.clone());
    let shown_m = sum(ways, |way| shown(way, &mut sources))?;
    let per_impulse_m = [0, 1].map(|channel| {
        let impulses = sum(ways, |way| counted(way, channel, sensors_u[channel], &mut sources))?;
        per_impulse(channel).then(|| &shown_m / &impulses)
    });
    let ratio = bridge.and_then(|(channel, _, per_100m)| {
        Some((per_impulse_m[channel].as_ref()? * per_100m).scaled(0.01))
    });
    let follows = [0, 1].map(|channel| {
        let metres = per_impulse_m[channel].as_ref();
        metres.is_some_and(|metres| follows(ways, channel, metres, sensors_u[channel]))
    });
    let contradict = per_impulse_m[source.index().min(1)].is_some() && follows == [false; 2];
    Some(Evidence { sources, ratio, per_impulse_m, follows, contradict })
}

fn shown(way: &Way, sources: &mut Sources) -> Quantity {
    let part = |(source, does): &(Source, f64)| (sources.quantity(0.0, source.clone()), *does);
    let parts: Vec<(Quantity, f64)> = way.parts.iter().map(part).collect();
    let parts: Vec<(&Quantity, f64)> = parts.iter().map(|(part, does)| (part, *does)).collect();
    Quantity::combine(way.shown_m, &parts)
}

fn counted(way: &Way, channel: usize, sensor_u: f64, sources: &mut Sources) -> Quantity {
    let Some(count) = way.impulses[channel] else { return Quantity::exact(0.0) };
    let (n, half_width) = (way.number, 6.0_f64.sqrt() * count.standard_uncertainty);
    let key = format!("counted.{channel}.{n}");
    let source = Source::triangular(&key, "whole impulses of the passes", half_width);
    let whole = sources.quantity(count.impulses, source);
    if sensor_u <= 0.0 {
        return whole;
    }
    let (key, name) =
        (format!("sensor.{channel}.{n}"), "sensor of the board against the tractor's");
    &whole * &sources.quantity(1.0, Source::normal(&key, name, sensor_u))
}

/// Sum over the passes of what `of` makes of each.
fn sum(ways: &[Way], of: impl FnMut(&Way) -> Quantity) -> Option<Quantity> {
    let parts: Vec<Quantity> = ways.iter().map(of).collect();
    let parts: Vec<(&Quantity, f64)> = parts.iter().map(|part| (part, 1.0)).collect();
    let sum = Quantity::weighted_sum(&parts);
    (sum.value() > 0.0).then_some(sum)
}

/// Each pass shows what its impulses of a channel make, to what its own reading allows and what
/// those of the others leave uncertain of the length of an impulse.
fn follows(ways: &[Way], channel: usize, per_impulse_m: &Quantity, sensor_u: f64) -> bool {
    let relative = per_impulse_m.standard_uncertainty() / per_impulse_m.value();
    let k = coverage_factor(FITS, f64::INFINITY);
    ways.iter().all(|way| {
        let Some(count) = way.impulses[channel] else { return false };
        let expected_m = per_impulse_m.value() * count.impulses;
        let whole_m = per_impulse_m.value();
        let allowed_m = way.allowed_m + k * (relative + sensor_u) * expected_m + whole_m;
        (way.shown_m - expected_m).abs() <= allowed_m
    })
}
