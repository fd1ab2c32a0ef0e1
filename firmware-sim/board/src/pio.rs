//! Instructions of the RP2040's programmable input and output machines, and our programs.
//!
//! Encoding: RP2040 Datasheet, section 3.4 (instruction set), table 366 (from memory); held
//! against an independent emulator of the processor whenever the image runs there.
//!
//! **Inputs.** A machine runs at [`CLOCK_HZ`]. Every second instruction takes one from X whatever
//! happens, so that X is a clock of [`TICKS_IN_US`] to the microsecond that never drifts, and an
//! edge is pushed with the reading of that clock. A push into a full queue is dropped and sets a
//! flag in hardware: edges that come too fast for the processor are flagged, not lost in silence.
//!
//! **What is too fast for a machine itself.** From one look at the pin to the next lie at most
//! eight instructions. Falls that are [`BLIND_NS`] or more apart are all seen if the pin stays at
//! each level for [`LOOK_NS`]; closer ones may vanish without a flag.

/// Instructions a second of a machine that watches an input.
pub const CLOCK_HZ: u32 = 16_000_000;
/// Its clock's steps in a microsecond: one for each two instructions.
pub const TICKS_IN_US: u32 = CLOCK_HZ / 2_000_000;
/// Falls closer than this may be missed without a flag, nanoseconds: eight instructions, and one
/// more for where in a look the first fall came.
pub const BLIND_NS: u32 = 600;
/// A level shorter than this may be missed, nanoseconds: two instructions and the pin's own
/// synchroniser.
pub const LOOK_NS: u32 = 150;

/// When a jump is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// Always.
    Always = 0,
    /// X is not 0; one is taken from it in any case.
    XCounts = 2,
    /// Y is not 0; one is taken from it in any case.
    YCounts = 4,
    /// The pin is high.
    Pin = 6,
}

/// Jump to an instruction.
#[must_use]
pub const fn jump(when: When, to: u16) -> u16 {
    (when as u16) << 5 | to
}

/// Put the complement of X into the input register.
pub const COMPLEMENT_X: u16 = 0xA0C9;
/// Put the input register into the queue; if that is full, drop it and set the flag.
pub const PUSH: u16 = 0x8000;
/// Wait for a word and take it.
pub const PULL: u16 = 0x80A0;
/// Put the taken word into X.
pub const X_TAKEN: u16 = 0xA027;
/// Put the complement of the taken word into X.
pub const X_NOT_TAKEN: u16 = 0xA02F;
/// Keep the taken word in the input register.
pub const KEEP: u16 = 0xA0C7;
/// Take the kept word again.
pub const RECALL: u16 = 0xA0E6;
/// Move the lowest 16 bits of the taken word to Y.
pub const Y_HALF: u16 = 0x6050;
/// Shift the lowest 31 bits of X into the input register.
pub const IN_X_31: u16 = 0x403F;
/// Shift the level of the pin into the input register.
pub const IN_PIN: u16 = 0x4001;

/// Set the output pin.
#[must_use]
pub const fn set_pin(high: bool) -> u16 {
    0xE000 | high as u16
}

/// Set the direction of the output pin to out.
pub const SET_OUT: u16 = 0xE081;

/// The same instruction, followed by so many idle clocks.
#[must_use]
pub const fn then_wait(instruction: u16, clocks: u16) -> u16 {
    instruction | clocks << 8
}

/// A program and where it turns round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Program<const N: usize> {
    /// Its instructions.
    pub code: [u16; N],
    /// The first of them lies here.
    pub origin: u8,
    /// Behind [`Self::wrap_top`] it goes on here; it also begins here.
    pub wrap_bottom: u8,
    /// See [`Self::wrap_bottom`].
    pub wrap_top: u8,
}

/// Pushes the clock at each fall of the pin.
///
/// A jump that counts X leads to where it would fall through as well, so that it makes no
/// difference whether X was 0: the clock wraps in silence. Where the next instruction would be
/// another one, the wrap leads back.
pub const FALLS: Program<9> = Program {
    code: [
        jump(When::XCounts, 1), // 0: seen high
        jump(When::Pin, 0),     // 1: look
        jump(When::XCounts, 3), // 2: a fall
        COMPLEMENT_X,           // 3
        jump(When::XCounts, 5), // 4
        PUSH,                   // 5
        jump(When::XCounts, 7), // 6
        jump(When::Pin, 0),     // 7: look, while low
        jump(When::XCounts, 7), // 8
    ],
    origin: 0,
    wrap_bottom: 7,
    wrap_top: 8,
};

/// Pushes the lowest 31 bits of X, not complemented, and the level at each change of the pin.
pub const CHANGES: Program<17> = {
    const AT: u16 = FALLS.code.len() as u16;
    Program {
        code: [
            jump(When::XCounts, AT + 1),  // 0: a rise
            IN_X_31,                      // 1
            jump(When::XCounts, AT + 3),  // 2
            IN_PIN,                       // 3
            jump(When::XCounts, AT + 5),  // 4
            PUSH,                         // 5
            jump(When::XCounts, AT + 7),  // 6: seen high
            jump(When::Pin, AT + 6),      // 7: look
            jump(When::XCounts, AT + 9),  // 8: a fall
            IN_X_31,                      // 9
            jump(When::XCounts, AT + 11), // 10
            IN_PIN,                       // 11
            jump(When::XCounts, AT + 13), // 12
            PUSH,                         // 13
            jump(When::XCounts, AT + 15), // 14
            jump(When::Pin, AT),          // 15: look, while low
            jump(When::XCounts, AT + 15), // 16
        ],
        origin: AT as u8,
        wrap_bottom: AT as u8 + 15,
        wrap_top: AT as u8 + 16,
    }
};

/// Gives impulses, each a low and a high: takes two words, how many less one, and both lengths
/// (see [`crate::signal::Burst`]); waits, with the pin high, when there are none.
///
/// The way back from the last impulse through the two words is as long as the way back to the
/// next impulse, so that one burst behind another keeps the period.
pub const IMPULSES: Program<13> = {
    const AT: u16 = FALLS.code.len() as u16;
    Program {
        code: [
            then_wait(RECALL, 3),         // 0: the next impulse
            jump(When::Always, AT + 6),   // 1
            PULL,                         // 2: the next burst
            X_TAKEN,                      // 3
            PULL,                         // 4
            then_wait(KEEP, 1),           // 5
            Y_HALF,                       // 6
            set_pin(false),               // 7
            jump(When::YCounts, AT + 8),  // 8
            Y_HALF,                       // 9
            set_pin(true),                // 10
            jump(When::YCounts, AT + 11), // 11
            jump(When::XCounts, AT),      // 12
        ],
        origin: AT as u8,
        wrap_bottom: AT as u8 + 2,
        wrap_top: AT as u8 + 12,
    }
};
/// Clocks that an impulse's low lasts beyond the number in its word.
pub const LOW_MORE: u32 = 3;
/// Clocks that an impulse's high lasts beyond the number in its word.
pub const HIGH_MORE: u32 = 9;
