//! A stream of the bus laid out as a trail of its own, so that it can be held against the fixes
//! like the counts of a board.

use crate::session::bus::BusTrail;
use crate::session::samples::Samples;
use crate::session::trail::{FixClock, Spell, Trail};
use crate::session::window::{Incident, WindowClock};
use crate::timeline::envelope::ClockLine;
use crate::wire::board::CountSample;
use crate::wire::bus::reader::BusSample;
use std::collections::VecDeque;

/// Messages further apart than this are not one run, nanoseconds: ten of them are missing.
const GAP_NS: u64 = 1_000_000_000;
/// Fixes before and after a run that belong to it, nanoseconds: they may be a second and a half
/// late, and more shows nothing.
const AROUND_NS: u64 = 3_000_000_000;
/// The speed, added up, is counted in these, metres: a step must be small against what is driven
/// from message to message.
const SPEED_STEP_M: f64 = 1e-5;

/// Messages averaged over: 0.4 s, as long as a speed is taken over beside the fixes.
const AVERAGED: usize = 4;

/// The host's clock is the board's of these trails.
const HOST: ClockLine = ClockLine { origin_s: 0.0, offset_s: 0.0, drift: 0.0, residual_s: 0.0 };

/// What of a message is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Laid {
    /// Its distance, in millimetres.
    Distance,
    /// Its speed, added up.
    Speed,
    /// Its distance, averaged over neighbouring messages. Fixes and messages that come at the same
    /// rate always lie alike, and where a fix lies between two messages their millimetre steps
    /// average out: on its own, a delay would be drawn there.
    Averaged,
}

impl Laid {
    /// Counts for each metre shown.
    pub const fn per_m(self) -> f64 {
        match self {
            Self::Distance => 1e3,
            Self::Averaged => 1e3 * AVERAGED as f64,
            Self::Speed => 1.0 / SPEED_STEP_M,
        }
    }
}

/// Counts that can be subtracted from each other.
#[derive(Default)]
struct Counting {
    runs: Vec<Samples<CountSample>>,
    /// Host time, run, speed in mm/s and sum in metres of the last one.
    last: Option<(u64, u32, f64, f64)>,
}

/// The trail of one stream.
pub fn laid(trail: &Trail, samples: &Samples<BusSample>, what: Laid) -> Trail {
    let runs = counted(samples, what);
    let mut spells = Vec::new();
    for spell in &trail.spells {
        let Some(clock) = spell.fix_clock else { continue };
        let clock = window(spell, clock);
        for counts in &runs {
            spells.extend(beside(spell, clock, counts));
        }
    }
    let arrival = trail.arrival;
    Trail { spells, arrival, cut: trail.cut, bus: BusTrail::default(), ..Trail::default() }
}

fn counted(samples: &Samples<BusSample>, what: Laid) -> Vec<Samples<CountSample>> {
    let mut counting = Counting::default();
    for sample in samples {
        match what {
            Laid::Distance | Laid::Averaged => {
                let Some(at) = sample.distance else { continue };
                counting.take(sample.host_ns, at.run, 0.0, |_| at.distance_mm as f64 * 1e-3);
            }
            Laid::Speed => {
                let Some(speed_mm_s) = sample.speed_mm_s else { continue };
                let m_s = f64::from(speed_mm_s) * 1e-3;
                counting.take(sample.host_ns, 0, m_s, |(last_ns, _, last_m_s, sum_m)| {
                    let passed_s = (sample.host_ns - last_ns) as f64 * 1e-9;
                    sum_m + f64::midpoint(last_m_s, m_s) * passed_s
                });
            }
        }
        counting.push(sample.host_ns, what);
    }
    match what {
        Laid::Averaged => counting.runs.iter().map(averaged).collect(),
        Laid::Distance | Laid::Speed => counting.runs,
    }
}

/// The means of neighbours, in time and count: they delay nothing.
fn averaged(run: &Samples<CountSample>) -> Samples<CountSample> {
    let mut out = Samples::default();
    let mut near: VecDeque<CountSample> = VecDeque::new();
    for sample in run {
        near.push_back(sample);
        if near.len() < AVERAGED {
            continue;
        }
        let mean = |of: fn(&CountSample) -> u64| {
            let first = near.front().map_or(0, of);
            let beyond: u64 = near.iter().map(|one| of(one).saturating_sub(first)).sum();
            first + beyond / AVERAGED as u64
        };
        let (host_ns, board_us) = (mean(|one| one.host_ns), mean(|one| one.board_us));
        // Each is counted in parts of what the mean is made of already.
        out.push(CountSample {
            host_ns,
            board_us,
            impulses: [mean(|one| one.impulses[0]), 0, 0],
            ..sample
        });
        near.pop_front();
    }
    out
}

impl Counting {
    fn take(
        &mut self,
        host_ns: u64,
        run: u32,
        m_s: f64,
        sum_m: impl Fn((u64, u32, f64, f64)) -> f64,
    ) {
        let goes_on = self.last.filter(|last| last.1 == run && host_ns <= last.0 + GAP_NS);
        if goes_on.is_none() {
            self.runs.push(Samples::default());
        }
        let before = goes_on.unwrap_or((host_ns, run, m_s, 0.0));
        self.last = Some((host_ns, run, m_s, sum_m(before)));
    }

    fn push(&mut self, host_ns: u64, what: Laid) {
        let (Some(run), Some((.., sum_m))) = (self.runs.last_mut(), self.last) else { return };
        let board_us = host_ns / 1_000;
        // Messages that arrive together have one time: the first of them stands.
        if run.last().is_some_and(|last| last.board_us >= board_us) {
            return;
        }
        run.push(CountSample {
            host_ns,
            board_us,
            impulses: [(sum_m * what.per_m()).round() as u64, 0, 0],
            last_edge_us: [None; 3],
            rejected: [0; 3],
            in_work: false,
            overruns: 0,
        });
    }
}

/// The clocks of a spell, with the host's in the place of the board's.
fn window(spell: &Spell, fix: FixClock) -> WindowClock {
    let pulse = spell.clock.and_then(|clock| Some((clock.board, clock.pulse?)));
    let pulse = pulse.map(|(board, pulse)| {
        // Two lines, one after the other, are one.
        let since_s = |host_s: f64| pulse.host_s(board.source_s(host_s));
        let (from_s, to_s) = (since_s(0.0), since_s(1.0));
        ClockLine { offset_s: from_s, drift: to_s - from_s - 1.0, ..HOST }
    });
    WindowClock { board: HOST, fix: fix.line, fix_origin_ns: fix.origin_ns, pulse }
}

/// The fixes of a spell beside a run of counts; `None` where they have no time in common.
fn beside(spell: &Spell, clock: WindowClock, counts: &Samples<CountSample>) -> Option<Spell> {
    let (first_ns, last_ns) = (counts.first()?.host_ns, counts.last()?.host_ns);
    let from_ns = first_ns.saturating_sub(AROUND_NS);
    let from = spell.fixes.partition_point(|fix| fix.host_ns < from_ns);
    let to = spell.fixes.partition_point(|fix| fix.host_ns <= last_ns + AROUND_NS);
    let fixes = spell.fixes.part(from, to);
    fixes.first()?;
    let meanwhile =
        |incident: &&Incident| (from_ns..=last_ns + AROUND_NS).contains(&incident.host_ns);
    let incidents = spell.incidents.iter().filter(meanwhile).copied().collect();
    let counts = counts.clone();
    Some(Spell {
        counts,
        fixes,
        incidents,
        board_clock: Some(HOST),
        clock: Some(clock),
        fix_clock: spell.fix_clock,
    })
}
