//! What the fixes show of the ground under steady runs, and where they are not to be believed.

use crate::stats::fit::line::Estimate;
use crate::survey::ride::Rides;
use crate::survey::ride::axle::{Mounting, Trace, traces};
use crate::survey::ride::noise::Noises;
use crate::survey::ride::scale::Scales;
use crate::survey::ride::slope::{Profile, Slope};
use crate::survey::ride::sums::Carry;
use crate::survey::ride::trust::Trust;
use crate::timeline::counts::CountCurve;
use crate::wire::fix::Quality;

/// The traces of all rides, and their errors.
pub struct Ground {
    /// By number of the ride.
    traces: Vec<Vec<Trace>>,
    noises: Noises,
    scales: Scales,
}

impl Ground {
    /// That of all rides.
    pub fn of(rides: &Rides<'_>) -> Self {
        let mut traces: Vec<Vec<Trace>> =
            rides.rides.iter().map(|ride| traces(ride, &Mounting::default())).collect();
        let scales = Scales::of(&traces.iter().flatten().collect::<Vec<_>>());
        traces.iter_mut().flatten().for_each(|trace| scales.take_off(trace));
        let witnesses: Vec<(&Trace, Vec<&CountCurve>)> = rides
            .rides
            .iter()
            .zip(&traces)
            .flat_map(|(ride, traces)| traces.iter().map(|t| (t, ride.witnesses())))
            .collect();
        let noises = Noises::learn(&witnesses);
        Self { traces, noises, scales }
    }

    /// That of one ride.
    pub fn of_ride(&self, number: usize) -> RideGround<'_> {
        let mut before = None;
        let mut parts = Vec::new();
        for trace in &self.traces[number] {
            let trust = Trust::of(before.replace(trace), &Carry::new(trace), &self.noises);
            parts.push((trace, Profile::new(trace), trust));
        }
        RideGround { parts, noises: &self.noises, scales: &self.scales }
    }
}

/// The ground of one ride.
pub struct RideGround<'g> {
    parts: Vec<(&'g Trace, Profile<'g>, Trust)>,
    noises: &'g Noises,
    scales: &'g Scales,
}

impl RideGround<'_> {
    /// Scale of the speed less one for a kind of fix.
    pub fn scale(&self, quality: Quality) -> Estimate {
        self.scales.at(quality)
    }

    /// The slope from one fix to another; `None` where their speed is not to be believed.
    pub fn slope(&self, from_s: f64, to_s: f64) -> Option<Slope> {
        let holds = |trace: &Trace| {
            let (first, last) = (trace.steps.first(), trace.steps.last());
            first.is_some_and(|f| f.at_s <= from_s) && last.is_some_and(|l| l.at_s >= to_s)
        };
        // Fixes with a gap between them have no trace, and no slope of their own.
        let Some((trace, profile, trust)) = self.parts.iter().find(|part| holds(part.0)) else {
            return Some(Slope::UNKNOWN);
        };
        if trust.parted_m(from_s, to_s) > 0.0 || trust.lost(from_s, to_s) {
            return None;
        }
        let at = |at_s: f64| trace.steps.partition_point(|step| step.at_s < at_s);
        Some(profile.slope((at(from_s), at(to_s)), self.noises))
    }
}
