//! The line to the host: UART 0 on GP0 and GP1, 115 200 baud, 8 bits, no parity, one stop bit, for
//! a line that is isolated outside the board. Nobody can be seen to read, so everything is sent.

use crate::registers::{self as reg, uart as line};
use core::sync::atomic::AtomicU8;
use trundle_board::ring::Ring;

/// Bytes that can wait to be sent: 180 ms of the line.
const SENDING: usize = 2_048;

static TO_HOST: Ring<AtomicU8, SENDING> = Ring::new();

/// The line.
pub struct Link;

impl Link {
    /// Brings the line up. Its pins must be its own already.
    pub fn start() -> Self {
        reg::wake(reg::UART_0);
        // 125 MHz / (16 * 115 200) = 67.817; the part in 64ths.
        line::WHOLE_DIVISOR.write(67);
        line::PART_DIVISOR.write(52);
        // 8 bits, with its queues of 32 bytes: 2.8 ms of the line.
        line::LINE.write(0b111 << 4);
        line::CONTROL.write(0x301);
        Self
    }

    /// Room for bytes to be sent.
    pub fn room(&self) -> usize {
        SENDING - TO_HOST.len()
    }

    /// Sends bytes; no more than there is room for.
    pub fn send(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            TO_HOST.put(byte);
        }
    }

    /// A byte from the host.
    pub fn byte(&mut self) -> Option<u8> {
        self.has_byte().then(|| (line::DATA.read() & 0xFF) as u8)
    }

    /// A byte from the host waits.
    pub fn has_byte(&self) -> bool {
        line::FLAGS.read() & 1 << 4 == 0
    }

    /// Somebody reads, for all that can be seen.
    pub fn reads(&self) -> bool {
        true
    }

    /// Nothing ends the sleep: bytes wait in its queue until its millisecond is over.
    pub fn wake(&self) {}

    /// Moves bytes out; to be called at least each two milliseconds.
    pub fn pump(&mut self, _timer_us: u32) {
        while line::FLAGS.read() & 1 << 5 == 0
            && let Some(byte) = TO_HOST.take()
        {
            line::DATA.write(byte.into());
        }
    }
}
