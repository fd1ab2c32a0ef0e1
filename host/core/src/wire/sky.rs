//! The sky as the receiver sees it: satellites used and in view, their signal, and the dilution.
//!
//! GSA names the satellites used and the dilution, GSV those in view with their signal. Both come
//! in several sentences, one or more for each system, and mostly several times a second. They are
//! read by the crate `nmea`, and only in rounds: for a second, every twenty seconds. That is enough
//! for what a person can do about the sky, and costs a long replay next to nothing.

use super::fix::Fix;
use nmea::ParseResult;
use nmea::sentences::{GnssType, GsaData, GsvData};
use std::collections::{BTreeMap, BTreeSet};

/// From one round to the next, nanoseconds.
const EVERY_NS: u64 = 20_000_000_000;
/// Length of a round, nanoseconds: receivers send the satellites in view once a second, common
/// practice, no source; the rest is for a late one.
const ROUND_NS: u64 = 1_200_000_000;
/// A sky older than this is of no use, nanoseconds.
const FRESH_NS: u64 = EVERY_NS + 5_000_000_000;
/// Satellites remembered in a round: more than all systems have above the horizon.
const SATELLITES_MAX: usize = 256;
/// Largest dilution, C/N0 and number of satellites that are believed. A receiver without a fix
/// prints 99.99 for the dilution.
const DILUTION_MAX: f32 = 99.0;

/// What one round of sentences says of the sky.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sky {
    /// When the round began, host monotonic nanoseconds.
    pub host_ns: u64,
    /// Satellites used for the position.
    pub used: Option<u8>,
    /// Satellites in view.
    pub in_view: Option<u16>,
    /// Median carrier-to-noise density of the satellites received, dB-Hz.
    pub signal_db_hz: Option<f64>,
    /// Dilution of precision: position.
    pub pdop: Option<f32>,
    /// Dilution of precision: horizontal.
    pub hdop: Option<f32>,
}

/// Reads the sky out of the sentences of a stream.
#[derive(Debug, Clone, Default)]
pub struct SkyReader {
    begun_ns: Option<u64>,
    /// By system and number: used for the position.
    used: BTreeSet<(u8, u32)>,
    /// A GSA came, though it may name none.
    has_used: bool,
    /// By system: satellites in view as it states them.
    in_view: BTreeMap<u8, u16>,
    /// By system and number: strongest signal of any band, dB-Hz.
    signals: BTreeMap<(u8, u32), f32>,
    pdop: Option<f32>,
    hdop: Option<f32>,
    last: Option<Sky>,
}

impl SkyReader {
    /// Takes a sentence that arrived at `host_ns`. Returns the sky when it closes a round.
    pub(crate) fn take(&mut self, line: &[u8], host_ns: u64) -> Option<Sky> {
        let age_ns = self.begun_ns.map(|begun_ns| host_ns.saturating_sub(begun_ns));
        let mut closed = None;
        if age_ns.is_none_or(|age_ns| age_ns >= EVERY_NS) {
            closed = self.close();
            self.begun_ns = Some(host_ns);
        } else if age_ns.is_some_and(|age_ns| age_ns >= ROUND_NS) {
            return self.close();
        }
        match nmea::parse_bytes(line) {
            Ok(ParseResult::GSA(gsa)) => self.gsa(&gsa),
            Ok(ParseResult::GSV(gsv)) => self.gsv(&gsv),
            // What the crate cannot read says nothing of the sky, and nothing hangs on it.
            Ok(_) | Err(_) => {}
        }
        closed
    }

    /// The newest sky that was read whole and is not old at `host_ns`.
    #[must_use]
    pub fn fresh(&self, host_ns: u64) -> Option<Sky> {
        self.last.filter(|sky| host_ns.saturating_sub(sky.host_ns) <= FRESH_NS)
    }

