//! Keeping the samples around a pass, and letting the others go.

use super::drive::{Drive, Driven, Odometer};
use super::trail::{FixClock, SpellClocks, Tracer, Trail};
use super::{PASSES_MAX, samples::Samples};
use crate::capture::Arrival;
use crate::session::marks::Ruling;
use crate::session::window::{Incident, IncidentKind, MarkPoint, PassWindow, WindowClock};
use crate::timeline::envelope::{ClockLine, Envelope};
use crate::timeline::receiver_clock::{ReceiverClock, ReceiverStep};
use crate::wire::board::CountSample;
use crate::wire::fix::Fix;
use std::collections::VecDeque;
use std::sync::Arc;

/// Kept before a start mark, nanoseconds: the rest beside the peg, or the run-up.
const BEFORE_NS: u64 = 30_000_000_000;
/// Kept after a finish mark, nanoseconds.
const AFTER_NS: u64 = 20_000_000_000;
/// Longest pass kept whole, nanoseconds: 400 m at walking pace, with time to spare.
const PASS_MAX_NS: u64 = 900_000_000_000;
/// The rate of the impulses at a restart is that of this time before it, nanoseconds.
const RATE_NS: u64 = 1_000_000_000;
/// Incidents kept for one pass; more add nothing to the verdict.
const INCIDENTS_MAX: usize = 4096;

/// Samples in, pass windows out.
#[derive(Clone, Debug, Default)]
pub struct Collector {
    recent_counts: VecDeque<CountSample>,
    recent_fixes: VecDeque<Fix>,
    recent_incidents: VecDeque<Incident>,
    open: Option<PassWindow>,
    trailing: Option<PassWindow>,
    /// A copy of the session shares them until one of them changes.
    closed: Arc<Vec<PassWindow>>,
    /// Passes that found no room.
    overflow: u32,
    board_clock: Envelope,
    receiver_clock: ReceiverClock,
    pulse_clock: Envelope,
    arrival: Arrival,
    now_ns: u64,
    tracer: Option<Tracer>,
    pub(super) odometer: Odometer,
}

impl Collector {
    /// Keep a trail of samples beside the passes.
    pub fn keep_trail(&mut self, tracer: Tracer) {
        self.tracer = Some(tracer);
    }

    /// The trail so far.
    pub fn trail(&self) -> Option<Trail> {
        let mut trail = self.tracer.as_ref()?.so_far(self.clocks());
        let last = trail.spells.last_mut();
        if let Some((unjudged_ns, last)) = self.receiver_clock.unjudged_ns().zip(last) {
            let judged = last.fixes.partition_point(|fix| fix.host_ns < unjudged_ns);
            last.fixes.split_off(judged);
        }
        Some(trail)
    }

    pub const fn tracer(&mut self) -> Option<&mut Tracer> {
        self.tracer.as_mut()
    }

    pub fn set_arrival(&mut self, arrival: Arrival) {
        self.arrival = arrival;
        if let Some(tracer) = &mut self.tracer {
            tracer.set_arrival(arrival);
        }
    }

    /// Host time goes on: a finished pass has seen enough of the rest after it.
    pub fn tick(&mut self, host_ns: u64) {
        self.now_ns = self.now_ns.max(host_ns);
        let done = |pass: &PassWindow| {
            pass.finish.is_some_and(|finish| host_ns > finish.host_ns + AFTER_NS)
        };
        if self.trailing.as_ref().is_some_and(done) {
            self.close_trailing();
        }
        let from_ns = host_ns.saturating_sub(BEFORE_NS);
        while self.recent_counts.front().is_some_and(|s| s.host_ns < from_ns) {
            self.recent_counts.pop_front();
        }
        while self.recent_fixes.front().is_some_and(|f| f.host_ns < from_ns) {
            self.recent_fixes.pop_front();
        }
        while self.recent_incidents.front().is_some_and(|i| i.host_ns < from_ns) {
            self.recent_incidents.pop_front();
        }
    }

