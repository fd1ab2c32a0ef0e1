//! The board: a Raspberry Pi Pico, as the main loop and the counter core see it.
//!
//! | interrupt | priority | duty |
//! |---|---|---|
//! | both blocks of machines | highest | edges into the queue |
//! | timer, USB | lowest | end the sleep |
//!
//! Everything else is done by the main loop, which nothing holds up for longer than the interrupt
//! of the inputs, or the memory of the flash, takes.

use crate::account::{ACCOUNT, add};
use crate::capture::{self, Inputs, timer};
use crate::flash;
use crate::registers as reg;
use crate::stack;
use crate::test_pin::TestPin;
#[cfg(feature = "uart")]
use crate::uart::Link;
#[cfg(not(feature = "uart"))]
use crate::usb::{Link, Parts};
use core::sync::atomic::Ordering;
use rp2040_hal as hal;
use rp2040_hal::gpio::{FunctionPio0, Pins, PullNone};
use rp2040_hal::pac::interrupt;
use trundle_board::port::{Input, Port};
use trundle_board::{lamp, reset, supply};
use trundle_counter::{Board, Config};

/// The crystal.
const CRYSTAL_HZ: u32 = 12_000_000;
/// The LED.
const LAMP: u32 = 1 << 25;
/// The watchdog while the board starts, which may erase a part of the flash, and afterwards.
const START_US: u32 = 8_000_000;
const WATCH_US: u32 = 1_000_000;
/// Longest sleep.
const SLEEP_US: u32 = 1_000;
/// Readings of the converter that make one value.
const READINGS: u32 = 8;

/// The board.
pub struct Pico {
    inputs: Inputs,
    link: Link,
    test_pin: TestPin,
    watchdog: hal::Watchdog,
    searched: bool,
}

impl Pico {
    /// Brings the hardware up. Board time begins with the timer at the reading given.
    /// `None` if the hardware was brought up before, which cannot be.
    pub fn start() -> Option<(Self, Config, u32)> {
        let mut pac = hal::pac::Peripherals::take()?;
        let scratch = reg::SCRATCH.read();
        let cause = reset::cause(reg::WATCHDOG_REASON.read(), reg::CHIP_RESET.read(), scratch);
        reg::SCRATCH.write(reset::WATCHED);
        let mut watchdog = hal::Watchdog::new(pac.WATCHDOG);
        let clocks = hal::clocks::init_clocks_and_plls(
            CRYSTAL_HZ,
            pac.XOSC,
            pac.CLOCKS,
            pac.PLL_SYS,
            pac.PLL_USB,
            &mut pac.RESETS,
            &mut watchdog,
        )
        .ok()?;
        reg::wake(reg::TIMER | reg::ADC);
        watchdog.start(hal::fugit::MicrosDurationU32::micros(START_US));
        let board_id = flash::unique_number().unwrap_or(0);
        let boot_id = flash::boot_id();

        let sio = hal::Sio::new(pac.SIO);
        let pins = Pins::new(pac.IO_BANK0, pac.PADS_BANK0, sio.gpio_bank0, &mut pac.RESETS);
        reg::set_priorities();
        reg::ALARM_INTERRUPT.write(1);
        reg::enable(&[reg::ALARM_IRQ]);
        reg::ADC_CONTROL.write(1);
        #[cfg(feature = "uart")]
        let link = {
            let _ = (pac.USBCTRL_REGS, pac.USBCTRL_DPRAM, clocks.usb_clock);
            keep(pins.gpio0.into_function::<hal::gpio::FunctionUart>());
            keep(pins.gpio1.into_function::<hal::gpio::FunctionUart>());
            Link::start()
        };
        #[cfg(not(feature = "uart"))]
        let link = {
            let (registers, memory) = (pac.USBCTRL_REGS, pac.USBCTRL_DPRAM);
            let parts = Parts { registers, memory, clock: clocks.usb_clock };
            Link::start(parts, board_id, &mut pac.RESETS)?
        };
        // Inputs with nothing on them: no impulse, no mark, out of work.
        keep(pins.gpio2.into_pull_up_input());
        keep(pins.gpio3.into_pull_up_input());
        keep(pins.gpio4.into_pull_up_input());
        keep(pins.gpio5.into_pull_down_input());
        keep(pins.gpio6.into_pull_up_input());
        keep(pins.gpio7.into_pull_up_input());
        keep(pins.gpio8.into_pull_up_input());
        keep(hal::adc::AdcPin::new(pins.gpio26.into_floating_input()).ok()?);
        let (inputs, zero) = Inputs::start();
        let test_pin = TestPin::start();
        keep(pins.gpio15.into_function::<FunctionPio0>().into_pull_type::<PullNone>());
        keep(pins.gpio25.into_push_pull_output());
        watchdog.start(hal::fugit::MicrosDurationU32::micros(WATCH_US));
        let config = Config { board_id, boot_id, reset_cause: cause, ..Config::default() };
        let board = Self { inputs, link, test_pin, watchdog, searched: false };
        Some((board, config, zero))
    }

