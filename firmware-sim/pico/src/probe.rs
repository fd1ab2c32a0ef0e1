//! What a test can set before the image starts, and read while it runs: `README.md` has the
//! tables. Nothing in here changes what the board does but what it is started with.

use core::sync::atomic::{AtomicU32, Ordering};
use trundle_counter::Config;

/// What the board is started with. 0, where that means anything: as the hardware says.
#[repr(C)]
#[derive(Clone, Copy)]
pub struct Settings {
    mark: u32,
    board_id: [u32; 2],
    boot_id: u32,
    timer_start: u32,
    report_period_us: u32,
    min_edge_interval_us: [u32; 3],
    supply_mv: u32,
    capabilities: u32,
}

/// In flash, where a test writes to before it starts the image.
#[used]
#[unsafe(no_mangle)]
static SETTINGS: Settings = Settings {
    mark: 0x7A0D_1E5E,
    board_id: [0; 2],
    boot_id: 0,
    timer_start: 0,
    report_period_us: 20_000,
    min_edge_interval_us: [0; 3],
    supply_mv: 0,
    // Wheel, radar, PTO, implement in work, pulse per second.
    capabilities: 0b1100_0111,
};

impl Settings {
    /// As they stand in flash.
    pub fn read() -> Self {
        // SAFETY: a static like any other; volatile, since the compiler knows its value and a
        // test changes it behind the compiler's back.
        unsafe { core::ptr::read_volatile(&raw const SETTINGS) }
    }

    /// Board id, if one is set.
    pub fn board_id(&self) -> Option<u64> {
        let [low, high] = self.board_id.map(u64::from);
        Some(high << 32 | low).filter(|id| *id != 0)
    }

    /// Boot id, if one is set.
    pub fn boot_id(&self) -> Option<u32> {
        Some(self.boot_id).filter(|id| *id != 0)
    }

    /// Reading of the board's timer at board time 0.
    pub const fn timer_start(&self) -> u32 {
        self.timer_start
    }

    /// Supply, if one is set, millivolts.
    pub fn supply_mv(&self) -> Option<u16> {
        u16::try_from(self.supply_mv).ok().filter(|mv| *mv != 0)
    }

    /// The rest of what the core starts with.
    pub fn config(&self) -> Config {
        Config {
            report_period_us: self.report_period_us,
            min_edge_interval_us: self.min_edge_interval_us,
            // One byte of them exists.
            capabilities: (self.capabilities & 0xFF) as u8,
            ..Config::default()
        }
    }
}

/// Reading of the processor's timer at board time 0.
#[used]
#[unsafe(no_mangle)]
pub static TIME_ZERO: AtomicU32 = AtomicU32::new(0);

/// What the board needed so far.
#[repr(C)]
pub struct Account {
    /// Deepest stack, bytes.
    pub stack_bytes: AtomicU32,
    /// Most edges that waited at once.
    pub waiting_most: AtomicU32,
    /// Longest until the main loop took an edge, microseconds.
    pub late_us: AtomicU32,
    /// Times that edges were missed.
    pub missed: AtomicU32,
    /// Time asleep, microseconds.
    pub asleep_us: AtomicU32,
    /// Times round the main loop.
    pub rounds: AtomicU32,
}

/// Written by the main loop alone.
#[used]
#[unsafe(no_mangle)]
pub static ACCOUNT: Account = Account {
    stack_bytes: AtomicU32::new(0),
    waiting_most: AtomicU32::new(0),
    late_us: AtomicU32::new(0),
    missed: AtomicU32::new(0),
    asleep_us: AtomicU32::new(0),
    rounds: AtomicU32::new(0),
};

/// Adds to a number of the account.
pub fn add(to: &AtomicU32, value: u32) {
    to.store(to.load(Ordering::Relaxed).wrapping_add(value), Ordering::Relaxed);
}

/// Raises a number of the account.
pub fn raise(most: &AtomicU32, value: u32) {
    if value > most.load(Ordering::Relaxed) {
        most.store(value, Ordering::Relaxed);
    }
}
