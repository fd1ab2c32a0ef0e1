//! The capture cut into runs of the signal.

use super::{Input, commands};
use crate::session::trail::{Spell, Trail};
use crate::wire::board::{BoardMark, CountSample};
use trundle_counter::test_signal::{MARKS, PHASES, starts_us};
use trundle_protocol::message::{EdgeTrain, Outcome, Reply};
use trundle_protocol::units::Channel;

/// Phases of the signal.
pub(super) const PHASE_COUNT: usize = PHASES.len();
/// A report this much before the middle of a rest still shows it, microseconds: shorter than half
/// of the shortest rest, and some reports may be lost.
const BEFORE_US: u64 = 200_000;
/// After the last impulse it is low for 0.2 s; half a second after its fall all is over.
const AFTER_LAST_US: u64 = 500_000;
/// So long into the slow part an input that is bridged has shown itself, microseconds.
pub(super) const SHOWN_US: u64 = 300_000;

/// One input that was asked for, and what came until the next was.
pub(super) struct Asked<'a> {
    pub input: Input,
    /// Host time of the request, and of the next one or the last sign of the board, nanoseconds.
    pub from_ns: u64,
    pub to_ns: u64,
    pub runs: Vec<Run<'a>>,
}

/// One run of the signal.
pub(super) struct Run<'a> {
    /// Board time of its start, microseconds.
    pub from_us: u64,
    /// Board time up to which it was seen.
    pub seen_us: u64,
    /// Reports while it lasted.
    pub samples: Vec<CountSample>,
    /// Marks while it lasted.
    pub marks: Vec<BoardMark>,
    /// Parts of edge trains of this check.
    pub trains: Vec<&'a EdgeTrain>,
    /// Answers since the input was asked for.
    pub replies: Vec<&'a Reply>,
}

impl Run<'_> {
    /// Board time of the middle of the rest before a phase; for one phase more the end of all.
    pub fn boundary_us(&self, phase: usize) -> u64 {
        self.from_us
            + match PHASES.get(phase) {
                Some(it) => starts_us(phase) - u64::from(it.rest_us / 2),
                None => {
                    let last = &PHASES[MARKS];
                    starts_us(MARKS) + last.length_us() - u64::from(last.period_us) + AFTER_LAST_US
                }
            }
    }

    /// The report that shows the counts before a phase; `None` where it did not come.
    pub fn before(&self, phase: usize) -> Option<&CountSample> {
        let at_us = self.boundary_us(phase);
        if self.seen_us < at_us {
            return None;
        }
        let end = self.samples.partition_point(|sample| sample.board_us <= at_us);
        let sample = self.samples[..end].last()?;
        (sample.board_us + BEFORE_US >= at_us).then_some(sample)
    }

    /// Impulses counted and edges refused on an input in a phase.
    pub fn rise(&self, phase: usize, channel: Channel) -> Option<(u64, u64)> {
        let (before, after) = (self.before(phase)?, self.before(phase + 1)?);
        let n = channel.index();
        let counted = after.impulses[n].checked_sub(before.impulses[n])?;
        Some((counted, u64::from(after.rejected[n].wrapping_sub(before.rejected[n]))))
    }

    /// Impulses counted on an input since the signal began, as far as seen.
    pub fn so_far(&self, channel: Channel) -> u64 {
        let (first, last) = (self.before(0), self.samples.last());
        let n = channel.index();
        first.zip(last).map_or(0, |(a, b)| b.impulses[n].saturating_sub(a.impulses[n]))
    }

    /// Changes of the implement's level in the last phase, as the reports show them. Before it they
    /// come too fast for reports to follow.
    pub fn level_changes(&self) -> u64 {
        let (from_us, to_us) = (self.boundary_us(MARKS), self.boundary_us(PHASE_COUNT));
        let within = |sample: &&CountSample| (from_us..=to_us).contains(&sample.board_us);
        let levels: Vec<bool> = self.samples.iter().filter(within).map(|s| s.in_work).collect();
        levels.windows(2).filter(|pair| pair[0] != pair[1]).count() as u64
    }
}

