//! Every register that this board uses beside those that rp2040-hal serves, and the only place
//! that reaches them.
//!
//! Addresses and bits are those of the RP2040 Datasheet (from memory), which the description of
//! the registers in the crate rp2040-pac repeats, and of the ARMv6-M Architecture Reference
//! Manual (NVIC).

use core::ptr::{read_volatile, write_volatile};

/// A register of 32 bits.
#[derive(Clone, Copy)]
pub struct Register(usize);

impl Register {
    /// Reads it.
    #[inline(always)]
    pub fn read(self) -> u32 {
        // SAFETY: only this module makes a `Register`, each the aligned address of a register
        // that exists and may be read.
        unsafe { read_volatile(self.0 as *const u32) }
    }

    /// Writes it.
    #[inline(always)]
    pub fn write(self, value: u32) {
        // SAFETY: as for reading; none of these registers moves memory about, and what the ones
        // of the flash do is the business of the one function that uses them.
        unsafe { write_volatile(self.0 as *mut u32, value) }
    }

    /// Sets bits; other bits are left alone in one step. Not for SIO and the processor's own.
    #[inline(always)]
    pub fn set(self, bits: u32) {
        Self(self.0 + 0x2000).write(bits);
    }

    /// Clears bits, as [`Self::set`].
    #[inline(always)]
    pub fn clear(self, bits: u32) {
        Self(self.0 + 0x3000).write(bits);
    }
}

/// One of the two blocks of input and output machines (section 3.7).
#[derive(Clone, Copy)]
pub struct Block(usize);

/// Watches the impulse inputs and gives the test signal.
pub const PIO_0: Block = Block(0x5020_0000);
/// Watches the other inputs.
pub const PIO_1: Block = Block(0x5030_0000);

impl Block {
    /// Machines that run; bits 4 to 7 restart one, 8 to 11 its divider.
    pub const fn control(self) -> Register {
        Register(self.0)
    }

    /// Bits 8 to 11: nothing received.
    #[inline(always)]
    pub const fn queues(self) -> Register {
        Register(self.0 + 0x04)
    }

    /// Bits 0 to 3: a push met a full queue. Written 1s clear.
    pub const fn faults(self) -> Register {
        Register(self.0 + 0x08)
    }

    /// How many words stand in the queues: four bits each, sending before receiving.
    pub const fn levels(self) -> Register {
        Register(self.0 + 0x0C)
    }

    /// Sending queue of a machine.
    pub const fn send(self, machine: usize) -> Register {
        Register(self.0 + 0x10 + 4 * machine)
    }

    /// Receiving queue of a machine.
    #[inline(always)]
    pub const fn receive(self, machine: usize) -> Register {
        Register(self.0 + 0x20 + 4 * machine)
    }

    /// An instruction.
    pub const fn instruction(self, at: usize) -> Register {
        Register(self.0 + 0x48 + 4 * at)
    }

    /// Divider of a machine's clock: whole part from bit 16, 256ths from bit 8.
    pub const fn divider(self, machine: usize) -> Register {
        Register(self.0 + 0xC8 + 0x18 * machine)
    }

    /// Pin of jumps from bit 24, end of the program from bit 12, its beginning from bit 7.
    pub const fn run(self, machine: usize) -> Register {
        Register(self.0 + 0xCC + 0x18 * machine)
    }

    /// Bit 31: all eight places receive; 30: all send; 19: taken bits leave at the low end.
    pub const fn shift(self, machine: usize) -> Register {
        Register(self.0 + 0xD0 + 0x18 * machine)
    }

    /// An instruction to do at once.
    pub const fn execute(self, machine: usize) -> Register {
        Register(self.0 + 0xD8 + 0x18 * machine)
    }

    /// How many pins are set from bit 26, first pin read from bit 15, first pin set from bit 5.
    pub const fn pins(self, machine: usize) -> Register {
        Register(self.0 + 0xDC + 0x18 * machine)
    }

    /// Interrupt 0: bits 0 to 3, something was received.
    pub const fn interrupt(self) -> Register {
        Register(self.0 + 0x12C)
    }
}

/// Takes parts out of their reset and waits until they are.
pub fn wake(parts: u32) {
    const RESET: Register = Register(0x4000_C000);
    const DONE: Register = Register(0x4000_C008);
    RESET.set(parts);
    RESET.clear(parts);
    while DONE.read() & parts != parts {}
}
/// For [`wake`].
pub const ADC: u32 = 1 << 0;
/// For [`wake`].
pub const PIOS: u32 = 1 << 10 | 1 << 11;
/// For [`wake`].
pub const TIMER: u32 = 1 << 21;
/// For [`wake`].
#[cfg(feature = "uart")]
pub const UART_0: u32 = 1 << 22;

