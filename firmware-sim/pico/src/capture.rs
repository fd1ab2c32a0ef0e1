//! Edges with their time, held by hardware: one input machine for each input.
//!
//! A machine keeps eight edges. The interrupt moves them into one queue, the oldest first over
//! all inputs, so that a mark never takes an edge with it that came after. When that queue is
//! full, the interrupt stays away until the main loop has taken something: a flood of edges then
//! stands in the machines, whose hardware flags what no longer fits, and the main loop goes on.

use crate::account::{ACCOUNT, add, raise};
use crate::machines::{ALL_RECEIVE, LOW_END, execute, load, set_up};
use crate::registers::{self as reg, PIO_0, PIO_1, PIO_IRQS};
use core::sync::atomic::{AtomicBool, AtomicU8, AtomicU32, Ordering};
use rp2040_hal::pac::interrupt;
use trundle_board::pio::{CHANGES, CLOCK_HZ, FALLS, IMPULSES, PULL, X_NOT_TAKEN};
use trundle_board::port::Input;
use trundle_board::ring::Ring;
use trundle_board::stamp;
use trundle_protocol::message::MarkSource;
use trundle_protocol::units::Channel;

/// Pins of the inputs: wheel, radar, PTO (first block), pulse per second, button, gate, implement
/// in work (second block).
const PINS: [u32; LINES] = [2, 3, 4, 8, 6, 7, 5];
const LINES: usize = 7;
/// Inputs at the first block; its last machine gives the test signal.
const FIRST: usize = 3;
/// The input of which both edges are watched.
const WORKING: usize = 6;
/// What stands in the queue for its change to low.
const WORKING_LOW: u8 = LINES as u8;
/// Edges that can wait for the main loop: at 20 kHz, those of six milliseconds.
const WAITING: usize = 128;
/// Longest time from an edge to its place in the queue while interrupts may come, microseconds:
/// ten instructions of its machine, the interrupt, and four waits of 3 us for the flash, in which
/// the vector and the first lines of the interrupt lie.
const LATENCY_US: u32 = 16;
/// Time between the choice of the instant at which the machines start and that instant,
/// microseconds.
const LEAD_US: u32 = 2_000;

static QUEUE: Ring<(AtomicU8, AtomicU32), WAITING> = Ring::new();
/// Edges taken from the machines that have no place in the queue yet, one of each input.
static HEADS: [AtomicU32; LINES] = [const { AtomicU32::new(0) }; LINES];
/// Which of them.
static HELD: AtomicU32 = AtomicU32::new(0);
/// The interrupt stays away.
static FULL: AtomicBool = AtomicBool::new(false);

/// The inputs, for the main loop.
pub struct Inputs {
    /// The level of the implement-in-work input is to be looked at: at the start, and when one of
    /// its changes was missed.
    look: bool,
}

impl Inputs {
    /// Begins to watch; the timer at the same instant.
    pub fn start() -> (Self, u32) {
        reg::wake(reg::PIOS);
        load(PIO_0, &FALLS);
        load(PIO_0, &IMPULSES);
        load(PIO_1, &FALLS);
        load(PIO_1, &CHANGES);
        let zero = timer().wrapping_add(LEAD_US);
        for (line, pin) in PINS.into_iter().enumerate() {
            let (block, machine) = machine(line);
            if line == WORKING {
                set_up(block, machine, &CHANGES, pin, CLOCK_HZ);
            } else {
                set_up(block, machine, &FALLS, pin, CLOCK_HZ);
            }
            // X counts down, and is read as its complement.
            block.send(machine).write(stamp::steps(zero));
            execute(block, machine, PULL);
            execute(block, machine, X_NOT_TAKEN);
            block.shift(machine).write(LOW_END | ALL_RECEIVE);
        }
        PIO_0.interrupt().write(0b0111);
        PIO_1.interrupt().write(0b1111);
        cortex_m::interrupt::free(|_| begin(zero));
        reg::enable(&PIO_IRQS);
        (Self { look: true }, zero)
    }

    /// The oldest that waits, with the timer at its edge.
    pub fn take(&mut self) -> Option<(Input, u32)> {
        let now = timer();
        let waiting = QUEUE.len();
        let Some((code, step)) = QUEUE.take() else {
            return core::mem::take(&mut self.look).then(|| (Input::Working(is_in_work()), now));
        };
        let at = stamp::timer_us(step, now);
        // Lengths are far below 2^32.
        raise(&ACCOUNT.waiting_most, waiting as u32);
        // One that came since the timer was read is not late at all.
        raise(&ACCOUNT.late_us, now.wrapping_sub(at).cast_signed().max(0).cast_unsigned());
        let input = match code {
            0..=2 => Input::Edge(Channel::ALL[usize::from(code)]),
            3 => Input::Pps,
            4 => Input::Mark(MarkSource::Button),
            5 => Input::Mark(MarkSource::Gate),
            6 => Input::Working(true),
            _ => Input::Working(false),
        };
        Some((input, at))
    }

