//! One board: an LM3S6965 at 50 MHz, as QEMU's machine `lm3s6965evb` emulates it.
//!
//! | interrupt | priority | duty |
//! |---|---|---|
//! | SysTick | highest | one millisecond has passed |
//! | timer 0 | high | the bench: stands for the world outside, see `bench.rs` |
//! | GPIO ports | middle | an input has an edge |
//! | UART 0 | low | bytes to and from the host |
//!
//! The main loop runs below all of them and is never locked out for longer than one of them takes.

mod bench;
mod clock;
mod link;
mod pins;
mod registers;
mod stack;

use core::sync::atomic::{AtomicU32, Ordering};
use registers as reg;
use trundle_board::port::{Input, Port};
use trundle_counter::{Board, Config};
use trundle_protocol::message::ResetCause;

/// Half a period of the blinking by which a person finds the board, microseconds.
const BLINK_US: u32 = 250_000;

/// Time asleep so far, microseconds; for the bench's account.
static ASLEEP_US: AtomicU32 = AtomicU32::new(0);

/// The board.
pub struct Lm3s {
    supply_mv: u16,
    blinking: bool,
}

impl Lm3s {
    /// Brings the hardware up and waits for the bench; board time begins on return.
    pub fn start() -> (Self, Config) {
        stack::paint();
        clock::fast();
        reg::set_priorities();
        reg::lamp_output();
        link::start();
        let given = bench::start();
        let config = Config {
            board_id: given.board_id,
            boot_id: given.boot_id,
            firmware: [0, 1, 0],
            reset_cause: reset_cause(),
            capabilities: given.capabilities,
            report_period_us: given.report_period_us,
            min_edge_interval_us: given.min_edge_interval_us,
        };
        clock::start(given.timer_start);
        bench::go();
        (Self { supply_mv: given.supply_mv, blinking: false }, config)
    }
}

impl Board for Lm3s {
    fn tx_room(&mut self) -> usize {
        link::room()
    }

    fn tx(&mut self, bytes: &[u8]) {
        link::send(bytes);
    }

    fn supply_mv(&mut self) -> u16 {
        self.supply_mv
    }

    fn identify(&mut self, on: bool) {
        self.blinking = on;
    }
}

impl Port for Lm3s {
    fn ticks(&self) -> u32 {
        clock::ticks()
    }

    fn happened(&mut self) -> Option<(Input, u32)> {
        pins::take()
    }

    fn missed(&mut self) -> u32 {
        pins::missed()
    }

    fn byte(&mut self) -> Option<u8> {
        link::byte()
    }

    fn rest(&mut self) {
        reg::lamp(self.blinking && clock::elapsed_us() / BLINK_US % 2 == 0);
        // With interrupts held back, so that none can come between the look and the sleep; one
        // that is held back ends the sleep all the same.
        cortex_m::interrupt::free(|_| {
            if pins::waiting() == 0 && !link::has_byte() {
                let before_us = clock::elapsed_us();
                cortex_m::asm::wfi();
                let slept_us = clock::elapsed_us().wrapping_sub(before_us);
                let asleep_us = ASLEEP_US.load(Ordering::Relaxed);
                ASLEEP_US.store(asleep_us.wrapping_add(slept_us), Ordering::Relaxed);
            }
        });
    }
}

fn reset_cause() -> ResetCause {
    match reg::RESET_CAUSE.read() {
        // In the order of what explains the others: at power on several bits are set.
        cause if cause & 0b0_0010 != 0 => ResetCause::PowerOn,
        cause if cause & 0b0_0100 != 0 => ResetCause::BrownOut,
        cause if cause & 0b0_1000 != 0 => ResetCause::Watchdog,
        cause if cause & 0b1_0000 != 0 => ResetCause::Software,
        cause if cause & 0b0_0001 != 0 => ResetCause::Pin,
        _ => ResetCause::Unknown,
    }
}

/// Every interrupt but SysTick comes here, with its number.
#[cortex_m_rt::exception]
unsafe fn DefaultHandler(number: i16) {
    match number {
        reg::TIMER_0_IRQ => bench::serve(),
        reg::UART_0_IRQ => link::serve(),
        _ => pins::serve(),
    }
}

/// One millisecond has passed. It wakes the main loop too.
#[cortex_m_rt::exception]
fn SysTick() {
    clock::millisecond();
}
