//! One microsecond timer of 32 bits, made of SysTick and a count of milliseconds.

use super::registers as reg;
use core::sync::atomic::{AtomicU32, Ordering};

/// Clocks in a microsecond at 50 MHz.
pub const CLOCKS_IN_US: u32 = 50;
/// Microseconds from one SysTick to the next.
const TICK_US: u32 = 1_000;
/// SysTick: from the processor's clock, with interrupt, running.
const RUNNING: u32 = 0b111;
const STANDING: u32 = 0b110;
/// Clocks before the next SysTick in which it is not stopped: more than pass between the look at
/// the counter and the stop.
const LAST_CLOCKS: u32 = 100;
/// SysTick has come to its end and was not served yet.
const DUE: u32 = 1 << 26;

/// Milliseconds since the start.
static MILLISECONDS: AtomicU32 = AtomicU32::new(0);
/// Reading of the timer at the start.
static START: AtomicU32 = AtomicU32::new(0);

/// 50 MHz from the crystal of 8 MHz by the PLL.
pub fn fast() {
    const BYPASS: u32 = 1 << 11;
    const USE_DIVISOR: u32 = 1 << 22;
    let slow = reg::CLOCK.read() | BYPASS;
    reg::CLOCK.write(slow & !USE_DIVISOR);
    // Divisor, crystal, source and power-down of the PLL: 200 MHz / 4, 8 MHz, main oscillator, on.
    let kept = slow & !(0xF << 23 | 0xF << 6 | 0b11 << 4 | 1 << 13);
    let set = kept | 3 << 23 | USE_DIVISOR | 0xE << 6;
    reg::CLOCK.write(set);
    while reg::RAW_STATUS.read() & 1 << 6 == 0 {}
    reg::CLOCK.write(set & !BYPASS);
    // Timer 0, UART 0 and 1; GPIO ports A to G.
    reg::GATE_1.write(1 << 16 | 0b11);
    reg::GATE_2.write(0x7F);
}

/// Time begins, with the timer at this reading.
pub fn start(reading: u32) {
    START.store(reading, Ordering::Relaxed);
    reg::SYSTICK_RELOAD.write(TICK_US * CLOCKS_IN_US - 1);
    reg::SYSTICK_NOW.write(0);
    // The clock is chosen before it runs: the emulator starts no timer that has none yet.
    reg::SYSTICK_CONTROL.write(STANDING);
    go();
    // The first clock loads the counter; before it, it would read as if a whole tick were over.
    while reg::SYSTICK_NOW.read() == 0 {}
}

/// Time stands still.
///
/// Never just before a SysTick: one that is stopped at its last clock is lost in the emulator.
pub fn stop() {
    while reg::SYSTICK_NOW.read() < LAST_CLOCKS {}
    reg::SYSTICK_CONTROL.write(STANDING);
}

/// Time goes on.
pub fn go() {
    reg::SYSTICK_CONTROL.write(RUNNING);
}

/// SysTick's interrupt.
pub fn millisecond() {
    let before = MILLISECONDS.load(Ordering::Relaxed);
    MILLISECONDS.store(before.wrapping_add(1), Ordering::Relaxed);
}

/// Microseconds since the start; wraps. Right from any interrupt, if none keeps SysTick away for
/// longer than its millisecond.
pub fn elapsed_us() -> u32 {
    loop {
        let counted = MILLISECONDS.load(Ordering::Relaxed);
        let mut now = reg::SYSTICK_NOW.read();
        let mut milliseconds = counted;
        if reg::INTERRUPT_STATE.read() & DUE != 0 {
            // It wrapped before or just after it was read: read again, now surely after it.
            now = reg::SYSTICK_NOW.read();
            milliseconds = counted.wrapping_add(1);
        }
        if MILLISECONDS.load(Ordering::Relaxed) == counted {
            let into_us = (TICK_US * CLOCKS_IN_US - 1 - now) / CLOCKS_IN_US;
            return milliseconds.wrapping_mul(TICK_US).wrapping_add(into_us);
        }
    }
}

/// Reading of the timer.
pub fn ticks() -> u32 {
    START.load(Ordering::Relaxed).wrapping_add(elapsed_us())
}

/// Reading of the timer at a time since the start.
pub fn ticks_at(elapsed_us: u32) -> u32 {
    START.load(Ordering::Relaxed).wrapping_add(elapsed_us)
}