    pub fn counts(&mut self, sample: CountSample) {
        self.board_clock.add(sample.board_us as f64 * 1e-6, sample.host_ns as f64 * 1e-9);
        self.odometer.counts(&sample);
        self.recent_counts.push_back(sample);
        if let Some(tracer) = &mut self.tracer {
            tracer.counts(&sample);
        }
        self.each_window(sample.host_ns, |window| {
            // With its board clock sealed, what comes now is of another boot and another clock.
            if window.board_clock.is_none() {
                window.counts.push(sample);
            }
        });
    }

    /// A plausible fix. Shows the step of the receiver's clock that it proves, if it does.
    pub fn fix(&mut self, fix: Fix) -> Option<ReceiverStep> {
        if let Some(tracer) = &mut self.tracer {
            tracer.fix(&fix);
        }
        self.each_window(fix.host_ns, |window| {
            // With its clock sealed already, it has no place for times of another one.
            if window.clock.is_none() {
                window.fixes.push(fix);
            }
        });
        self.recent_fixes.push_back(fix);
        let step = self.receiver_clock.add(fix.utc_ns, fix.host_ns)?;
        self.receiver_stepped(&step, Some(step.step_s));
        Some(step)
    }

    /// The computer slept: its clock stood still meanwhile, and the receiver's went on.
    pub fn slept(&mut self, seconds: f64) {
        self.incident_now(IncidentKind::Slept(seconds));
        let (from_ns, to_ns) = (self.now_ns, self.now_ns);
        let before = std::mem::take(&mut self.receiver_clock).line();
        self.receiver_stepped(&ReceiverStep { step_s: seconds, from_ns, to_ns, before }, None);
    }

    /// The receiver's clock begins anew: no fix before belongs on a clock with one after. A pass
    /// keeps those of its own side; one with the step inside has no side, and `named_s` says why.
    fn receiver_stepped(&mut self, step: &ReceiverStep, named_s: Option<f64>) {
        let before = self.board_clock.line().and_then(|board| {
            let (fix, fix_origin_ns) = step.before?;
            Some(WindowClock { board, fix, fix_origin_ns, pulse: self.pulse_clock.line() })
        });
        for window in [&mut self.open, &mut self.trailing].into_iter().flatten() {
            if window.clock.is_some() {
                continue;
            }
            if step.to_ns <= window.start.host_ns {
                window.fixes.retain(|fix| fix.host_ns >= step.to_ns);
                continue;
            }
            window.clock = before;
            let finish_ns = window.finish.map_or(u64::MAX, |finish| finish.host_ns);
            if step.from_ns >= finish_ns {
                window.fixes.retain(|fix| fix.host_ns < step.to_ns);
                continue;
            }
            window.fixes = Samples::default();
            if let Some(step_s) = named_s {
                let host_ns = step.to_ns.min(finish_ns);
                let kind = IncidentKind::ReceiverClock(step_s);
                window.incidents.push(Incident { host_ns, kind });
            }
        }
        if let Some(tracer) = &mut self.tracer {
            let (board, fix) = (self.board_clock.line(), step.before.map(FixClock::from));
            tracer.split(step.to_ns, SpellClocks { board, both: before, fix });
        }
        self.recent_fixes.retain(|fix| fix.host_ns >= step.to_ns);
        self.pulse_clock = Envelope::default();
    }

    /// A pulse-per-second edge: which second of UTC it was, the arrival times show. They are late
    /// by the receiver's output delay, 20 to 300 ms and never a second.
    pub fn pulse(&mut self, board_us: u64) {
        let (Some(board), Some((fix, origin_ns))) =
            (self.board_clock.line(), self.receiver_clock.line())
        else {
            return;
        };
        const USUAL_DELAY_S: f64 = 0.2;
        let board_s = board_us as f64 * 1e-6;
        let into_second_s = (origin_ns % 1_000_000_000) as f64 * 1e-9;
        let near_s = fix.source_s(board.host_s(board_s)) + USUAL_DELAY_S + into_second_s;
        self.pulse_clock.add(board_s, near_s.round() - into_second_s);
    }

