//! The line to the host: two rings and one interrupt.

use super::registers::{self as reg, UART_0};
use core::sync::atomic::AtomicU8;
use trundle_board::ring::Ring;

/// Bytes that can wait to be sent: nine frames of counts.
const SENDING: usize = 1_024;
/// Bytes that can wait to be taken: 5 ms of the line at 115 200 baud.
const RECEIVED: usize = 64;
/// Interrupts: bytes came, room to send, bytes came a while ago.
const CAME: u32 = 1 << 4;
const ROOM: u32 = 1 << 5;
const CAME_LATE: u32 = 1 << 6;

static TO_HOST: Ring<AtomicU8, SENDING> = Ring::new();
static FROM_HOST: Ring<AtomicU8, RECEIVED> = Ring::new();

/// Brings the line up.
pub fn start() {
    UART_0.start();
    UART_0.mask.write(CAME | ROOM | CAME_LATE);
}

/// Room for bytes to be sent.
pub fn room() -> usize {
    SENDING - TO_HOST.len()
}

/// Sends bytes; no more than there is room for.
pub fn send(bytes: &[u8]) {
    for &byte in bytes {
        TO_HOST.put(byte);
    }
    // The interrupt alone takes from the ring.
    reg::trigger(reg::UART_0_IRQ);
}

/// A byte from the host.
pub fn byte() -> Option<u8> {
    FROM_HOST.take()
}

/// A byte from the host waits.
pub fn has_byte() -> bool {
    FROM_HOST.len() > 0
}

/// The interrupt.
pub fn serve() {
    UART_0.clear.write(CAME | ROOM | CAME_LATE);
    while !UART_0.is_empty() {
        // A byte without a place is lost; the checksum of its frame tells.
        FROM_HOST.put((UART_0.data.read() & 0xFF) as u8);
    }
    while !UART_0.is_full() {
        let Some(byte) = TO_HOST.take() else { break };
        UART_0.data.write(byte.into());
    }
}