    /// Closes the open round. `None` where nothing was read in it.
    pub(crate) fn close(&mut self) -> Option<Sky> {
        if !self.has_used && self.in_view.is_empty() {
            return None;
        }
        let mut signals: Vec<f32> = std::mem::take(&mut self.signals).into_values().collect();
        signals.sort_by(f32::total_cmp);
        let sky = Sky {
            host_ns: self.begun_ns.unwrap_or(0),
            used: self.has_used.then(|| u8::try_from(self.used.len()).unwrap_or(u8::MAX)),
            in_view: (!self.in_view.is_empty()).then(|| self.in_view.values().sum()),
            signal_db_hz: signals.get(signals.len() / 2).map(|&signal| f64::from(signal)),
            pdop: self.pdop,
            hdop: self.hdop,
        };
        *self = Self { begun_ns: self.begun_ns, last: Some(sky), ..Self::default() };
        Some(sky)
    }

    fn gsa(&mut self, gsa: &GsaData) {
        self.has_used = true;
        // Before version 4.1 numbers told the systems apart.
        let system = gsa.system_id.map_or(0, |system| 1 + GnssType::from(system) as u8);
        for &number in &gsa.fix_sats_prn {
            if self.used.len() < SATELLITES_MAX {
                self.used.insert((system, number));
            }
        }
        let dilution =
            |value: Option<f32>| value.filter(|value| (0.0..DILUTION_MAX).contains(value));
        self.pdop = dilution(gsa.pdop).or(self.pdop);
        self.hdop = dilution(gsa.hdop).or(self.hdop);
    }

    fn gsv(&mut self, gsv: &GsvData) {
        let system = gsv.gnss_type as u8;
        // Once for every band: the largest is the number of satellites.
        let in_view = self.in_view.entry(system).or_default();
        *in_view = gsv.sats_in_view.min(SATELLITES_MAX as u16).max(*in_view);
        for satellite in gsv.sats_info.iter().flatten() {
            // In view and not received: no signal is printed, or 0.
            let Some(signal) = satellite.snr().filter(|snr| (1.0..=99.0).contains(snr)) else {
                continue;
            };
            if self.signals.len() < SATELLITES_MAX {
                let strongest = self.signals.entry((system, satellite.prn())).or_default();
                *strongest = signal.max(*strongest);
            }
        }
    }
}

/// Mean and extremes of a quantity over a stream, to a hundredth: none is printed with more.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Seen {
    count: u64,
    /// In hundredths, like all values here: sums of whole numbers are exact.
    sum: f64,
    least: f64,
    most: f64,
}

impl Seen {
    /// Takes a value.
    pub(crate) fn add(&mut self, value: f64) {
        let hundredths = (100.0 * value).round();
        let first = self.count == 0;
        self.count += 1;
        self.sum += hundredths;
        self.least = if first { hundredths } else { self.least.min(hundredths) };
        self.most = if first { hundredths } else { self.most.max(hundredths) };
    }

    /// The mean; `None` where nothing was seen.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then(|| self.sum / (100.0 * self.count as f64))
    }

    /// The least and the largest value; 0 where nothing was seen.
    #[must_use]
    pub fn ends(&self) -> [f64; 2] {
        [self.least / 100.0, self.most / 100.0]
    }
}

/// The sky over a whole stream.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct SkyTotals {
    /// Satellites used, of every usable fix.
    pub used: Seen,
    /// Horizontal dilution, of every usable fix.
    pub hdop: Seen,
    /// Satellites in view.
    pub in_view: Seen,
    /// Median carrier-to-noise density of the satellites received, dB-Hz.
    pub signal_db_hz: Seen,
    /// The newest sky.
    pub last: Option<Sky>,
}

impl SkyTotals {
    /// Takes a usable fix.
    pub(crate) fn fix(&mut self, fix: &Fix) {
        if let Some(used) = fix.satellites {
            self.used.add(f64::from(used));
        }
        if let Some(hdop) = fix.hdop {
            self.hdop.add(f64::from(hdop));
        }
    }

    /// Takes what a round said.
    pub(crate) fn round(&mut self, sky: Sky) {
        self.last = Some(sky);
        if let Some(in_view) = sky.in_view {
            self.in_view.add(f64::from(in_view));
        }
        if let Some(signal_db_hz) = sky.signal_db_hz {
            self.signal_db_hz.add(signal_db_hz);
        }
    }
}
