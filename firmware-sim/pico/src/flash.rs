//! The flash beside its use as program memory: its unique number, and the log of boots.
//!
//! The second-stage loader is the plain one (serial read, command 03h), so the flash is always in
//! its plain serial mode and every common part understands what is said here. While it is spoken
//! to, nothing can be fetched from it: [`talk`] lies in memory, calls nothing, and interrupts are
//! held back. Commands: JEDEC JESD216 and the data sheets of common parts (from memory).

use crate::registers::flash as line;
use crate::registers::{RANDOM_BIT, TIMER_NOW};
use trundle_board::boot_log::{self, SECTOR, WRITTEN, Write};

/// Second-stage loader, which the boot ROM runs: serial read, for any flash.
#[used]
#[unsafe(no_mangle)]
#[unsafe(link_section = ".boot2")]
static BOOT2_FIRMWARE: [u8; 256] = rp2040_boot2::BOOT_LOADER_GENERIC_03H;

const PROGRAM: u8 = 0x02;
const READ_STATUS: u8 = 0x05;
const ALLOW_WRITE: u8 = 0x06;
const ERASE: u8 = 0x20;
const UNIQUE_NUMBER: u8 = 0x4B;

/// The log of boots: the last two sectors of 2 MiB. Files that are dragged onto the board do not
/// reach them.
const LOG_AT: usize = 0x1F_E000;
/// The flash as memory, past the cache, which would still hold what stood there before.
const UNCACHED: usize = 0x1300_0000;
/// Longest wait for the flash, microseconds: several times what an erasure may take.
const PATIENCE_US: u32 = 2_000_000;

/// The unique number; `None` if the flash has none.
pub fn unique_number() -> Option<u64> {
    // Command, four idle bytes, number.
    let mut bytes = [0; 13];
    bytes[0] = UNIQUE_NUMBER;
    say(false, &mut bytes);
    let number = bytes[5..].iter().fold(0, |number, &byte| number << 8 | u64::from(byte));
    Some(number).filter(|number| *number != 0 && *number != u64::MAX)
}

/// An id that no boot of this board had before; from noise alone if the flash cannot be written.
pub fn boot_id() -> u32 {
    let noise = noise();
    let (boot_id, write) = boot_log::next([sector(0), sector(1)], noise);
    let (sector, at) = match write {
        Write::Entry { sector, at } => (sector, at),
        Write::Begin { sector, at, .. } => {
            order(ERASE, address(sector, 0), &[]);
            (sector, at)
        }
    };
    order(PROGRAM, address(sector, at), &[WRITTEN]);
    let mut written = self::sector(sector)[at] == WRITTEN;
    if let Write::Begin { sector, head, .. } = write {
        order(PROGRAM, address(sector, 0), &head);
        written &= self::sector(sector)[..head.len()] == head;
    }
    if written { boot_id } else { noise }
}

/// Bits of the ring oscillator, which runs beside the crystal and not quite evenly.
fn noise() -> u32 {
    (0..4_096).fold(0, |noise: u32, _| noise.rotate_left(1) ^ RANDOM_BIT.read() & 1)
}

const fn address(sector: usize, at: usize) -> usize {
    LOG_AT + sector * SECTOR + at
}

/// A sector of the log as it stands now.
fn sector(number: usize) -> &'static [u8; SECTOR] {
    // SAFETY: it lies in the flash, which is always there to be read, and no reference to it is
    // held while it is written.
    unsafe { &*((UNCACHED + address(number, 0)) as *const [u8; SECTOR]) }
}

/// Has the flash erase or program, and waits until it has.
fn order(command: u8, address: usize, data: &[u8]) {
    const HEAD: usize = 4;
    let mut bytes = [0; HEAD + boot_log::HEAD];
    let [_, high, middle, low] = (address as u32).to_be_bytes();
    bytes[..HEAD].copy_from_slice(&[command, high, middle, low]);
    bytes[HEAD..][..data.len()].copy_from_slice(data);
    say(true, &mut bytes[..HEAD + data.len()]);
}

/// Sends bytes and puts those that come back in their place.
fn say(writes: bool, bytes: &mut [u8]) {
    cortex_m::interrupt::free(|_| talk(writes, bytes.as_mut_ptr(), bytes.len()));
}

/// One command, from memory. `writes`: it is allowed first, and waited for.
#[inline(never)]
#[unsafe(link_section = ".data.talk")]
fn talk(writes: bool, bytes: *mut u8, count: usize) {
    /// Eight clocks a frame, sent and received.
    const BYTES: u32 = 7 << 16;
    /// The status' bit: at work.
    const AT_WORK: u8 = 1;
    let as_memory = line::FRAME.read();
    line::ENABLE.write(0);
    line::FRAME.write(BYTES);
    line::SELECT.write(1);
    line::ENABLE.write(1);
    if writes {
        select(true);
        exchange(ALLOW_WRITE);
        select(false);
    }
    select(true);
    for at in 0..count {
        // SAFETY: the caller has a slice of so many bytes; a slice's own bounds check would call
        // code in the flash.
        unsafe { bytes.add(at).write_volatile(exchange(bytes.add(at).read_volatile())) };
    }
    select(false);
    let began = TIMER_NOW.read();
    while writes && TIMER_NOW.read().wrapping_sub(began) < PATIENCE_US {
        select(true);
        exchange(READ_STATUS);
        let status = exchange(0);
        select(false);
        if status & AT_WORK == 0 {
            break;
        }
    }
    line::SELECT_PIN.write(0);
    line::ENABLE.write(0);
    line::FRAME.write(as_memory);
    line::ENABLE.write(1);
}

#[inline(always)]
fn select(on: bool) {
    line::SELECT_PIN.write(if on { 2 << 8 } else { 3 << 8 });
    // The pin's register lies behind a bridge of another clock; read back, it has changed. The
    // boot ROM's own routine (`program_flash_generic.c`) does the same. Without it, clocks of the
    // next byte could come before the pin, or the pin rise too short between two commands.
    line::SELECT_PIN.read();
}

#[inline(always)]
fn exchange(byte: u8) -> u8 {
    while line::STATUS.read() & 1 << 1 == 0 {}
    line::DATA.write(byte.into());
    while line::STATUS.read() & 1 << 3 == 0 {}
    (line::DATA.read() & 0xFF) as u8
}
