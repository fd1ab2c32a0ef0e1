//! Sentences of one moment, put together into one fix.
//!
//! A receiver says what it knows of one moment in several sentences, in an order of its own. They
//! belong together by the UTC printed in them, never by when they arrived: one epoch's sentences
//! can take longer to send than the epoch lasts. An epoch is closed by the first sentence with
//! another time, or by [`EpochAssembler::flush`]. Arrival stamps decide only where VTG belongs that
//! stands between two epochs; they are in the capture, so a replay gives the same fixes as the live
//! run.
//!
//! Rules, each of which shows in the counts or in the fix:
//!
//! - **Position**: GGA, then GNS, then RMC, then GLL. All that the epoch has must agree within
//!   their printed resolution and 0.1 m; if they do not, one of them carries another moment's
//!   time, nothing says which, and the epoch is refused.
//! - **Time**: sentences of one moment may print it with other digits
//!   ([`TimeOfDay::is_moment_of`]); the fix has that of the sentence its position is from.
//! - **Speed**: RMC, which has its own time. VTG has none, so beside RMC it is taken only for its
//!   finer digits, and only if it agrees; which epoch it belongs to, see `vtg_place`.
//! - **Void**: any sentence of the epoch that says void (quality 0, status V) refuses it, and so
//!   does a satellite position from no satellites.
//! - **Several systems**: a `GN` sentence replaces one of a single system with the same time.
//!   Otherwise the first of a kind is kept and the rest count as duplicates.
//! - **Date**: see `fix_date`.

use super::clock_offset::ClockWatch;
use super::fields::{Date, Position, TimeOfDay};
use super::fix_date::{Calendar, utc_ns};
use super::fix_epoch::Epoch;
use super::sentence::{GstSigma, Sentence};
use super::vtg_place::VtgPlace;

/// What kind of position it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quality {
    /// There is no position.
    None,
    /// From satellites without any correction.
    Standalone,
    /// Differential or satellite-based corrections.
    Differential,
    /// Precise (military code) service.
    Pps,
    /// Carrier phase, whole cycles known.
    RtkFixed,
    /// Carrier phase, whole cycles not known.
    RtkFloat,
    /// Dead reckoning: carried on, not measured.
    Estimated,
    /// A position that was typed in.
    Manual,
    /// Made up by a simulator.
    Simulated,
    /// A digit the standard does not define.
    Other(u8),
}

/// The quality in the terms of the GGA sentence of NMEA 0183, the only words for it anywhere.
#[must_use]
pub const fn quality_words(quality: Quality) -> &'static str {
    match quality {
        Quality::None => "none",
        Quality::Standalone => "standalone",
        Quality::Differential => "differential",
        Quality::Pps => "precise service",
        Quality::RtkFixed => "RTK fixed",
        Quality::RtkFloat => "RTK float",
        Quality::Estimated => "estimated",
        Quality::Manual => "manual input",
        Quality::Simulated => "simulated",
        Quality::Other(_) => "undefined",
    }
}

impl Quality {
    /// The quality digit of a GGA sentence.
    #[must_use]
    pub const fn digit(self) -> u8 {
        match self {
            Self::None => 0,
            Self::Standalone => 1,
            Self::Differential => 2,
            Self::Pps => 3,
            Self::RtkFixed => 4,
            Self::RtkFloat => 5,
            Self::Estimated => 6,
            Self::Manual => 7,
            Self::Simulated => 8,
            Self::Other(digit) => digit,
        }
    }

    /// From the quality digit of a GGA sentence.
    pub fn from_digit(digit: u8) -> Self {
        match digit {
            0 => Self::None,
            1 => Self::Standalone,
            2 => Self::Differential,
            3 => Self::Pps,
            4 => Self::RtkFixed,
            5 => Self::RtkFloat,
            6 => Self::Estimated,
            7 => Self::Manual,
            8 => Self::Simulated,
            other => Self::Other(other),
        }
    }

    /// From the mode letter of RMC, GLL, VTG or GNS.
    pub fn from_mode(mode: u8) -> Self {
        match mode {
            b'A' => Self::Standalone,
            b'D' => Self::Differential,
            b'P' => Self::Pps,
            b'R' => Self::RtkFixed,
            b'F' => Self::RtkFloat,
            b'E' => Self::Estimated,
            b'M' => Self::Manual,
            b'S' => Self::Simulated,
            _ => Self::None,
        }
    }

    /// Whether satellites measured the position. Dead reckoning, typed-in and simulated positions
    /// may be close to the truth; they are still no measurement.
    pub fn is_measured(self) -> bool {
        matches!(
            self,
            Self::Standalone | Self::Differential | Self::Pps | Self::RtkFixed | Self::RtkFloat
        )
    }
}

