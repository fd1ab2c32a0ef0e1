//! When the LED is lit.

/// Half a period of the blinking by which a person finds the board, microseconds.
const BLINK_US: u32 = 250_000;
/// A sign of life lasts this long, microseconds.
const LIFE_US: u32 = 50_000;
/// From one sign of life to the next while a host reads, microseconds.
const READ_US: u32 = 1_000_000;
/// The same while nobody does.
const ALONE_US: u32 = 4_000_000;

/// Lit at a reading of the timer? An even blinking while the board is searched; else a short
/// flash, each second while a host reads and each four seconds while none does.
#[must_use]
pub const fn is_lit(timer_us: u32, searched: bool, read: bool) -> bool {
    if searched {
        return (timer_us / BLINK_US).is_multiple_of(2);
    }
    timer_us % (if read { READ_US } else { ALONE_US }) < LIFE_US
}
