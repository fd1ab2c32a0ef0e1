//! A tractor's control unit on the implement bus, and the other traffic there.
//!
//! It counts the same teeth as the board and divides by the value that was keyed in, filters the
//! speed, and sends speed and distance every tenth of a second (ISO 11783-7). What it divides by
//! may be any value, right or not.

use crate::prng::Prng;
use crate::terminal::Keyed;

/// Highest raw distance that is data, mm.
const DISTANCE_MAX_MM: u64 = 0xFAFF_FFFF;
/// How long a control unit takes from ignition to its first message, microseconds.
const BOOT_US: u64 = 1_000_000;
/// Groups, with the priority they are sent at: wheel-based, ground-based and selected speed, PTO.
const WHEEL: u32 = 0x0CFE_4800;
const GROUND: u32 = 0x0CFE_4900;
const SELECTED: u32 = 0x0CF0_2200;
const SHAFT: u32 = 0x18FE_4300;
/// Proprietary messages of others: group FF00 to FFFF.
const FOREIGN: u32 = 0x18FF_0000;

/// Which speed the tractor hands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HandedOn {
    /// The wheel-based speed.
    Wheel,
    /// The ground-based speed.
    Ground,
}

/// The control unit's side of a scenario.
#[derive(Clone, Debug, PartialEq)]
pub struct BusTractor {
    /// Its address.
    pub address: u8,
    /// What was keyed in for the wheel; `None`: the true impulses per 100 m to the last digit.
    pub wheel_keyed: Option<Keyed>,
    /// The same for the radar.
    pub radar_keyed: Option<Keyed>,
    /// Which speed is handed on.
    pub handed_on: HandedOn,
    /// From this second on another one is.
    pub then_handed_on: Option<(f64, HandedOn)>,
    /// It sends the speed that it hands on; not every tractor does.
    pub sends_selected: bool,
    /// Time constant of the filter of the speed, seconds.
    pub filter_s: f64,
    /// From sampling to the end of the message, seconds.
    pub delay_s: f64,
    /// From message to message, microseconds.
    pub period_us: u64,
    /// Running distance at the start, mm.
    pub distance_start_mm: u64,
    /// When the ignition is switched off and on, seconds.
    pub ignition_s: Vec<f64>,
    /// From when to when speeds and distances are sent as not available, seconds.
    pub no_data_s: Option<(f64, f64)>,
    /// Another control unit that sends a wheel-based speed too: its address, and its speed over
    /// the true one.
    pub second: Option<(u8, f64)>,
    /// Frames of other groups, a second.
    pub foreign_hz: u32,
    /// The adapter can listen only.
    pub adapter_listens: bool,
}

impl Default for BusTractor {
    fn default() -> Self {
        Self {
            address: 0xF0,
            wheel_keyed: None,
            radar_keyed: None,
            handed_on: HandedOn::Wheel,
            then_handed_on: None,
            sends_selected: true,
            filter_s: 0.2,
            delay_s: 0.04,
            period_us: 100_000,
            distance_start_mm: 3_412_000,
            ignition_s: Vec::new(),
            no_data_s: None,
            second: None,
            foreign_hz: 120,
            adapter_listens: true,
        }
    }
}

impl BusTractor {
    /// On a bus that others fill: 250 kbit/s carry some 2,000 frames a second.
    #[must_use]
    pub fn full() -> Self {
        Self { foreign_hz: 2_000, ..Self::default() }
    }
}

/// What moved since the start, metres: by the wheel's teeth, and over the ground.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Moved {
    pub(crate) wheel_m: f64,
    pub(crate) ground_m: f64,
}

/// A frame and the time at which it is on the bus.
pub(crate) type Sent = (u64, u32, [u8; 8]);

/// One speed of the control unit.
#[derive(Clone, Copy, Debug, Default)]
struct Shown {
    /// Shown over true.
    ratio: f64,
    filtered_m_s: f64,
    /// True metres when the ignition was last switched on.
    from_m: f64,
    start_mm: u64,
    true_m: f64,
}

/// Plays the control unit and everyone else on the bus.
#[derive(Clone, Debug)]
pub(crate) struct Bus {
    tractor: BusTractor,
    wheel: Shown,
    ground: Shown,
    up_from_us: u64,
    rpm: f64,
    random: Prng,
}

impl Bus {
    /// The ratios shown over true of wheel and radar come from what was keyed in.
    pub(crate) fn new(tractor: &BusTractor, true_per_100m: (f64, f64), seed: u64) -> Self {
        let (wheel, radar) = true_per_100m;
        let ratio = |own: f64, other: f64, keyed: Option<Keyed>| {
            keyed.map_or(1.0, |keyed| own / keyed.per_100m(own, other))
        };
        let start_mm = tractor.distance_start_mm;
        let shown = |ratio| Shown { ratio, start_mm, ..Shown::default() };
        Self {
            wheel: shown(ratio(wheel, radar, tractor.wheel_keyed)),
            ground: shown(ratio(radar, wheel, tractor.radar_keyed)),
            up_from_us: 0,
            rpm: 0.0,
            random: Prng::new(seed, "bus"),
            tractor: tractor.clone(),
        }
    }

