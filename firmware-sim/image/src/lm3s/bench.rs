//! The world outside, under an emulated processor: edges that come over a second line.
//!
//! Timer 0 stands for the wires. At the time of each stimulus it strikes the input, whose own
//! interrupt then does what it does on any board. While this here works or waits for the next
//! stimulus, the board's clock stands still: it costs the board no time, and no edge is late.
//!
//! A real board has none of this, see `PORTING.md`.

use super::registers::{self as reg, UART_1};
use super::{ASLEEP_US, clock, pins, stack};
use core::sync::atomic::{AtomicU8, AtomicU32, Ordering};
use trundle_bench::{Account, Start, Stimulus, Timed};
use trundle_board::port::Input;

/// The bytes of the stimulus that is due next.
static NEXT: [AtomicU8; Timed::BYTES] = [const { AtomicU8::new(0) }; Timed::BYTES];
/// Its time.
static NEXT_US: AtomicU32 = AtomicU32::new(0);

/// Bring the line up and wait for the bench.
pub fn start() -> Start {
    UART_1.start();
    let bytes = core::array::from_fn(|_| byte());
    Start::decode(&bytes).expect("the bench begins with a start")
}

/// Board time has begun: get the first stimulus.
pub fn go() {
    reg::TIMER_CONFIG.write(0);
    reg::TIMER_MODE.write(1);
    reg::TIMER_MASK.write(1);
    clock::stop();
    fetch(0);
    clock::go();
    reg::trigger(reg::TIMER_0_IRQ);
}

/// The interrupt of timer 0: plays all that is due and sets the timer to the next.
pub fn serve() {
    clock::stop();
    reg::TIMER_CLEAR.write(1);
    let now_us = clock::elapsed_us();
    loop {
        let ahead_us = NEXT_US.load(Ordering::Relaxed).wrapping_sub(now_us);
        if ahead_us.cast_signed() > 0 {
            reg::TIMER_LOAD.write(ahead_us.saturating_mul(clock::CLOCKS_IN_US));
            reg::TIMER_CONTROL.write(1);
            break;
        }
        let timed = Timed::decode(&NEXT.each_ref().map(|byte| byte.load(Ordering::Relaxed)))
            .expect("it was decoded when it came");
        play(timed);
        fetch(timed.number.wrapping_add(1));
    }
    clock::go();
}

fn play(timed: Timed) {
    let input = match timed.stimulus {
        Stimulus::RunTo => return send(&[timed.number]),
        Stimulus::Account => return send(&account().encode()),
        Stimulus::Edge(channel) => Input::Edge(channel),
        Stimulus::Mark(source) => Input::Mark(source),
        Stimulus::Pps => Input::Pps,
        Stimulus::Working(in_work) => Input::Working(in_work),
    };
    pins::strike(input, clock::ticks_at(timed.at_us));
}

fn account() -> Account {
    let [waiting_most, late_us, missed] = pins::worst();
    let asleep_us = ASLEEP_US.load(Ordering::Relaxed);
    let (stack_bytes, elapsed_us) = (stack::deepest(), clock::elapsed_us());
    Account { stack_bytes, waiting_most, late_us, missed, asleep_us, elapsed_us }
}

/// Waits for the next stimulus. A damaged or lost one stops the image: the bench is then wrong,
/// and nothing measured with it would be worth anything.
fn fetch(number: u8) {
    let bytes: [u8; Timed::BYTES] = core::array::from_fn(|_| byte());
    let timed = Timed::decode(&bytes).filter(|timed| timed.number == number);
    let timed = timed.expect("the bench sends whole stimuli, one after another");
    NEXT_US.store(timed.at_us, Ordering::Relaxed);
    NEXT.iter().zip(bytes).for_each(|(place, byte)| place.store(byte, Ordering::Relaxed));
}

/// Sleeps until a byte has come.
fn byte() -> u8 {
    while UART_1.is_empty() {
        cortex_m::interrupt::free(|_| {
            UART_1.mask.write(1 << 4);
            reg::listen_to_bench(true);
            // Interrupts are held back: the one that comes ends the sleep and is then forgotten.
            if UART_1.is_empty() {
                cortex_m::asm::wfi();
            }
            UART_1.mask.write(0);
            UART_1.clear.write(1 << 4);
            reg::listen_to_bench(false);
        });
    }
    (UART_1.data.read() & 0xFF) as u8
}

fn send(bytes: &[u8]) {
    for &byte in bytes {
        while UART_1.is_full() {}
        UART_1.data.write(byte.into());
    }
}
