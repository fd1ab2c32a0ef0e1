//! The line to the host: a serial function on USB (CDC-ACM).
//!
//! It announces no modem: its protocol is none (0), not AT commands (1), so that a system that
//! looks for modems leaves it alone (USB Class Definitions for Communications Devices 1.2, table
//! 5, from memory).

use crate::registers::{self as reg, USB_IRQ};
use core::sync::atomic::AtomicU8;
use rp2040_hal::clocks::UsbClock;
use rp2040_hal::pac::{RESETS, USBCTRL_DPRAM, USBCTRL_REGS, interrupt};
use rp2040_hal::usb::UsbBus;
use trundle_board::presence::{Duty, Presence, Seen};
use trundle_board::ring::Ring;
use usb_device::LangID;
use usb_device::bus::UsbBusAllocator;
use usb_device::device::{
    StringDescriptors, UsbDevice, UsbDeviceBuilder, UsbDeviceState, UsbVidPid,
};
use usbd_serial::CdcAcmClass;

/// Of the range of pid.codes for tests: whoever gives boards away has to get a number of his own.
const TEST_ID: UsbVidPid = UsbVidPid(0x1209, 0x0001);
const MAKER: &str = "Trundle";
const PRODUCT: &str = "Trundle counter board (test id)";
/// Bytes that can wait to be sent: some twenty frames of counts.
const SENDING: usize = 2_048;
/// Bytes of a packet.
const PACKET: usize = 64;

static TO_HOST: Ring<AtomicU8, SENDING> = Ring::new();

/// What the function needs of the processor.
pub struct Parts {
    /// Registers.
    pub registers: USBCTRL_REGS,
    /// Memory of packets.
    pub memory: USBCTRL_DPRAM,
    /// 48 MHz.
    pub clock: UsbClock,
}

/// The line.
pub struct Link {
    device: UsbDevice<'static, UsbBus>,
    serial: CdcAcmClass<'static, UsbBus>,
    presence: Presence,
    /// A packet that the endpoint had no place for, so far in use.
    packet: ([u8; PACKET], usize),
    /// A packet from the host, the place in it, its length.
    received: ([u8; PACKET], usize, usize),
    /// A packet was last refused: another lies in the endpoint.
    full: bool,
    /// A packet found its place since the last look.
    moved: bool,
}

impl Link {
    /// Brings the line up. The serial number is the board id.
    pub fn start(parts: Parts, board_id: u64, resets: &mut RESETS) -> Option<Self> {
        let bus = UsbBus::new(parts.registers, parts.memory, parts.clock, true, resets);
        let bus = cortex_m::singleton!(: UsbBusAllocator<UsbBus> = UsbBusAllocator::new(bus))?;
        let digits = cortex_m::singleton!(: [u8; 16] = hexadecimal(board_id))?;
        let number = core::str::from_utf8(digits).ok()?;
        let serial = CdcAcmClass::new(bus, PACKET as u16);
        let names = StringDescriptors::new(LangID::EN_US);
        let device = UsbDeviceBuilder::new(bus, TEST_ID)
            .device_class(usbd_serial::USB_CLASS_CDC)
            .max_packet_size_0(64)
            .ok()?
            .strings(&[names.manufacturer(MAKER).product(PRODUCT).serial_number(number)])
            .ok()?
            .build();
        Some(Self {
            device,
            serial,
            presence: Presence::default(),
            packet: ([0; PACKET], 0),
            received: ([0; PACKET], 0, 0),
            full: false,
            moved: false,
        })
    }

    /// Room for bytes to be sent; none while nobody reads.
    pub fn room(&self) -> usize {
        if self.presence.reads() { SENDING - TO_HOST.len() } else { 0 }
    }

    /// Sends bytes; no more than there is room for.
    pub fn send(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            TO_HOST.put(byte);
        }
    }

    /// A byte from the host.
    pub fn byte(&mut self) -> Option<u8> {
        let (bytes, at, end) = &mut self.received;
        let byte = *bytes[..*end].get(*at)?;
        *at += 1;
        Some(byte)
    }

    /// A byte from the host waits.
    pub fn has_byte(&self) -> bool {
        self.received.1 < self.received.2
    }

    /// Somebody reads.
    pub fn reads(&self) -> bool {
        self.presence.reads()
    }

    /// Moves bytes both ways; to be called at least each millisecond.
    pub fn pump(&mut self, timer_us: u32) {
        self.device.poll(&mut [&mut self.serial]);
        let mut heard = false;
        if !self.has_byte() {
            let (bytes, at, end) = &mut self.received;
            // An error says that nothing came.
            (*at, *end) = (0, self.serial.read_packet(bytes).unwrap_or(0));
            heard = *end > 0;
        }
        let linked = self.device.state() == UsbDeviceState::Configured;
        let moved = core::mem::take(&mut self.moved);
        let seen = Seen { linked, ready: self.serial.dtr(), heard, full: self.full, moved };
        match self.presence.look(seen, timer_us) {
            Duty::Send => self.send_packets(),
            Duty::Greet => {
                if self.give(&[0]) {
                    self.presence.greeted();
                }
            }
            Duty::Forget => self.forget(),
            Duty::Wait => {}
        }
    }

    /// Lets the line end the sleep that follows. To be called with interrupts held back: one that
    /// came before the sleep would be taken, and the sleep would know nothing of it.
    pub fn wake(&self) {
        reg::enable(&[USB_IRQ]);
    }

    fn send_packets(&mut self) {
        loop {
            let (packet, used) = &mut self.packet;
            // Never quite full, so that each packet ends its transfer.
            while *used < PACKET - 1
                && let Some(byte) = TO_HOST.take()
            {
                packet[*used] = byte;
                *used += 1;
            }
            let (packet, used) = self.packet;
            if used == 0 || !self.give(&packet[..used]) {
                return;
            }
            self.packet.1 = 0;
        }
    }

    /// Gives a packet to the endpoint; false if another lies there.
    fn give(&mut self, packet: &[u8]) -> bool {
        let given = self.serial.write_packet(packet).is_ok();
        self.full = !given;
        self.moved |= given;
        given
    }

    /// Throws away what waits.
    fn forget(&mut self) {
        while TO_HOST.take().is_some() {}
        self.packet.1 = 0;
        reg::blank_packet(self.serial.write_ep().address().index());
    }
}

fn hexadecimal(number: u64) -> [u8; 16] {
    let digit = |place: usize| (number >> (60 - 4 * place) & 0xF) as usize;
    core::array::from_fn(|place| b"0123456789ABCDEF"[digit(place)])
}

/// It only ends the sleep: the main loop serves the line.
#[interrupt]
fn USBCTRL_IRQ() {
    reg::disable(&[USB_IRQ]);
}
