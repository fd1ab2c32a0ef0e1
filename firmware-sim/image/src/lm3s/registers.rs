//! Every register that this board uses, and the only place that reaches them.
//!
//! Addresses and bits are those of the ARMv7-M architecture reference manual (system control
//! block, SysTick, NVIC), of the PrimeCell UART PL011 manual, and of the LM3S6965 (from memory,
//! and as QEMU's model of it behaves).

use core::ptr::{read_volatile, write_volatile};

/// A register of 32 bits.
pub struct Register(usize);

impl Register {
    /// Reads it.
    pub fn read(&self) -> u32 {
        // SAFETY: only this module makes a `Register`, each the aligned address of a register
        // that exists and may be read.
        unsafe { read_volatile(self.0 as *const u32) }
    }

    /// Writes it.
    pub fn write(&self, value: u32) {
        // SAFETY: as for reading; none of these registers moves memory about.
        unsafe { write_volatile(self.0 as *mut u32, value) }
    }
}

/// System control: clocks.
pub const CLOCK: Register = Register(0x400F_E060);
/// Bit 6: the PLL is locked.
pub const RAW_STATUS: Register = Register(0x400F_E050);
/// Why the processor started.
pub const RESET_CAUSE: Register = Register(0x400F_E05C);
/// Clock gates of timers and UARTs.
pub const GATE_1: Register = Register(0x400F_E104);
/// Clock gates of the GPIO ports.
pub const GATE_2: Register = Register(0x400F_E108);

/// SysTick.
pub const SYSTICK_CONTROL: Register = Register(0xE000_E010);
/// What SysTick begins again with.
pub const SYSTICK_RELOAD: Register = Register(0xE000_E014);
/// Where SysTick stands, counting down.
pub const SYSTICK_NOW: Register = Register(0xE000_E018);
/// Bit 26: SysTick waits to be served.
pub const INTERRUPT_STATE: Register = Register(0xE000_ED04);
const SYSTEM_PRIORITY_3: Register = Register(0xE000_ED20);
const ENABLE: Register = Register(0xE000_E100);
const DISABLE: Register = Register(0xE000_E180);
const UNPEND: Register = Register(0xE000_E280);
const PRIORITY: usize = 0xE000_E400;
const TRIGGER: Register = Register(0xE000_EF00);

const PORT_F_DATA_0: Register = Register(0x4002_5000 + (1 << 2));
const PORT_F_DIRECTION: Register = Register(0x4002_5400);
const PORT_F_DIGITAL: Register = Register(0x4002_551C);

/// Timer 0, used by the bench.
pub const TIMER_CONFIG: Register = Register(0x4003_0000);
/// 1: once, not again and again.
pub const TIMER_MODE: Register = Register(0x4003_0004);
/// Bit 0: runs.
pub const TIMER_CONTROL: Register = Register(0x4003_000C);
/// Bit 0: interrupt at the end.
pub const TIMER_MASK: Register = Register(0x4003_0018);
/// Bit 0: served.
pub const TIMER_CLEAR: Register = Register(0x4003_0024);
/// Clocks to the end.
pub const TIMER_LOAD: Register = Register(0x4003_0028);

/// One serial port.
pub struct Uart {
    /// Next byte.
    pub data: Register,
    /// Bit 4: nothing came; bit 5: no more fits.
    pub flags: Register,
    whole_divisor: Register,
    part_divisor: Register,
    line: Register,
    control: Register,
    /// Bits 4, 5, 6: came, room, came a while ago.
    pub mask: Register,
    /// Same bits: served.
    pub clear: Register,
}

impl Uart {
    const fn at(base: usize) -> Self {
        Self {
            data: Register(base),
            flags: Register(base + 0x18),
            whole_divisor: Register(base + 0x24),
            part_divisor: Register(base + 0x28),
            line: Register(base + 0x2C),
            control: Register(base + 0x30),
            mask: Register(base + 0x38),
            clear: Register(base + 0x44),
        }
    }

    /// 115 200 baud at 50 MHz, 8 bits, no parity, one stop bit, with its queue of 16 bytes.
    pub fn start(&self) {
        self.control.write(0);
        // 50 MHz / (16 * 115 200) = 27.127; the part in 64ths.
        self.whole_divisor.write(27);
        self.part_divisor.write(8);
        self.line.write(0b111 << 4);
        self.control.write(0x301);
    }

    /// Nothing has come.
    pub fn is_empty(&self) -> bool {
        self.flags.read() & 1 << 4 != 0
    }

    /// No more fits.
    pub fn is_full(&self) -> bool {
        self.flags.read() & 1 << 5 != 0
    }
}

/// To the host.
pub const UART_0: Uart = Uart::at(0x4000_C000);
/// To the bench.
pub const UART_1: Uart = Uart::at(0x4000_D000);

/// Numbers of the interrupts.
pub const UART_0_IRQ: i16 = 5;
/// The bench's line; never enabled but while the bench waits.
pub const UART_1_IRQ: i16 = 6;
/// The bench's timer.
pub const TIMER_0_IRQ: i16 = 19;
/// GPIO ports A to G, one for each input.
pub const PORT_IRQS: [i16; 7] = [0, 1, 2, 3, 4, 30, 31];

/// Priorities as the table at the head of `lm3s/` has them; the highest number gives way.
pub fn set_priorities() {
    for (word, register) in (0..8).map(|word| (word, Register(PRIORITY + 4 * word))) {
        let of = |number: usize| match i16::try_from(number) {
            // Above the timer, whose interrupt it wakes while that waits for the bench.
            Ok(UART_1_IRQ) => 0x00_u32,
            Ok(TIMER_0_IRQ) => 0x20,
            Ok(UART_0_IRQ) => 0xC0,
            _ => 0x80,
        };
        register.write((0..4).fold(0, |sum, byte| sum | of(4 * word + byte) << (8 * byte)));
    }
    // SysTick above all: whoever reads the clock must not stand in the middle of its count.
    SYSTEM_PRIORITY_3.write(0x00 << 24);
    for number in PORT_IRQS.into_iter().chain([UART_0_IRQ, TIMER_0_IRQ]) {
        ENABLE.write(1 << number);
    }
}

/// Enables the bench's line, or takes it away and forgets that it called.
pub fn listen_to_bench(on: bool) {
    if on {
        ENABLE.write(1 << UART_1_IRQ);
        return;
    }
    DISABLE.write(1 << UART_1_IRQ);
    UNPEND.write(1 << UART_1_IRQ);
}

/// Calls an interrupt from software.
pub fn trigger(number: i16) {
    TRIGGER.write(number.unsigned_abs().into());
}

/// Makes the pin of the lamp an output.
pub fn lamp_output() {
    PORT_F_DIRECTION.write(1);
    PORT_F_DIGITAL.write(1);
}

/// Lights the lamp.
pub fn lamp(on: bool) {
    PORT_F_DATA_0.write(on.into());
}
