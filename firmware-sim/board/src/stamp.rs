//! What the input machines count, made readings of the board's timer.
//!
//! A machine's clock makes [`TICKS_IN_US`] steps in a microsecond. It is set so that it stands at
//! that many times the board's timer; both come from one crystal and stay together for ever. It
//! wraps eight times as often as the timer, so the timer says in which wrap an edge lies: the
//! one nearest to now, since no edge waits for minutes.

use crate::pio::TICKS_IN_US;

// A fraction of a power of two, so that a wrap of one clock is a wrap of the other.
const _: () = assert!(TICKS_IN_US.is_power_of_two());
const SHIFT: u32 = TICKS_IN_US.trailing_zeros();

/// Steps of the machine's clock at a reading of the timer.
#[must_use]
pub const fn steps(timer_us: u32) -> u32 {
    timer_us.wrapping_mul(TICKS_IN_US)
}

/// Reading of the timer at a step, cut to the microsecond, given its reading now: the step lies
/// less than half a wrap of the machine's clock (268 s) away.
#[must_use]
pub const fn timer_us(step: u32, now_us: u32) -> u32 {
    let ahead = step.wrapping_sub(steps(now_us)).cast_signed();
    // Rounds down on both sides of now.
    now_us.wrapping_add_signed(ahead >> SHIFT)
}

/// The word of a machine that watches both edges ([`crate::pio::CHANGES`]): the step of the
/// change, given the step now, and the level after it. The word has 31 bits of the clock, so the
/// change lies less than half a wrap of those (134 s) away.
#[must_use]
pub const fn change(word: u32, now_step: u32) -> (u32, bool) {
    let step_31 = !(word >> 1);
    // The difference in 31 bits, with its sign.
    let ahead = (step_31.wrapping_sub(now_step) << 1).cast_signed() >> 1;
    (now_step.wrapping_add_signed(ahead), word & 1 != 0)
}