    /// How many machines have dropped edges since the last call.
    pub fn missed(&mut self) -> u32 {
        let (first, second) = (PIO_0.faults().read() & 0b0111, PIO_1.faults().read() & 0b1111);
        if first | second == 0 {
            return 0;
        }
        PIO_0.faults().write(first);
        PIO_1.faults().write(second);
        self.look |= second & 1 << (WORKING - FIRST) != 0;
        let missed = first.count_ones() + second.count_ones();
        add(&ACCOUNT.missed, missed);
        missed
    }

    /// Something waits, or there is room again for what stands in the machines.
    pub fn is_waiting(&self) -> bool {
        !QUEUE.is_empty() || self.look
    }

    /// Lets the interrupt come again if it stayed away and there is room.
    pub fn resume(&mut self) {
        if FULL.load(Ordering::Relaxed) && QUEUE.len() <= WAITING / 2 {
            FULL.store(false, Ordering::Relaxed);
            reg::enable(&PIO_IRQS);
            // What is held calls nobody.
            reg::call(PIO_IRQS[0]);
        }
    }
}

/// Reading of the timer, microseconds.
#[inline(always)]
pub fn timer() -> u32 {
    reg::TIMER_NOW.read()
}

/// A reading of the timer before which all edges have their place in the queue.
pub fn settled() -> u32 {
    timer().wrapping_sub(LATENCY_US)
}

/// The pin is high when the implement is in work.
fn is_in_work() -> bool {
    reg::LEVELS.read() & 1 << PINS[WORKING] != 0
}

#[inline(always)]
const fn machine(line: usize) -> (reg::Block, usize) {
    if line < FIRST { (PIO_0, line) } else { (PIO_1, line - FIRST) }
}

/// Number of the lowest bit set; the processor has no instruction for it.
#[unsafe(link_section = ".data.lowest")]
static LOWEST: [u8; 1 << LINES] = {
    let mut table = [0; 1 << LINES];
    let mut at: usize = 1;
    while at < table.len() {
        table[at] = at.trailing_zeros() as u8;
        at += 1;
    }
    table
};

/// Starts all machines when the timer comes to this reading. It lies in memory: a wait for the
/// flash between the timer and the two blocks would set their clocks apart by microseconds, for
/// as long as the board runs.
#[inline(never)]
#[unsafe(link_section = ".data.begin")]
fn begin(zero: u32) {
    while timer() != zero {}
    // Enabled, with their dividers beginning anew.
    PIO_0.control().write(0b0111_0000_0111);
    PIO_1.control().write(0b1111_0000_1111);
}

/// The interrupt of both blocks. It lies in memory, so that it does not wait for the flash.
#[inline(never)]
#[unsafe(link_section = ".data.serve")]
fn serve() {
    let mut held = HELD.load(Ordering::Relaxed);
    loop {
        // Bit n: input n has none waiting in its machine.
        let empty =
            PIO_0.queues().read() >> 8 & 0b0111 | (PIO_1.queues().read() >> 8 & 0b1111) << 3;
        let mut fresh = !empty & !held & ((1 << LINES) - 1);
        held |= fresh;
        while fresh != 0 {
            let line = usize::from(LOWEST[fresh as usize]);
            fresh &= fresh - 1;
            let (block, machine) = machine(line);
            HEADS[line].store(block.receive(machine).read(), Ordering::Relaxed);
        }
        if held == 0 {
            break;
        }
        let (code, step, line) = oldest(held);
        if !QUEUE.put((code, step)) {
            FULL.store(true, Ordering::Relaxed);
            reg::disable(&PIO_IRQS);
            break;
        }
        held &= !(1 << line);
    }
    HELD.store(held, Ordering::Relaxed);
}

/// The oldest of the edges held: what stands in the queue for it, its step, its input.
#[inline(always)]
fn oldest(held: u32) -> (u8, u32, usize) {
    let mut line = usize::from(LOWEST[held as usize]);
    let mut rest = held & (held - 1);
    let (mut code, mut step) = read(line);
    while rest != 0 {
        let other = usize::from(LOWEST[rest as usize]);
        rest &= rest - 1;
        let (other_code, other_step) = read(other);
        if other_step.wrapping_sub(step).cast_signed() < 0 {
            (code, step, line) = (other_code, other_step, other);
        }
    }
    (code, step, line)
}

#[inline(always)]
fn read(line: usize) -> (u8, u32) {
    let word = HEADS[line].load(Ordering::Relaxed);
    if line != WORKING {
        return (line as u8, word);
    }
    let (step, in_work) = stamp::change(word, stamp::steps(timer()));
    (if in_work { WORKING as u8 } else { WORKING_LOW }, step)
}

#[interrupt]
fn PIO0_IRQ_0() {
    serve();
}

#[interrupt]
fn PIO1_IRQ_0() {
    serve();
}
