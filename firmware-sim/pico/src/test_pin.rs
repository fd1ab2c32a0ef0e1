//! The test signal on its pin, made by a machine of its own.

use crate::capture::timer;
use crate::machines::{ALL_SEND, LOW_END, execute, set_clock, set_up};
use crate::registers::PIO_0;
use trundle_board::pio::{IMPULSES, PULL, SET_OUT, When, jump, set_pin};
use trundle_board::signal::Player;

/// The pin.
const PIN: u32 = 15;
/// Its machine, of the first block.
const MACHINE: usize = 3;
/// Microseconds in a second.
const SECOND_US: u32 = 1_000_000;

/// The pin and what is given on it.
pub struct TestPin {
    /// What comes next, and when all began by the timer; `None` while the pin idles.
    playing: Option<(Player, u32)>,
    /// A clock of the machine, microseconds.
    clock_us: u32,
}

impl TestPin {
    /// The pin idles, high. The pin must belong to the machine's block already.
    pub fn start() -> Self {
        set_up(PIO_0, MACHINE, &IMPULSES, PIN, SECOND_US);
        execute(PIO_0, MACHINE, set_pin(true));
        execute(PIO_0, MACHINE, SET_OUT);
        PIO_0.shift(MACHINE).write(LOW_END | ALL_SEND);
        Self { playing: None, clock_us: 1 }
    }

    /// Begins the signal from its start.
    pub fn play(&mut self) {
        self.stop();
        execute(PIO_0, MACHINE, jump(When::Always, IMPULSES.wrap_bottom.into()));
        // Restarted, and on.
        PIO_0.control().set(0b1000_1000_0000 | 1 << MACHINE);
        self.playing = Some((Player::default(), timer()));
    }

    /// Ends it at once.
    pub fn stop(&mut self) {
        PIO_0.control().clear(1 << MACHINE);
        execute(PIO_0, MACHINE, set_pin(true));
        // What was given and not begun is taken away.
        while given() > 0 {
            execute(PIO_0, MACHINE, PULL);
        }
        self.playing = None;
    }

    /// Gives what is due; to be called at least each millisecond while the signal lasts.
    pub fn serve(&mut self) {
        let Some((mut player, began)) = self.playing else { return };
        // The signal is over long before the timer wraps.
        let elapsed_us = u64::from(timer().wrapping_sub(began));
        // Two words a burst: there is room for them when no more than two stand there.
        while let Some(order) = player.due(elapsed_us)
            && given() <= 2
        {
            // Only where a phase begins, and the machine rests.
            if order.clock_us != self.clock_us {
                set_clock(PIO_0, MACHINE, SECOND_US / order.clock_us);
                self.clock_us = order.clock_us;
            }
            order.burst.words().into_iter().for_each(|word| PIO_0.send(MACHINE).write(word));
            player.given();
        }
        if player.is_over(elapsed_us) {
            self.stop();
        } else {
            self.playing = Some((player, began));
        }
    }
}

/// Words given that the machine has not taken.
fn given() -> u32 {
    PIO_0.levels().read() >> (8 * MACHINE) & 0xF
}