    /// Sleeps until an interrupt if nothing waits.
    fn sleep(&mut self) {
        // With interrupts held back, so that none can come between the look and the sleep; one
        // that is held back ends the sleep all the same.
        cortex_m::interrupt::free(|_| {
            if self.inputs.is_waiting() || self.link.has_byte() {
                return;
            }
            let before = timer();
            reg::ALARM.write(before.wrapping_add(SLEEP_US));
            self.link.wake();
            cortex_m::asm::wfi();
            add(&ACCOUNT.asleep_us, timer().wrapping_sub(before));
        });
    }
}

/// A pin that stays as it is: letting go of it changes nothing.
fn keep<T>(_pin: T) {}

impl Board for Pico {
    fn tx_room(&mut self) -> usize {
        self.link.room()
    }

    fn tx(&mut self, bytes: &[u8]) {
        self.link.send(bytes);
    }

    /// Asked for by the core every two seconds, which is often enough for the stack as well.
    fn supply_mv(&mut self) -> u16 {
        ACCOUNT.stack_bytes.store(stack::deepest(), Ordering::Relaxed);
        supply::millivolts(measure(), READINGS)
    }

    fn identify(&mut self, on: bool) {
        if on && !self.searched {
            self.test_pin.play();
        } else if !on {
            self.test_pin.stop();
        }
        self.searched = on;
    }
}

impl Port for Pico {
    fn ticks(&self) -> u32 {
        capture::settled()
    }

    fn happened(&mut self) -> Option<(Input, u32)> {
        self.inputs.take()
    }

    fn missed(&mut self) -> u32 {
        self.inputs.missed()
    }

    fn byte(&mut self) -> Option<u8> {
        self.link.byte()
    }

    fn rest(&mut self) {
        self.watchdog.feed();
        add(&ACCOUNT.rounds, 1);
        self.inputs.resume();
        self.link.pump(timer());
        self.test_pin.serve();
        let lit = lamp::is_lit(timer(), self.searched, self.link.reads());
        (if lit { reg::OUT_SET } else { reg::OUT_CLEAR }).write(LAMP);
        self.sleep();
    }
}

/// The sum of [`READINGS`] readings of the converter's channel 0 (GP26).
fn measure() -> u32 {
    const ON_AND_START: u32 = 1 | 1 << 2;
    const READY: u32 = 1 << 8;
    let reading = |_| {
        reg::ADC_CONTROL.write(ON_AND_START);
        while reg::ADC_CONTROL.read() & READY == 0 {}
        reg::ADC_RESULT.read()
    };
    (0..READINGS).map(reading).sum()
}

/// It only ends the sleep.
#[interrupt]
fn TIMER_IRQ_0() {
    reg::ALARM_STRUCK.write(1);
}