    /// A step of time, and what was sent in it.
    pub(crate) fn step(
        &mut self,
        (from_us, to_us): (u64, u64),
        moved: Moved,
        pto_rpm: f64,
        mut send: impl FnMut(Sent),
    ) {
        let step_s = (to_us - from_us) as f64 * 1e-6;
        self.rpm = pto_rpm;
        self.wheel.go_on(moved.wheel_m, step_s, self.tractor.filter_s);
        self.ground.go_on(moved.ground_m, step_s, self.tractor.filter_s);
        let within = |at_s: &f64| (from_us as f64..to_us as f64).contains(&(at_s * 1e6));
        if self.tractor.ignition_s.iter().any(within) {
            self.up_from_us = to_us + BOOT_US;
            self.wheel.begin();
            self.ground.begin();
        }
        self.foreign(from_us, to_us, &mut send);
        for (n, phase_us) in [(0_u32, 0), (1, 7_000), (2, 13_000), (3, 31_000), (4, 47_000)] {
            let period_us = self.tractor.period_us.max(1);
            let since_us = (from_us + period_us - phase_us % period_us) % period_us;
            let next_us = from_us + (period_us - since_us) % period_us;
            if (from_us..to_us).contains(&next_us)
                && next_us >= self.up_from_us
                && let Some((id, data)) = self.message(n, next_us)
            {
                send((next_us + (self.tractor.delay_s * 1e6) as u64, id, data));
            }
        }
    }

    fn message(&self, number: u32, at_us: u64) -> Option<(u32, [u8; 8])> {
        let tractor = &self.tractor;
        let address = u32::from(tractor.address);
        let data = match number {
            0 => (WHEEL | address, self.speed(&self.wheel, 1.0, 0b1111_1101, at_us)),
            1 => (GROUND | address, self.speed(&self.ground, 1.0, 0b1111_1101, at_us)),
            2 if !tractor.sends_selected => return None,
            2 => {
                let at_s = at_us as f64 * 1e-6;
                let then = tractor.then_handed_on.filter(|(from_s, _)| at_s >= *from_s);
                let (shown, source) = match then.map_or(tractor.handed_on, |then| then.1) {
                    HandedOn::Wheel => (&self.wheel, 0),
                    HandedOn::Ground => (&self.ground, 1),
                };
                let last = 0b1110_0001 | source << 2;
                (SELECTED | address, self.speed(shown, 1.0, last, at_us))
            }
            3 => {
                let mut data = [0xFF; 8];
                data[..2].copy_from_slice(&((self.rpm * 8.0) as u16).to_le_bytes());
                (SHAFT | address, data)
            }
            _ => {
                let (other, ratio) = tractor.second?;
                let more = ratio / self.wheel.ratio;
                (WHEEL | u32::from(other), self.speed(&self.wheel, more, 0b1111_1101, at_us))
            }
        };
        Some(data)
    }

    fn speed(&self, shown: &Shown, more: f64, last: u8, at_us: u64) -> [u8; 8] {
        let mut data = [0xFF; 8];
        data[7] = last;
        let at_s = at_us as f64 * 1e-6;
        if self.tractor.no_data_s.is_some_and(|(from_s, to_s)| (from_s..to_s).contains(&at_s)) {
            return data;
        }
        let mm_s = libm::round(shown.filtered_m_s * more * 1e3).clamp(0.0, 64_255.0) as u16;
        let way_mm = (shown.true_m - shown.from_m) * shown.ratio * more * 1e3;
        let mm = (shown.start_mm + way_mm.max(0.0) as u64) % (DISTANCE_MAX_MM + 1);
        data[..2].copy_from_slice(&mm_s.to_le_bytes());
        data[2..6].copy_from_slice(&(mm as u32).to_le_bytes());
        data
    }

    /// Others' frames, evenly over time.
    fn foreign(&mut self, from_us: u64, to_us: u64, send: &mut impl FnMut(Sent)) {
        let Some(period_us) = 1_000_000_u64.checked_div(u64::from(self.tractor.foreign_hz)) else {
            return;
        };
        let mut at_us = from_us.next_multiple_of(period_us.max(1));
        while at_us < to_us {
            let bits = self.random.bits();
            let id = FOREIGN | (bits as u32 & 0xFFFF);
            send((at_us, id, self.random.bits().to_le_bytes()));
            at_us += period_us.max(1);
        }
    }
}

impl Shown {
    fn go_on(&mut self, true_m: f64, step_s: f64, filter_s: f64) {
        let speed_m_s = (true_m - self.true_m) / step_s * self.ratio;
        let share = if filter_s > 0.0 { 1.0 - libm::exp(-step_s / filter_s) } else { 1.0 };
        self.filtered_m_s += (speed_m_s - self.filtered_m_s) * share;
        self.true_m = true_m;
    }

    fn begin(&mut self) {
        (self.from_m, self.start_mm) = (self.true_m, 0);
    }
}