/// What the receiver said of one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fix {
    /// UTC of the position, nanoseconds since 1970-01-01.
    pub utc_ns: i64,
    /// Arrival of the epoch's first sentence, host monotonic nanoseconds.
    pub host_ns: u64,
    /// Latitude, degrees, north positive.
    pub lat_deg: f64,
    /// Longitude, degrees, east positive.
    pub lon_deg: f64,
    /// Height above the ellipsoid, metres; only when height and geoid separation are both given.
    pub height_m: Option<f64>,
    /// Quality of the position.
    pub quality: Quality,
    /// Number of the satellites used.
    pub satellites: Option<u8>,
    /// Horizontal dilution of precision.
    pub hdop: Option<f32>,
    /// Speed over ground, metres per second.
    pub speed_m_s: Option<f64>,
    /// Track, degrees from true north.
    pub track_deg: Option<f64>,
    /// The receiver's own error estimate.
    pub gst: Option<GstSigma>,
    /// Last printed digit of the speed, metres per second; 0 without a speed.
    pub speed_quantum_m_s: f64,
    /// Last printed digit of the latitude, metres.
    pub position_quantum_m: f64,
}

/// Why an epoch gave no fix.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refusal {
    /// The receiver itself says that the position is void.
    Void,
    /// No sentence of the epoch holds a position.
    NoPosition,
    /// Two sentences of one time put the receiver in different places.
    Disagree,
    /// No date has been seen and no reference was given.
    NoDate,
}

/// What came of one epoch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FixEvent {
    /// A fix that is complete.
    Fix(Fix),
    /// The epoch gives no fix.
    Refused {
        /// Why there is no fix.
        why: Refusal,
        /// UTC time of day of the epoch.
        time: TimeOfDay,
        /// Arrival of its first sentence, host monotonic nanoseconds.
        host_ns: u64,
    },
}

/// Counts of an assembler.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct EpochCounts {
    /// Epochs that gave a fix.
    pub fixes: u64,
    /// Epochs refused because the receiver calls them void.
    pub void: u64,
    /// Epochs without a position.
    pub no_position: u64,
    /// Epochs whose sentences disagree.
    pub disagree: u64,
    /// Epochs without a date.
    pub no_date: u64,
    /// Sentences that came again with the same time.
    pub duplicates: u64,
    /// Single-system sentences given up for another one of the same time.
    pub superseded: u64,
    /// Sentences that came after their epoch was closed; dropped.
    pub late: u64,
    /// Sentences of use that carry no time and met no open epoch; dropped.
    pub untimed: u64,
    /// Dates too far from the reference to be believed.
    pub dates_bad: u64,
}

/// Groups sentences by their UTC time and gives one fix for each.
#[derive(Debug, Clone)]
pub struct EpochAssembler {
    calendar: Calendar,
    open: Option<Epoch>,
    closed: Option<TimeOfDay>,
    vtg: VtgPlace,
    counts: EpochCounts,
    /// The last date of a ZDA.
    zda: Option<Date>,
    pub(super) clock: ClockWatch,
}

impl EpochAssembler {
    /// An assembler at the start of a stream. `reference_utc_ns` is a time known from elsewhere
    /// to be near the stream's (the host's clock at capture), nanoseconds since 1970-01-01:
    /// receiver dates more than 366 days from it are not believed, and it dates streams that hold
    /// no date. Without it the receiver's date is taken as it is.
    pub fn new(reference_utc_ns: Option<i64>) -> Self {
        Self {
            calendar: Calendar::new(reference_utc_ns),
            open: None,
            closed: None,
            vtg: VtgPlace::default(),
            counts: EpochCounts::default(),
            zda: None,
            clock: ClockWatch::default(),
        }
    }

    /// Sets whether VTG begins an epoch, where it is known from elsewhere, instead of ending one.
    pub fn vtg_begins(&mut self, begins: bool) {
        self.vtg.know(begins);
    }

    /// Counts of all so far.
    pub fn counts(&self) -> EpochCounts {
        self.counts
    }

