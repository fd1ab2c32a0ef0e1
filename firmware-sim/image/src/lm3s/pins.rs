//! The inputs: each latches the time of its edge until its interrupt has put it in the queue.
//!
//! A capture input of a timer does the same on a real board: it holds the time of one edge, and a
//! flag if another came before that was taken. Whoever ports this needs that flag: without it,
//! edges that come too fast are lost in silence.

use super::clock;
use super::registers as reg;
use core::sync::atomic::{AtomicBool, AtomicU8, AtomicU32, Ordering};
use trundle_board::port::Input;
use trundle_board::ring::Ring;
use trundle_protocol::message::MarkSource;
use trundle_protocol::units::Channel;

/// Edges that can wait for the main loop: at 20 kHz, those of six milliseconds.
const WAITING: usize = 128;

/// One input.
struct Latch {
    full: AtomicBool,
    ticks: AtomicU32,
    level: AtomicBool,
    /// Another edge came while this was full.
    missed: AtomicBool,
}

impl Latch {
    const fn new() -> Self {
        Self {
            full: AtomicBool::new(false),
            ticks: AtomicU32::new(0),
            level: AtomicBool::new(false),
            missed: AtomicBool::new(false),
        }
    }
}

/// Inputs in the order of the ports A to G: wheel, radar, PTO, button, gate, pulse per second,
/// implement in work.
const LINES: usize = 7;
static LATCHES: [Latch; LINES] = [const { Latch::new() }; LINES];
static QUEUE: Ring<(AtomicU8, AtomicU32), WAITING> = Ring::new();
static MISSED: AtomicU32 = AtomicU32::new(0);
/// Of them, given to the main loop.
static TOLD: AtomicU32 = AtomicU32::new(0);
static WAITING_MOST: AtomicU32 = AtomicU32::new(0);
static LATE_US: AtomicU32 = AtomicU32::new(0);

/// What the hardware does at an edge: hold its time and call the interrupt.
pub fn strike(input: Input, ticks: u32) {
    let (line, level) = match input {
        Input::Edge(channel) => (channel.index(), true),
        Input::Mark(MarkSource::Button) => (3, true),
        Input::Mark(MarkSource::Gate) => (4, true),
        Input::Pps => (5, true),
        Input::Working(in_work) => (6, in_work),
    };
    let latch = &LATCHES[line];
    if latch.full.load(Ordering::Relaxed) {
        latch.missed.store(true, Ordering::Relaxed);
    } else {
        latch.ticks.store(ticks, Ordering::Relaxed);
        latch.level.store(level, Ordering::Relaxed);
        latch.full.store(true, Ordering::Release);
    }
    reg::trigger(reg::PORT_IRQS[line]);
}

/// The interrupt of any input: whatever is latched goes into the queue, the oldest first, so that
/// a mark never takes an edge with it that came after.
pub fn serve() {
    while let Some((line, latch)) = oldest() {
        let ticks = latch.ticks.load(Ordering::Relaxed);
        let level = latch.level.load(Ordering::Relaxed);
        latch.full.store(false, Ordering::Release);
        let again = latch.missed.swap(false, Ordering::Relaxed);
        // Seven lines, and the level of one of them as an eighth.
        let code = if level { line } else { LINES } as u8;
        let queued = QUEUE.put((code, ticks));
        let missed = u32::from(again) + u32::from(!queued);
        if missed > 0 {
            let before = MISSED.load(Ordering::Relaxed);
            MISSED.store(before.wrapping_add(missed), Ordering::Relaxed);
        }
        // Lengths are far below 2^32.
        raise(&WAITING_MOST, QUEUE.len() as u32);
        raise(&LATE_US, clock::ticks().wrapping_sub(ticks));
    }
}

fn oldest() -> Option<(usize, &'static Latch)> {
    let now = clock::ticks();
    LATCHES.iter().enumerate().filter(|(_, latch)| latch.full.load(Ordering::Acquire)).max_by_key(
        |(line, latch)| {
            let age_us = now.wrapping_sub(latch.ticks.load(Ordering::Relaxed)).cast_signed();
            (age_us, LINES - line)
        },
    )
}

fn raise(most: &AtomicU32, value: u32) {
    if value > most.load(Ordering::Relaxed) {
        most.store(value, Ordering::Relaxed);
    }
}

/// The oldest that waits.
pub fn take() -> Option<(Input, u32)> {
    let (code, ticks) = QUEUE.take()?;
    let input = match code {
        0..=2 => Input::Edge(Channel::ALL[usize::from(code)]),
        3 => Input::Mark(MarkSource::Button),
        4 => Input::Mark(MarkSource::Gate),
        5 => Input::Pps,
        6 => Input::Working(true),
        _ => Input::Working(false),
    };
    Some((input, ticks))
}

/// How many wait.
pub fn waiting() -> usize {
    QUEUE.len()
}

/// Missed since the last call.
pub fn missed() -> u32 {
    let all = MISSED.load(Ordering::Relaxed);
    let new = all.wrapping_sub(TOLD.load(Ordering::Relaxed));
    TOLD.store(all, Ordering::Relaxed);
    new
}

/// For the account: most that waited, longest until served in microseconds, missed.
pub fn worst() -> [u32; 3] {
    [&WAITING_MOST, &LATE_US, &MISSED].map(|number| number.load(Ordering::Relaxed))
}