/// Microseconds, low word.
pub const TIMER_NOW: Register = Register(0x4005_4028);
/// Alarm 0: the time it strikes.
pub const ALARM: Register = Register(0x4005_4010);
/// Bit 0: alarm 0 has struck; written 1 clears.
pub const ALARM_STRUCK: Register = Register(0x4005_4034);
/// Bit 0: alarm 0 interrupts.
pub const ALARM_INTERRUPT: Register = Register(0x4005_4038);
/// Levels of the pins.
pub const LEVELS: Register = Register(0xD000_0004);
/// Makes output pins high.
pub const OUT_SET: Register = Register(0xD000_0014);
/// Makes output pins low.
pub const OUT_CLEAR: Register = Register(0xD000_0018);
/// Why the watchdog restarted the processor.
pub const WATCHDOG_REASON: Register = Register(0x4005_8008);
/// Kept while the watchdog restarts the processor.
pub const SCRATCH: Register = Register(0x4005_800C);
/// Why the processor started otherwise.
pub const CHIP_RESET: Register = Register(0x4006_4008);
/// Bit 0: a bit of the ring oscillator.
pub const RANDOM_BIT: Register = Register(0x4006_001C);
/// The converter: bit 0 on, 2 start, 8 ready; channel from bit 12.
pub const ADC_CONTROL: Register = Register(0x4004_C000);
/// What it read.
pub const ADC_RESULT: Register = Register(0x4004_C004);

/// The line to the flash (section 4.10).
pub mod flash {
    use super::Register;

    /// Clocks of a frame less one from bit 16; what is sent and received from bit 8.
    pub const FRAME: Register = Register(0x1800_0000);
    /// On or off; the others may be written while it is off.
    pub const ENABLE: Register = Register(0x1800_0008);
    /// Bit 0: the flash is selected while frames go out.
    pub const SELECT: Register = Register(0x1800_0010);
    /// Bit 1: one can be sent; bit 3: one was received.
    pub const STATUS: Register = Register(0x1800_0028);
    /// To send, and received.
    pub const DATA: Register = Register(0x1800_0060);
    /// The select pin; from bit 8: 0 as usual, 2 low, 3 high.
    pub const SELECT_PIN: Register = Register(0x4001_800C);
}

/// One serial port (PrimeCell UART PL011).
#[cfg(feature = "uart")]
pub mod uart {
    use super::Register;

    /// Next byte.
    pub const DATA: Register = Register(0x4003_4000);
    /// Bit 4: nothing came; bit 5: no more fits.
    pub const FLAGS: Register = Register(0x4003_4018);
    /// Divisor.
    pub const WHOLE_DIVISOR: Register = Register(0x4003_4024);
    /// Its 64ths.
    pub const PART_DIVISOR: Register = Register(0x4003_4028);
    /// Bits, parity, queues.
    pub const LINE: Register = Register(0x4003_402C);
    /// On, sends, receives.
    pub const CONTROL: Register = Register(0x4003_4030);
}

const NVIC_ENABLE: Register = Register(0xE000_E100);
const NVIC_DISABLE: Register = Register(0xE000_E180);
const NVIC_PENDING: Register = Register(0xE000_E200);
const NVIC_PRIORITY: usize = 0xE000_E400;

/// Interrupts by their numbers.
pub const ALARM_IRQ: u32 = 0;
/// USB.
#[cfg(not(feature = "uart"))]
pub const USB_IRQ: u32 = 5;
/// Both blocks of machines.
pub const PIO_IRQS: [u32; 2] = [7, 9];

/// Lets interrupts come.
#[inline(always)]
pub fn enable(irqs: &[u32]) {
    irqs.iter().for_each(|irq| NVIC_ENABLE.write(1 << irq));
}

/// Holds interrupts back.
#[inline(always)]
pub fn disable(irqs: &[u32]) {
    irqs.iter().for_each(|irq| NVIC_DISABLE.write(1 << irq));
}

/// Calls an interrupt from software.
pub fn call(irq: u32) {
    NVIC_PENDING.write(1 << irq);
}

/// The inputs first; everything else gives way to them.
pub fn set_priorities() {
    for word in 0..8 {
        let of = |irq: u32| if PIO_IRQS.contains(&irq) { 0_u32 } else { 0xC0 };
        let value = (0..4).fold(0, |sum, byte| sum | of(4 * word + byte) << (8 * byte));
        Register(NVIC_PRIORITY + 4 * word as usize).write(value);
    }
}

/// Fills the packet that lies in an endpoint for the host with zeros (section 4.1.2.5): it cannot
/// be taken back, but zeros mean nothing on the wire.
#[cfg(not(feature = "uart"))]
pub fn blank_packet(endpoint: usize) {
    const MEMORY: usize = 0x5010_0000;
    const PACKET_WORDS: usize = 16;
    let buffer = Register(MEMORY + 8 * endpoint).read() as usize & 0xFFC0;
    (0..PACKET_WORDS).for_each(|word| Register(MEMORY + buffer + 4 * word).write(0));
}
