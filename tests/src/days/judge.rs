//! What a day's result was worth, by the simulator's truth.

use trundle_core::figure::{ChannelFigures, PassSummary, Work};
use trundle_core::flags::{Code, Flag};
use trundle_sim::Truth;

/// A figure is wrong when the truth lies further off than this many standard uncertainties, and
/// the half impulse of rounding.
pub const WRONG_U: f64 = 4.0;
/// The same for the length of one pass by satellite.
const PASS_WRONG_U: f64 = 6.0;
/// A pass is one that was driven if it is that one for this share of its time.
const SAME_TIME: f64 = 0.7;
/// Where the truth of a pass on the move is taken, metres: a gate's latch and the microsecond that
/// the truth is rounded to.
const TRUTH_M: f64 = 0.005;
/// A day lived.
#[derive(Debug)]
pub struct Lived {
    /// The result.
    pub work: Work,
    /// What really was.
    pub truth: Truth,
    /// By how much the receiver's clock was set, seconds.
    pub receiver_set_s: i64,
}

/// What a day's result was worth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Worth {
    /// No flag, and right.
    ValidRight,
    /// Flagged, with a figure to enter.
    Flagged,
    /// No figure to enter.
    Refused,
    /// No flag, and wrong.
    SilentlyWrong,
    /// The same, and wrong without the faults too.
    ByChance,
}

impl Lived {
    /// Judge it.
    #[must_use]
    pub fn worth(&self) -> Worth {
        let entered = |c: &ChannelFigures| c.name == "wheel" && c.value_to_enter.is_some();
        if self.work.is_clean() {
            if self.off_u() > 1.0 { Worth::SilentlyWrong } else { Worth::ValidRight }
        } else if self.work.channels.iter().any(entered) {
            Worth::Flagged
        } else {
            Worth::Refused
        }
    }

    /// The worst figure to enter: its distance from the truth over what is allowed it.
    #[must_use]
    pub fn off_u(&self) -> f64 {
        self.offs().map(|(_, off)| off).fold(0.0, f64::max)
    }

    /// Every channel with a figure to enter, and the same of it.
    fn offs(&self) -> impl Iterator<Item = (&'static str, f64)> {
        let truths = [self.truth.wheel_impulses_per_100m, self.truth.radar_impulses_per_100m];
        self.work.channels.iter().filter_map(move |channel| {
            let (figure, best) = (channel.value_to_enter?, channel.best()?);
            let off = (figure as f64 - truths[channel.index]).abs();
            Some((channel.name, off / (WRONG_U * best.standard_uncertainty() + 0.5)))
        })
    }

    /// Passes that are silently wrong: valid without a flag, and their length by satellite lies
    /// further from what was driven than six standard uncertainties, or nothing was driven there
    /// from peg to peg. In words.
    #[must_use]
    pub fn wrong_passes(&self) -> Vec<String> {
        let valid = self.work.passes.iter().filter(|pass| pass.state() == "valid");
        valid.filter_map(|pass| self.wrong_pass(pass)).collect()
    }

    fn wrong_pass(&self, pass: &PassSummary) -> Option<String> {
        let measured = pass.measured.as_ref()?;
        let length = measured.satellite.as_ref()?.joined;
        let (from_ns, to_ns) = measured.utc_ns?;
        let us = |utc_ns: i64| (utc_ns - self.truth.start_utc_ns) as f64 * 1e-3;
        let (from_us, to_us) = (us(from_ns), us(to_ns));
        let by_clock = |start_us: u64, finish_us: u64, set_us: f64| {
            (to_us - set_us).min(finish_us as f64) - (from_us - set_us).max(start_us as f64)
        };
        let shared = |start_us, finish_us| {
            let set_us = self.receiver_set_s as f64 * 1e6;
            by_clock(start_us, finish_us, 0.0).max(by_clock(start_us, finish_us, set_us))
        };
        let truth = self.truth.passes.iter().max_by(|a, b| {
            shared(a.start_us, a.finish_us).total_cmp(&shared(b.start_us, b.finish_us))
        })?;
        if shared(truth.start_us, truth.finish_us) < SAME_TIME * (to_us - from_us) {
            return Some(format!("pass {} is none that was driven", pass.number));
        }
        let off_m = length.length_m - truth.chord_m;
        let u_m = length.standard_uncertainty_m.hypot(TRUTH_M / PASS_WRONG_U);
        (off_m.abs() > PASS_WRONG_U * u_m).then(|| {
            let number = pass.number;
            format!("pass {number} by satellite {off_m:+.3} m off, {:.1} u", off_m.abs() / u_m)
        })
    }

    /// Whether everything that is wrong is as wrong on the same day without faults: by chance,
    /// then, since six passes tell their own scatter only so well. The two figures must agree, the
    /// doubt of this day granted once; a fault that shifted the figure is no chance.
    #[must_use]
    pub fn wrong_by_chance(&self, sound: &Self) -> bool {
        self.offs().filter(|(_, off)| *off > 1.0).all(|(name, _)| {
            let figure = |day: &Self| {
                let channel = day.work.channels.iter().find(|channel| channel.name == name)?;
                Some((channel.value_to_enter? as f64, channel.best()?.standard_uncertainty()))
            };
            let wrong_too = sound.offs().any(|(other, off)| other == name && off > 1.0);
            let same = figure(self)
                .zip(figure(sound))
                .is_some_and(|((here, u), (there, _))| (here - there).abs() <= u + 0.5);
            wrong_too && same
        })
    }

    /// The last two passes as they came out, if they are as good as new.
    ///
    /// # Errors
    /// What is wrong with them.
    pub fn recovered(&self) -> Result<(), String> {
        let passes = &self.work.passes;
        for (pass, truth) in passes.iter().rev().zip(self.truth.passes.iter().rev()).take(2) {
            let flags: Vec<_> = pass.flags.iter().map(Flag::sentence).collect();
            let sound = |flag: &Flag| {
                // Marks on the move are what this day's driving is.
                flag.code.is_remark() || flag.code == Code::RollingMark
            };
            let counted = pass.measured.as_ref().and_then(|m| m.impulses[0]);
            let off = counted.map(|c| c.impulses - truth.impulses[0] as f64);
            if !pass.flags.iter().all(sound) || off.is_none_or(|off| off.abs() > 3.0) {
                return Err(format!("pass {} off by {off:?}: {flags:?}", pass.number));
            }
        }
        if passes.len() < 2 { Err(format!("{} passes", passes.len())) } else { Ok(()) }
    }
}
