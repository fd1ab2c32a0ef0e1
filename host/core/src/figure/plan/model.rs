//! The budget of a job not yet driven.
//!
//! The sources, their keys and the way they are combined are those of `figure/channel.rs`; each
//! pass is as good as the others, so that their mean has the n-th part of the variance of one.

use super::super::line::COVERAGE;
use super::super::pool::ASSUMED_DOF;
use super::super::rolling::SOCKET_NOMINAL;
use super::Expected;
use crate::course::tape::{CourseRefusal, CourseSpec, course_length};
use crate::figure::channel::STOP_M;
use crate::figure::sources::{SATELLITE_SCATTER, TAPE_SCATTER, path_over_line, slope_over_level};
use crate::passes::rest::REST_WANTED_S;
use crate::passes::satellite::{SWAY_M, slow_m};
use crate::passes::weave;
use crate::stats::budget::{BudgetLine, Quantity, Source, Sources, cover};
use crate::stats::fit::line::Estimate;
use crate::timeline::counts::WHOLE_COUNT_U;
use crate::units::KM_H_PER_M_S;
use crate::wire::fix::Quality;

/// How far from a peg a careful driver stops, metres, half-width; common practice, no source.
pub const STOP_HALF_WIDTH_M: f64 = STOP_M;
/// Speed on the course, m/s: 8 km/h, a usual working speed; common practice, no source.
pub const SPEED_M_S: f64 = 2.2;
/// Seconds that starting and stopping add to a pass.
const START_STOP_S: f64 = 5.0;
/// What is left of the uncertainty of weaving once the receiver's track has shown it, as a share:
/// a sixth of the 0.011 % of 0.1 m over 30 m; common practice, no source.
const WEAVE_SEEN: f64 = 2e-5;
/// Satellite heights are worse than places by this factor; common practice, no source.
const VERTICAL: f64 = 1.5;
/// Fixes at rest per second.
const FIXES_PER_S: f64 = 5.0;
/// Speed errors forget themselves within this time, seconds; common practice, no source.
const SPEED_MEMORY_S: f64 = 0.5;

crate::units::words! {
    /// Class of satellite receiver, by what it corrects its positions with.
    pub enum ReceiverKind {
        /// Nothing: fix quality 1.
        Standalone = "standalone",
        /// Corrections of a satellite service or a base: fix quality 2.
        Corrected = "corrected",
        /// Carrier phase, whole cycles known: fix quality 4.
        Rtk = "rtk",
    }
}

impl ReceiverKind {
    const fn quality(self) -> Quality {
        match self {
            Self::Standalone => Quality::Standalone,
            Self::Corrected => Quality::Differential,
            Self::Rtk => Quality::RtkFixed,
        }
    }
}

/// Typical errors of a receiver under open sky, each horizontal axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TypicalReceiver {
    /// From fix to fix, metres.
    pub white_m: f64,
    /// Slow wander in the long run, metres.
    pub slow_m: f64,
    /// Time in which the wander forgets itself, seconds.
    pub slow_s: f64,
    /// Of the speed, m/s.
    pub speed_m_s: f64,
}

/// Typical errors of a kind of receiver. The slow error is that of `course/satellite.rs`; noise
/// and times are common practice, no source, but for the speed of a receiver without corrections
/// (0.042 m/s RMS, Hindawi IJNO 2013/870365, table 6, rounded up). They are no better than to a
/// factor of two; a real job learns its own.
#[must_use]
pub fn typical(kind: ReceiverKind) -> TypicalReceiver {
    let (white_m, slow_s, speed_m_s) = match kind {
        ReceiverKind::Standalone => (0.10, 600.0, 0.05),
        ReceiverKind::Corrected => (0.05, 300.0, 0.03),
        ReceiverKind::Rtk => (0.005, 60.0, 0.02),
    };
    TypicalReceiver { white_m, slow_m: slow_m(kind.quality()), slow_s, speed_m_s }
}

/// Standard uncertainty of the length of one pass by satellite, metres: chord and integrated
/// speed as in `course/satellite.rs`, combined by inverse variance.
#[must_use]
pub fn satellite_length_u_m(kind: ReceiverKind, length_m: f64) -> f64 {
    let r = typical(kind);
    let drive_s = length_m / SPEED_M_S + START_STOP_S;
    let apart_s = drive_s + REST_WANTED_S;
    let white = 2.0 * r.white_m.powi(2) / (FIXES_PER_S * REST_WANTED_S);
    // First-order Gauss-Markov: variance of the difference of two places a time apart.
    let slow = 2.0 * r.slow_m.powi(2) * (1.0 - (-apart_s / r.slow_s).exp());
    // Integral of a Gauss-Markov speed error over a time long against its memory.
    let doppler = 2.0 * r.speed_m_s.powi(2) * SPEED_MEMORY_S * drive_s;
    ((white + slow).recip() + doppler.recip()).recip().sqrt()
}

/// The values to expect, impulses per 100 m.
pub(super) struct Forecast {
    passes: u32,
    sources: Sources,
    tape: Quantity,
    satellite: Option<Quantity>,
    combined: Option<Quantity>,
}

