//! How deep the stack went: it is painted at the start, and what is left of the paint is counted.

use core::ptr::{addr_of_mut, read_volatile, write_volatile};

const PAINT: u32 = 0x5AFE_57AC;
/// Left alone below the stack pointer while painting: the painter's own frame.
const MARGIN_WORDS: usize = 32;

unsafe extern "C" {
    /// First address behind all statics (of cortex-m-rt's link.x); there is no heap.
    static mut __sheap: u32;
    /// Where the stack begins, growing down.
    static mut _stack_start: u32;
}

/// The free memory from its lowest word to just below the stack pointer.
fn free_words() -> (*mut u32, usize) {
    let lowest = addr_of_mut!(__sheap);
    let pointer = cortex_m::register::msp::read() as usize;
    (lowest, ((pointer - lowest as usize) / 4).saturating_sub(MARGIN_WORDS))
}

/// Paints all that the stack does not use yet.
pub fn paint() {
    let (lowest, words) = free_words();
    for word in 0..words {
        // SAFETY: between the end of the statics and the stack pointer lies memory of nobody.
        unsafe { write_volatile(lowest.add(word), PAINT) }
    }
}

/// The deepest stack since, bytes.
pub fn deepest() -> u32 {
    let (lowest, words) = free_words();
    // SAFETY: as above.
    let painted =
        (0..words).take_while(|&word| unsafe { read_volatile(lowest.add(word)) } == PAINT).count();
    let all = addr_of_mut!(_stack_start) as usize - lowest as usize;
    // The whole memory is smaller than 2^32.
    (all - 4 * painted) as u32
}
