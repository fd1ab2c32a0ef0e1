//! A calculated job, as far as a screen shows it.

use crate::model::{FigureRow, Finding, FurtherRow};
use crate::words::book;
use trundle_core::figure::further::{Further, further};
use trundle_core::figure::{COVERAGE, ChannelFigures, PassSummary, Work};
use trundle_core::flags::Flag;
use trundle_core::stats::budget::cover;
use trundle_protocol::message::CHANNELS;

/// What the passes so far give.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Results {
    /// Length of the course along the ground, metres.
    pub course_m: Option<f64>,
    /// Wheel and radar, as far as present.
    pub figures: Vec<FigureRow>,
    /// Passes that could be calculated, by number.
    pub passes: Vec<WorkedPass>,
    /// Warnings about the job and its channels that need attention.
    pub warnings: Vec<Finding>,
}

/// A pass as calculated.
#[derive(Clone, Debug, PartialEq)]
pub struct WorkedPass {
    /// Number of the pass, from 1.
    pub number: u32,
    /// Direction: `out` or `back`, where known.
    pub way: Option<&'static str>,
    /// `valid`, `flagged` or `refused`.
    pub state: &'static str,
    /// Impulses between the marks, by channel.
    pub impulses: [Option<f64>; CHANNELS],
    /// Impulses per 100 m, by channel: by tape, else by satellite.
    pub figure: [Option<f64>; CHANNELS],
    /// What was found.
    pub why: Vec<Finding>,
}

impl Results {
    /// Of a calculated job, with the half-width of the 95 % interval that is wanted, as a share.
    #[must_use]
    pub fn of(work: &Work, wanted: f64) -> Self {
        let about_passes = |flag: &&Flag| flag.pass.is_none();
        let warnings = work.all_flags().filter(|flag| !flag.code.is_remark());
        Self {
            course_m: work.course.map(|course| course.length_m),
            figures: work.channels.iter().map(|channel| figure(channel, wanted)).collect(),
            passes: work.passes.iter().map(|pass| worked(pass, work)).collect(),
            warnings: warnings.filter(about_passes).map(finding).collect(),
        }
    }

    /// Impulses per 100 m of a channel, and whether they are provisional: not to be entered, or
    /// of one pass alone.
    pub(super) fn per_100_m(&self, channel: usize) -> Option<(f64, bool)> {
        let row = self.figures.iter().find(|row| row.channel_index == channel);
        let value = row.and_then(|row| Some((row.value?, row.enter.is_none())));
        let of_pass = || self.passes.iter().rev().find_map(|pass| pass.figure[channel]);
        value.or_else(|| Some((of_pass()?, true)))
    }
}

fn figure(channel: &ChannelFigures, wanted: f64) -> FigureRow {
    let best = channel.best();
    let percent = best.map(|best| {
        let expanded = cover(best, &channel.sources, COVERAGE);
        100.0 * expanded.expanded_uncertainty / best.value()
    });
    FigureRow {
        channel: channel.name,
        channel_index: channel.index,
        enter: channel.value_to_enter,
        value: best.map(trundle_core::stats::budget::Quantity::value),
        percent,
        by_tape: channel.tape.is_some(),
        by_satellite: channel.satellite.is_some(),
        further: channel.value_to_enter.and_then(|_| further(channel, wanted)).map(further_row),
    }
}

fn further_row(further: Further) -> FurtherRow {
    FurtherRow {
        wanted_percent: 100.0 * further.wanted,
        reached_percent: 100.0 * further.reached,
        more: further.more,
        endless_percent: 100.0 * further.endless,
        stays: further.stays,
    }
}

fn finding(flag: &Flag) -> Finding {
    Finding { words: flag.sentence(), entry: book::flag(flag.code.word()) }
}

fn worked(pass: &PassSummary, work: &Work) -> WorkedPass {
    let mut figure = [None; CHANNELS];
    for channel in &work.channels {
        let line = channel.passes.iter().find(|line| line.number == pass.number);
        figure[channel.index] = line.and_then(|line| line.tape.or(line.satellite));
    }
    let measured = pass.measured.as_ref();
    WorkedPass {
        number: pass.number,
        way: pass.direction.map(trundle_core::passes::pass::Direction::word),
        state: pass.state(),
        impulses: std::array::from_fn(|n| Some(measured?.impulses[n]?.impulses)),
        figure,
        why: pass.flags.iter().map(finding).collect(),
    }
}