    pub fn incident(&mut self, host_ns: u64, kind: IncidentKind) {
        let incident = Incident { host_ns, kind };
        if self.recent_incidents.len() == INCIDENTS_MAX {
            self.recent_incidents.pop_front();
        }
        self.recent_incidents.push_back(incident);
        if let Some(tracer) = &mut self.tracer {
            tracer.incident(host_ns, kind);
        }
        self.each_window(host_ns, |window| {
            if window.incidents.len() < INCIDENTS_MAX {
                window.incidents.push(incident);
            }
        });
    }

    pub fn incident_now(&mut self, kind: IncidentKind) {
        self.incident(self.now_ns, kind);
    }

    /// Counts begin again at zero on a new clock: nothing before belongs to anything after.
    pub fn board_reset(&mut self, host_ns: u64) {
        self.incident(host_ns, IncidentKind::BoardReset);
        self.close_trailing();
        // The open pass keeps what it has; it will be refused, and says why.
        self.close_open(None);
        let from_ns = self.recent_counts.back().map_or(0, |s| s.host_ns.saturating_sub(RATE_NS));
        self.odometer.restarted(self.recent_counts.iter().find(|s| s.host_ns >= from_ns));
        let clocks = self.clocks();
        if let Some(tracer) = &mut self.tracer {
            tracer.seal(clocks);
        }
        self.recent_counts.clear();
        self.board_clock = Envelope::default();
        self.pulse_clock = Envelope::default();
    }

    /// What was driven from the last mark to a press, and what it can be; `cut` stands in for the
    /// passes before where there are none.
    pub fn drive(&self, host_ns: u64, cut: Option<&Driven>) -> Drive {
        let whole = self.closed.iter().chain(&self.trailing).filter(|pass| pass.is_sure());
        let passes: Vec<Driven> = whole.filter_map(PassWindow::driven).collect();
        let usual = Driven::middle(&passes);
        self.odometer.judge(host_ns, self.recent_fixes.back(), usual.as_ref().or(cut))
    }

    /// Nothing shows that the marks of these passes are start and finish.
    pub fn doubt(&mut self, from_number: u32) {
        let closed = Arc::make_mut(&mut self.closed).iter_mut();
        let all = closed.chain(&mut self.trailing).chain(&mut self.open);
        all.filter(|pass| pass.number >= from_number).for_each(|pass| pass.unsure = true);
    }

    /// What is driven from here on is counted.
    pub fn set_out(&mut self, host_ns: u64) {
        self.odometer.mark(host_ns, self.recent_fixes.back());
    }

    /// Act on what the marks decided.
    pub fn rule(&mut self, ruling: Ruling, mark: MarkPoint, reason: &str) {
        match ruling {
            Ruling::Start { number, abandons } => {
                if abandons.is_some() {
                    let what = "given up: another start was marked before its finish";
                    self.close_open(Some(what));
                }
                self.close_trailing();
                self.open = Some(self.begin(number, mark));
                self.set_out(mark.host_ns);
            }
            Ruling::Finish { .. } => {
                if let Some(mut pass) = self.open.take() {
                    pass.finish = Some(mark);
                    self.trailing = Some(pass);
                }
                self.set_out(mark.host_ns);
            }
            Ruling::FinishOfCut => self.set_out(mark.host_ns),
            Ruling::StartUndone { number } => {
                self.odometer.lose();
                self.open = None;
                // As if it had never been started.
                Arc::make_mut(&mut self.closed).retain(|pass| pass.number != number);
            }
            Ruling::FinishUndone { number } => self.reopen(number),
            Ruling::Refused { number } => self.reject(number, reason),
            Ruling::GivenUp { .. } => self.close_open(Some("a press of the button was lost")),
            Ruling::Note | Ruling::Repeat { .. } | Ruling::NothingOpen | Ruling::NothingToUndo => {}
        }
    }

    pub fn close_all(&mut self) {
        self.close_trailing();
        self.close_open(Some("the capture ended before its finish was marked"));
    }

    pub fn passes(&self) -> &[PassWindow] {
        &self.closed
    }