    /// Takes the next sentence, which arrived at `host_ns`. Returns what came of the epoch that
    /// it closes, if it closes one.
    pub fn push(&mut self, sentence: &Sentence, host_ns: u64) -> Option<FixEvent> {
        self.vtg.heard(host_ns);
        let time = match sentence {
            Sentence::Gga(gga) => gga.time,
            Sentence::Rmc(rmc) => {
                self.vtg.beside_rmc |= rmc.speed.is_some();
                rmc.time
            }
            Sentence::Gst(gst) => gst.time,
            Sentence::Gll(gll) => gll.time,
            Sentence::Gns(gns) => gns.time,
            Sentence::Vtg(vtg) => {
                self.counts.untimed += u64::from(!self.vtg.wait(*vtg, host_ns));
                return None;
            }
            Sentence::Zda(zda) => {
                // Some receivers print ZDA seconds ahead of the position, so it gives the date
                // and neither opens nor closes an epoch.
                if let Some((date, time)) = zda.date.zip(zda.time) {
                    self.zda = Some(date);
                    self.see_date(date, time);
                }
                return None;
            }
            Sentence::Other(_) | Sentence::Proprietary => return None,
        };
        let Some(time) = time else {
            match (sentence, self.open.as_mut()) {
                (Sentence::Gst(_), Some(epoch)) => epoch.join(sentence, &mut self.counts),
                // Without a time it cannot be determined from a neighbour's; receivers leave the
                // time out only before they know it.
                _ => self.counts.untimed += 1 + u64::from(self.vtg.untimed()),
            }
            return None;
        };
        if let Some(epoch) = self.open.as_mut().filter(|epoch| epoch.time.is_moment_of(time)) {
            if let Some(vtg) = self.vtg.same_epoch() {
                epoch.join(&Sentence::Vtg(vtg), &mut self.counts);
            }
            epoch.join_timed(sentence, time, &mut self.counts);
            return None;
        }
        if self.closed.is_some_and(|closed| closed.is_moment_of(time)) {
            self.counts.late += 1;
            return None;
        }
        self.vtg.next_epoch();
        let begins = self.vtg.begins();
        let leading = self.vtg.waiting.take_if(|_| begins);
        let event = self.flush();
        let mut epoch = Epoch::new(time, leading.map_or(host_ns, |(_, host_ns)| host_ns));
        if let Some((vtg, _)) = leading {
            epoch.begin(vtg);
        }
        epoch.join(sentence, &mut self.counts);
        self.open = Some(epoch);
        event
    }

    /// Closes the open epoch, at the end of the stream or when the caller knows that no more of
    /// it will come. Sentences of the same time that come later are counted as late.
    pub fn flush(&mut self) -> Option<FixEvent> {
        let waiting = self.vtg.waiting.take().map(|(vtg, _)| vtg);
        let Some(mut epoch) = self.open.take() else {
            self.counts.untimed += u64::from(waiting.is_some());
            return None;
        };
        match waiting {
            Some(vtg) if !self.vtg.begins() => epoch.end(vtg, &mut self.counts),
            // Of an epoch that never came.
            Some(_) => self.counts.untimed += 1,
            None => {}
        }
        self.closed = Some(epoch.time);
        let event = match self.resolve(&epoch) {
            Ok(fix) => {
                self.counts.fixes += 1;
                FixEvent::Fix(fix)
            }
            Err(why) => {
                *match why {
                    Refusal::Void => &mut self.counts.void,
                    Refusal::NoPosition => &mut self.counts.no_position,
                    Refusal::Disagree => &mut self.counts.disagree,
                    Refusal::NoDate => &mut self.counts.no_date,
                } += 1;
                FixEvent::Refused { why, time: epoch.time, host_ns: epoch.host_ns }
            }
        };
        Some(event)
    }

    fn see_date(&mut self, date: Date, time: TimeOfDay) {
        if !self.calendar.see(date, time) {
            self.counts.dates_bad += 1;
        }
    }

    fn resolve(&mut self, epoch: &Epoch) -> Result<Fix, Refusal> {
        // The date is worth having even when the position is not; a void RMC's date is not, since
        // receivers print their factory date until they have seen the sky.
        let date = epoch.rmc.filter(|rmc| rmc.valid).and_then(|rmc| rmc.date);
        if let Some(date) = date {
            self.see_date(date, epoch.time);
        }
        let (position, time, quality) = epoch.position()?;
        let resolved_ns = self.calendar.resolve(time).ok_or(Refusal::NoDate)?;
        if quality.is_measured() {
            let printed_ns = date.or(self.zda).and_then(|date| utc_ns(date, time));
            let said_ns = printed_ns.unwrap_or(resolved_ns);
            self.clock.receiver(epoch.host_ns, said_ns, printed_ns.is_some());
        }
        Ok(fix(epoch, resolved_ns, position, quality))
    }
}

fn fix(epoch: &Epoch, utc_ns: i64, position: Position, quality: Quality) -> Fix {
    let height = |altitude: Option<f64>, separation: Option<f64>| Some(altitude? + separation?);
    let height_m = match (epoch.gga, epoch.gns) {
        (Some(gga), _) => height(gga.altitude_m, gga.geoid_separation_m),
        (None, Some(gns)) => height(gns.altitude_m, gns.geoid_separation_m),
        (None, None) => None,
    };
    let speed = epoch.speed();
    let track = epoch.rmc.and_then(|rmc| rmc.track_deg);
    Fix {
        utc_ns,
        host_ns: epoch.host_ns,
        lat_deg: position.lat_deg,
        lon_deg: position.lon_deg,
        height_m,
        quality,
        satellites: epoch.satellites(),
        hdop: epoch.gga.map_or(epoch.gns.and_then(|gns| gns.hdop), |gga| gga.hdop),
        speed_m_s: speed.map(|speed| speed.m_s),
        track_deg: track.or(epoch.vtg.and_then(|vtg| vtg.track_deg)),
        gst: epoch.gst.and_then(|gst| gst.sigma),
        speed_quantum_m_s: speed.map_or(0.0, |speed| speed.quantum_m_s),
        position_quantum_m: position.quantum_m,
    }
}