/// What was asked for, in order, each with its runs.
pub(super) fn asked<'a>(trail: &'a Trail, notes: &[(u64, String)]) -> Vec<Asked<'a>> {
    let asks: Vec<(u64, Input)> = notes
        .iter()
        .filter_map(|(host_ns, note)| Some((*host_ns, commands::asked(note)?)))
        .collect();
    let last_ns = trail.spells.iter().filter_map(|spell| Some(spell.counts.last()?.host_ns)).max();
    let ends = asks.iter().skip(1).map(|(from_ns, _)| *from_ns);
    let ends = ends.chain(last_ns.map(|last_ns| last_ns + 1));
    let each = asks.iter().zip(ends).map(|(&(from_ns, input), to_ns)| {
        let to_ns = to_ns.max(from_ns);
        Asked { input, from_ns, to_ns, runs: runs(trail, from_ns, to_ns) }
    });
    each.collect()
}

/// The runs that began between two host times.
fn runs(trail: &Trail, from_ns: u64, to_ns: u64) -> Vec<Run<'_>> {
    let within: Vec<(u64, &Reply)> = trail
        .replies
        .iter()
        .filter(|(host_ns, _)| (from_ns..to_ns).contains(host_ns))
        .map(|(host_ns, reply)| (*host_ns, reply))
        .collect();
    let spells = trail.spells.iter().filter(|spell| {
        let ends = spell.counts.first().zip(spell.counts.last());
        ends.is_some_and(|(a, b)| a.host_ns < to_ns && b.host_ns >= from_ns)
    });
    spells.flat_map(|spell| in_spell(trail, spell, &within, (from_ns, to_ns))).collect()
}

fn in_spell<'a>(
    trail: &'a Trail,
    spell: &Spell,
    replies: &[(u64, &'a Reply)],
    (from_ns, to_ns): (u64, u64),
) -> Vec<Run<'a>> {
    let samples: Vec<CountSample> =
        spell.counts.iter().filter(|sample| (from_ns..to_ns).contains(&sample.host_ns)).collect();
    let Some((first, last)) = samples.first().zip(samples.last()) else { return Vec::new() };
    // The board's times begin anew with every boot, so a reply belongs to the reports it came
    // among.
    let span = first.host_ns.saturating_sub(BEFORE_US * 1_000)..=last.host_ns + BEFORE_US * 1_000;
    let of_spell: Vec<&'a Reply> = replies
        .iter()
        .filter(|(host_ns, _)| span.contains(host_ns))
        .map(|(_, reply)| *reply)
        .collect();
    let is = |reply: &Reply, request| reply.request == request && reply.outcome == Outcome::Done;
    let mut runs: Vec<Run<'a>> = Vec::new();
    for (at, given) in of_spell.iter().enumerate().filter(|(_, reply)| is(reply, commands::GIVE)) {
        let from_us = given.stamp.board_us.0;
        let ended = of_spell[at + 1..]
            .iter()
            .find(|reply| is(reply, commands::STOP) || is(reply, commands::GIVE));
        let seen_us = ended.map_or(last.board_us, |reply| reply.stamp.board_us.0);
        let here = |at_us: u64| (from_us..=seen_us).contains(&at_us);
        let train = |part: &&EdgeTrain| {
            let ours = [commands::SLOW_TIMES, commands::FASTEST_TIMES].contains(&part.request);
            ours && here(part.start_us.0) && part.stamp.boot_id == given.stamp.boot_id
        };
        let mark =
            |mark: &&BoardMark| here(mark.board_us) && (from_ns..to_ns).contains(&mark.host_ns);
        runs.push(Run {
            from_us,
            seen_us,
            samples: samples.iter().filter(|sample| here(sample.board_us)).copied().collect(),
            marks: trail.marks.iter().filter(mark).copied().collect(),
            trains: trail.trains.iter().filter(train).collect(),
            replies: of_spell
                .iter()
                .filter(|reply| reply.stamp.boot_id == given.stamp.boot_id)
                .copied()
                .collect(),
        });
    }
    runs
}