impl Forecast {
    pub(super) fn new(
        spec: &CourseSpec,
        receiver: Option<ReceiverKind>,
        stop_half_width_m: f64,
        passes: u32,
    ) -> Result<Self, CourseRefusal> {
        let mut sources = Sources::new();
        let length = course_length(spec, &mut sources)?.length;
        let unseen = weave::unseen().standard_uncertainty;
        let u_weave = receiver.map_or(unseen, |_| WEAVE_SEEN);
        let weave = path_over_line(1.0, u_weave, &mut sources);
        let scene = Scene { length_m: length.value(), passes, stop_half_width_m };
        let tape = scene.by_tape(&length, &weave, &mut sources);
        let satellite = receiver.map(|kind| {
            let rise = match spec.height_difference_m {
                Some(rise_m) => Estimate::new(rise_m, spec.height_difference_u_m),
                None => Estimate::new(0.0, scene.rise_u_m(kind)),
            };
            scene.by_satellite(kind, rise, &weave, &mut sources)
        });
        let combined = satellite.as_ref().map(|satellite| join(&tape, satellite));
        Ok(Self { passes, sources, tape, satellite, combined })
    }

    fn chosen(&self) -> &Quantity {
        self.combined.as_ref().unwrap_or(&self.tape)
    }

    /// The value itself, impulses per 100 m.
    pub(super) fn figure(&self) -> f64 {
        self.chosen().value()
    }

    fn relative(&self, quantity: &Quantity) -> f64 {
        cover(quantity, &self.sources, COVERAGE).expanded_uncertainty / quantity.value()
    }

    /// Expanded relative uncertainty of the value to enter.
    pub(super) fn best(&self) -> f64 {
        self.relative(self.chosen())
    }

    pub(super) fn expected(&self) -> Expected {
        Expected {
            passes: self.passes,
            tape: self.relative(&self.tape),
            satellite: self.satellite.as_ref().map(|q| self.relative(q)),
            combined: self.combined.as_ref().map(|q| self.relative(q)),
        }
    }

    /// Budget of the value to enter, the largest first.
    pub(super) fn budget(&self) -> Vec<BudgetLine> {
        self.chosen().budget(&self.sources)
    }
}

/// What every pass is like.
struct Scene {
    length_m: f64,
    passes: u32,
    stop_half_width_m: f64,
}

impl Scene {
    /// Impulses of one pass, at the nominal value: only whole counts depend on it.
    fn impulses(&self) -> f64 {
        SOCKET_NOMINAL * self.length_m / 100.0
    }

    /// The scatter of the mean of all passes; a single pass has only the model.
    fn scatter(&self, (key, name): (&str, &str), u_of_mean: f64) -> Source {
        let free = if self.passes > 1 { f64::from(self.passes - 1) } else { ASSUMED_DOF };
        Source::type_a(key, name, u_of_mean, free)
    }

    /// Uncertainty of the mean of all passes.
    fn of_mean(&self, u_of_one: f64) -> f64 {
        u_of_one / f64::from(self.passes).sqrt()
    }

    fn by_tape(&self, length: &Quantity, weave: &Quantity, sources: &mut Sources) -> Quantity {
        let impulses = self.impulses();
        // Rectangular at either end, two ends.
        let stop_m = self.stop_half_width_m * (2.0_f64 / 3.0).sqrt();
        let u = self.of_mean(WHOLE_COUNT_U.hypot(stop_m / self.length_m * impulses));
        let mean = sources.quantity(impulses, self.scatter(TAPE_SCATTER, u));
        (&mean / &(length * weave)).scaled(100.0)
    }

    fn by_satellite(
        &self,
        kind: ReceiverKind,
        rise_m: Estimate,
        weave: &Quantity,
        sources: &mut Sources,
    ) -> Quantity {
        let u_m = satellite_length_u_m(kind, self.length_m).hypot(SWAY_M * 2.0_f64.sqrt());
        let relative = (WHOLE_COUNT_U / self.impulses()).hypot(u_m / self.length_m);
        let u = SOCKET_NOMINAL * self.of_mean(relative);
        let mean = sources.quantity(SOCKET_NOMINAL, self.scatter(SATELLITE_SCATTER, u));
        &mean / &(&slope_over_level(rise_m, self.length_m, sources) * weave)
    }

    /// Uncertainty of the rise of the course, found from the heights of all passes, metres.
    fn rise_u_m(&self, kind: ReceiverKind) -> f64 {
        self.of_mean(VERTICAL * satellite_length_u_m(kind, self.length_m))
    }
}

/// Combined by what they are worth, as in a driven job.
fn join(tape: &Quantity, satellite: &Quantity) -> Quantity {
    let shared = tape.covariance(satellite);
    let spread_t = tape.standard_uncertainty().powi(2) - shared;
    let spread_s = satellite.standard_uncertainty().powi(2) - shared;
    let weight_t = (spread_s / (spread_t + spread_s)).clamp(0.0, 1.0);
    Quantity::weighted_sum(&[(tape, weight_t), (satellite, 1.0 - weight_t)])
}

/// What is assumed about the tape.
pub(super) fn tape_assumptions(spec: &CourseSpec) -> Result<Vec<String>, CourseRefusal> {
    let mut out = course_length(spec, &mut Sources::new())?.assumptions;
    if spec.sections_m.len() > 1 {
        out.push(format!(
            "A course of {} m is laid in {} parts with one tape.",
            spec.nominal_m,
            spec.sections_m.len()
        ));
    }
    Ok(out)
}

/// What is assumed about the driving.
pub(super) fn assumptions(receiver: Option<ReceiverKind>, stop_m: f64) -> Vec<String> {
    let mut out = vec![
        format!("The driver stops within ±{stop_m} m of each peg, and the wheels do not slip."),
        format!("The sensor gives about {SOCKET_NOMINAL} impulses per 100 m."),
    ];
    if let Some(kind) = receiver {
        out.push(format!(
            "The receiver ({}) errs as is usual under open sky, to a factor of two; {:.0} km/h, \
             at least {REST_WANTED_S} s at rest beside each peg.",
            kind.word(),
            KM_H_PER_M_S * SPEED_M_S
        ));
    }
    out
}