    pub const fn overflow(&self) -> u32 {
        self.overflow
    }

    pub fn latest(&self) -> (Option<&CountSample>, Option<&Fix>) {
        (self.recent_counts.back(), self.recent_fixes.back())
    }

    fn begin(&self, number: u32, start: MarkPoint) -> PassWindow {
        PassWindow {
            number,
            start,
            finish: None,
            counts: self.recent_counts.iter().copied().collect(),
            fixes: self.recent_fixes.iter().copied().collect(),
            incidents: self.recent_incidents.iter().copied().collect(),
            rejected: None,
            unsure: false,
            too_long: false,
            board_clock: None,
            clock: None,
        }
    }

    fn each_window(&mut self, host_ns: u64, mut act: impl FnMut(&mut PassWindow)) {
        for window in [&mut self.open, &mut self.trailing].into_iter().flatten() {
            if host_ns > window.start.host_ns + PASS_MAX_NS {
                window.too_long = true;
            } else {
                act(window);
            }
        }
    }

    fn seal(&self, pass: &mut PassWindow) {
        let board = pass.board_clock.or_else(|| self.board_clock.line());
        pass.board_clock = board;
        pass.clock = match pass.clock {
            Some(sealed) => board.map(|board| WindowClock { board, ..sealed }),
            None => board.and_then(|board| self.clock_with(board)),
        };
        if let Some(unjudged_ns) = self.receiver_clock.unjudged_ns() {
            pass.fixes.retain(|fix| fix.host_ns < unjudged_ns);
        }
        pass.drop_old_fixes();
    }

    fn clocks(&self) -> SpellClocks {
        let (board, fix) = (self.board_clock.line(), self.receiver_clock.line());
        let both = board.and_then(|board| self.clock_with(board));
        SpellClocks { board, both, fix: fix.map(FixClock::from) }
    }

    fn clock_with(&self, board: ClockLine) -> Option<WindowClock> {
        let (fix, fix_origin_ns) = self.receiver_clock.line()?;
        Some(WindowClock { board, fix, fix_origin_ns, pulse: self.pulse_clock.line() })
    }

    fn close_trailing(&mut self) {
        if let Some(mut pass) = self.trailing.take() {
            self.seal(&mut pass);
            self.keep(pass);
        }
    }

    fn close_open(&mut self, reason: Option<&str>) {
        if let Some(mut pass) = self.open.take() {
            self.seal(&mut pass);
            pass.rejected = pass.rejected.take().or_else(|| reason.map(str::to_owned));
            self.keep(pass);
        }
    }

    fn keep(&mut self, mut pass: PassWindow) {
        if self.closed.len() == PASSES_MAX {
            self.overflow += 1;
            return;
        }
        if self.tracer.as_ref().is_some_and(Tracer::is_alone) {
            pass.without_samples();
        }
        pass.shrink_to_fit();
        Arc::make_mut(&mut self.closed).push(pass);
    }

    /// A finish was undone. While the samples still flow in, the pass simply goes on; later
    /// there is a hole in it, so it stays as it was recorded but cannot be used.
    fn reopen(&mut self, number: u32) {
        self.odometer.lose();
        if let Some(mut pass) = self.trailing.take() {
            pass.finish = None;
            self.open = Some(pass);
        } else if let Some(at) = self.closed.iter().position(|pass| pass.number == number) {
            let mut pass = Arc::make_mut(&mut self.closed).remove(at);
            pass.finish = None;
            pass.rejected = Some("its finish was undone too late to continue the pass".to_owned());
            self.open = Some(pass);
        }
    }

    fn reject(&mut self, number: u32, reason: &str) {
        let reason = if reason.is_empty() { "rejected by the operator" } else { reason };
        if self.open.as_ref().is_some_and(|pass| pass.number == number) {
            self.close_open(Some(reason));
            return;
        }
        let closed = Arc::make_mut(&mut self.closed);
        let all = closed.iter_mut().chain(self.trailing.as_mut());
        for pass in all.filter(|pass| pass.number == number) {
            pass.rejected = Some(reason.to_owned());
        }
    }
}
