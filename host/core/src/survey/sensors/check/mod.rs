//! The check before the course is taped: one line for each thing a measurement stands on.

mod agree;
pub mod board;
mod receiver;
mod sensor;

use super::scene::{impulses_per_m, scenes};
use super::{Health, JUDGED, judge};
use crate::fitness::board_clock;
use crate::session::Totals;
use crate::session::trail::Trail;
use crate::survey::ride::rides;
use trundle_protocol::units::Channel;

crate::units::words! {
    /// How a line came out.
    pub enum Mark {
        /// Looked at, and good.
        Pass = "pass",
        /// Looked at, and not good.
        Fail = "fail",
        /// What it takes to judge was not seen.
        NotSeen = "not_seen",
    }
}

/// One line of the check.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckLine {
    /// Its name in files.
    pub key: &'static str,
    /// What is checked, for people.
    pub title: &'static str,
    /// How it came out.
    pub mark: Mark,
    /// What was seen, in words.
    pub what: String,
    /// What to do; empty where nothing is to be done.
    pub next: String,
    /// The measurement can do without it.
    pub optional: bool,
    /// The evidence: name with unit, value.
    pub numbers: Vec<(&'static str, f64)>,
}

impl CheckLine {
    pub(in crate::survey) fn new(
        key: &'static str,
        title: &'static str,
        mark: Mark,
        what: impl Into<String>,
    ) -> Self {
        let (next, numbers) = (String::new(), Vec::new());
        Self { key, title, mark, what: what.into(), next, optional: false, numbers }
    }

    pub(in crate::survey) fn next(mut self, next: impl Into<String>) -> Self {
        self.next = next.into();
        self
    }

    pub(in crate::survey) fn numbers(mut self, numbers: Vec<(&'static str, f64)>) -> Self {
        self.numbers = numbers;
        self
    }

    pub(in crate::survey) const fn optional(mut self) -> Self {
        self.optional = true;
        self
    }
}

/// All lines of the check.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// Its lines, in the order of the work.
    pub lines: Vec<CheckLine>,
    /// The sensors in detail.
    pub sensors: Vec<Health>,
    /// Impulses per 100 m by satellite speed, rough: to know the sensors apart, not to be entered.
    pub rough_per_100m: Vec<(Channel, f64)>,
    /// Damaged bytes of the capture.
    pub damaged_bytes: u64,
    /// The capture was closed in order.
    pub whole: bool,
}

impl Check {
    /// Lines that came out so.
    pub fn with(&self, mark: Mark) -> impl Iterator<Item = &CheckLine> {
        self.lines.iter().filter(move |line| line.mark == mark)
    }

    /// Nothing failed, and everything the measurement needs was seen.
    #[must_use]
    pub fn passes(&self) -> bool {
        let unseen = |line: &CheckLine| line.optional && line.mark == Mark::NotSeen;
        self.lines.iter().all(|line| line.mark == Mark::Pass || unseen(line))
            && self.damaged_bytes == 0
    }

    /// Everything the measurement needs was judged, well or ill.
    #[must_use]
    pub fn judged(&self) -> bool {
        self.lines.iter().all(|line| line.optional || line.mark != Mark::NotSeen)
    }
}

/// Check a trail that kept every count sample. `whole`: the capture was closed in order, or is
/// still growing.
#[must_use]
pub fn check(trail: &Trail, totals: &Totals, whole: bool) -> Check {
    // First, as it takes room that nothing of what follows can spare.
    let fixes = receiver::fixes(trail, totals);
    let rides = rides(trail);
    let scenes = scenes(trail, &rides);
    let sensors = judge(trail, &scenes);
    let mut lines = vec![board::hello(trail, totals), board::firmware(trail)];
    lines.push(board::supply(trail));
    lines.push(board::frames(trail, totals));
    lines.push(fixes);
    lines.push(receiver::clock(&rides));
    // A visit of a minute shows nothing of the clock, and that is no gap of the check.
    lines.extend(board_clock::rate(trail).map(|rate| board::clock(Some(&rate))));
    lines.extend(sensor::lines(&sensors));
    lines.push(agree::speeds(&scenes));
    lines.push(board::implement(trail, totals));
    lines.push(board::pto(trail, totals));
    let rough = |channel| Some((channel, 100.0 * impulses_per_m(&scenes, channel)?));
    let rough_per_100m = JUDGED.into_iter().filter_map(rough).collect();
    Check { lines, sensors, rough_per_100m, damaged_bytes: totals.damaged_bytes, whole }
}
