//! Setting up the input and output machines.

use crate::registers::Block;
use trundle_board::pio::{Program, When, jump};

/// Processor clocks a second.
const PROCESSOR_HZ: u64 = 125_000_000;
/// Taken bits leave at the low end.
pub const LOW_END: u32 = 1 << 19;
/// All eight places of the queues receive.
pub const ALL_RECEIVE: u32 = 1 << 31;
/// All eight places of the queues send.
pub const ALL_SEND: u32 = 1 << 30;

/// Puts a program into a block's memory.
pub fn load<const N: usize>(block: Block, program: &Program<N>) {
    for (at, word) in program.code.into_iter().enumerate() {
        block.instruction(usize::from(program.origin) + at).write(word.into());
    }
}

/// Makes a machine ready to begin a program, on one pin and at so many instructions a second.
pub fn set_up<const N: usize>(
    block: Block,
    machine: usize,
    program: &Program<N>,
    pin: u32,
    clock_hz: u32,
) {
    set_clock(block, machine, clock_hz);
    let (bottom, top) = (u32::from(program.wrap_bottom), u32::from(program.wrap_top));
    block.run(machine).write(pin << 24 | top << 12 | bottom << 7);
    // One pin is set, one is read.
    block.pins(machine).write(1 << 26 | pin << 15 | pin << 5);
    block.shift(machine).write(LOW_END);
    execute(block, machine, jump(When::Always, program.wrap_bottom.into()));
}

/// Sets the instructions a second of a machine; exact to a 256th of a processor clock.
pub fn set_clock(block: Block, machine: usize, clock_hz: u32) {
    // The whole part has 16 bits: no machine here is slower than 1.9 kHz.
    let divider = PROCESSOR_HZ * 256 / u64::from(clock_hz);
    block.divider(machine).write((divider as u32) << 8);
}

/// One instruction, at once.
pub fn execute(block: Block, machine: usize, instruction: u16) {
    block.execute(machine).write(instruction.into());
}
