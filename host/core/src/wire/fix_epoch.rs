//! The sentences of one open epoch, and what they say together.

use super::fields::{Position, Speed, TimeOfDay};
use super::fix::{EpochCounts, Quality, Refusal};
use super::sentence::{Gga, Gll, Gns, Gst, Rmc, Sentence, Talker, Vtg};

/// What two sentences of one epoch may differ by beyond their printed digits, metres. Receivers
/// round one and cut the other, and some print RMC from a filter that lags by centimetres.
const AGREE_M: f64 = 0.1;
/// Metres in a degree of latitude, near enough for a comparison of printed digits.
const DEGREE_M: f64 = 111_320.0;

/// One open epoch: the first sentence of each kind, or the combined one.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Epoch {
    /// Its time, as the sentence with the most digits prints it.
    pub(crate) time: TimeOfDay,
    pub(crate) host_ns: u64,
    pub(crate) gga: Option<Gga>,
    pub(crate) gns: Option<Gns>,
    pub(crate) rmc: Option<Rmc>,
    pub(crate) gll: Option<Gll>,
    pub(crate) vtg: Option<Vtg>,
    pub(crate) gst: Option<Gst>,
    /// Its VTG came before its first time, and whether it is its own was not known for certain.
    vtg_began: bool,
}

/// Puts `new` into its slot by the rule of several systems.
fn keep<T: Copy>(
    slot: &mut Option<T>,
    new: T,
    talker: impl Fn(&T) -> Talker,
    counts: &mut EpochCounts,
) {
    let arrived = talker(&new);
    match slot.as_ref().map(talker) {
        None => *slot = Some(new),
        // A receiver may speak for each system by itself; twice for one, it does not.
        Some(old) if old == arrived => counts.duplicates += 1,
        Some(old) => {
            counts.superseded += 1;
            if arrived.is_combined() && !old.is_combined() {
                *slot = Some(new);
            }
        }
    }
}

impl Epoch {
    /// An epoch without sentences.
    pub(crate) fn new(time: TimeOfDay, host_ns: u64) -> Self {
        Self {
            time,
            host_ns,
            gga: None,
            gns: None,
            rmc: None,
            gll: None,
            vtg: None,
            gst: None,
            vtg_began: false,
        }
    }

    /// Takes the VTG that stood before its first sentence.
    pub(crate) fn begin(&mut self, vtg: Vtg) {
        self.vtg = Some(vtg);
        self.vtg_began = true;
    }

    /// Takes the VTG that stood after its last sentence, in place of one before it: the receiver
    /// has one order.
    pub(crate) fn end(&mut self, vtg: Vtg, counts: &mut EpochCounts) {
        if std::mem::take(&mut self.vtg_began) {
            self.vtg = None;
        }
        // Some receivers send VTG more often than positions: those are of no epoch, and no repeat.
        if self.vtg.is_some_and(|old| old.talker == vtg.talker) {
            counts.untimed += 1;
        } else {
            self.join(&Sentence::Vtg(vtg), counts);
        }
    }

    /// Takes a sentence of this epoch that prints its moment as `time`.
    pub(crate) fn join_timed(
        &mut self,
        sentence: &Sentence,
        time: TimeOfDay,
        counts: &mut EpochCounts,
    ) {
        if time.decimals > self.time.decimals {
            self.time = time;
        }
        self.join(sentence, counts);
    }

    /// Takes a sentence of this epoch.
    pub(crate) fn join(&mut self, sentence: &Sentence, counts: &mut EpochCounts) {
        match *sentence {
            Sentence::Gga(gga) => keep(&mut self.gga, gga, |gga| gga.talker, counts),
            Sentence::Gns(gns) => keep(&mut self.gns, gns, |gns| gns.talker, counts),
            Sentence::Rmc(rmc) => keep(&mut self.rmc, rmc, |rmc| rmc.talker, counts),
            Sentence::Gll(gll) => keep(&mut self.gll, gll, |gll| gll.talker, counts),
            Sentence::Vtg(vtg) => keep(&mut self.vtg, vtg, |vtg| vtg.talker, counts),
            Sentence::Gst(gst) => keep(&mut self.gst, gst, |gst| gst.talker, counts),
            Sentence::Zda(_) | Sentence::Other(_) | Sentence::Proprietary => {}
        }
    }

    /// Position, its time as printed beside it, and its quality; or why there is none.
    pub(crate) fn position(&self) -> Result<(Position, TimeOfDay, Quality), Refusal> {
        let quality = self.quality().ok_or(Refusal::NoPosition)?;
        // A receiver that claims a satellite position from no satellites carries on an old one.
        let from_nothing = quality.is_measured() && self.satellites() == Some(0);
        if quality == Quality::None || from_nothing || self.called_void(quality) {
            return Err(Refusal::Void);
        }
        let places = [
            self.gga.and_then(|gga| gga.position.zip(gga.time)),
            self.gns.and_then(|gns| gns.position.zip(gns.time)),
            self.rmc.and_then(|rmc| rmc.position.zip(rmc.time)),
            self.gll.and_then(|gll| gll.position.zip(gll.time)),
        ];
        let mut places = places.into_iter().flatten();
        let (chosen, time) = places.next().ok_or(Refusal::NoPosition)?;
        if places.all(|(place, _)| agree(chosen, place)) {
            Ok((chosen, time, quality))
        } else {
            Err(Refusal::Disagree)
        }
    }

    /// Satellites used, from GGA or else GNS.
    pub(crate) fn satellites(&self) -> Option<u8> {
        self.gga.map_or(self.gns.and_then(|gns| gns.satellites), |gga| gga.satellites)
    }

    /// The quality of the best-informed sentence: GGA, GNS, RMC, GLL. Before version 2.3 RMC and
    /// GLL had only their status.
    fn quality(&self) -> Option<Quality> {
        let of_status = |valid: bool, mode: Option<u8>| match (valid, mode) {
            // A simulator's sentences say V and S: that it is one is worth more than that.
            (_, Some(mode @ (b'S' | b'M' | b'E'))) => Quality::from_mode(mode),
            (true, Some(mode)) => Quality::from_mode(mode),
            (true, None) => Quality::Standalone,
            (false, _) => Quality::None,
        };
        self.gga
            .map(|gga| Quality::from_digit(gga.quality))
            .or(self.gns.map(|gns| Quality::from_mode(gns.mode)))
            .or(self.rmc.map(|rmc| of_status(rmc.valid, rmc.mode)))
            .or(self.gll.map(|gll| of_status(gll.valid, gll.mode)))
    }

    /// Whether another sentence says void. A position that is not measured is never used, and
    /// receivers rightly print V beside it, so there V is no contradiction.
    fn called_void(&self, quality: Quality) -> bool {
        quality.is_measured()
            && (self.gga.is_some_and(|gga| gga.quality == 0)
                || self.rmc.is_some_and(|rmc| !rmc.valid)
                || self.gll.is_some_and(|gll| !gll.valid))
    }

    /// The speed of RMC, or of VTG where that has finer digits and agrees, or is alone.
    pub(crate) fn speed(&self) -> Option<Speed> {
        let rmc = self.rmc.and_then(|rmc| rmc.speed);
        // Mode N: the receiver says that the values beside it are not data.
        let vtg = self.vtg.filter(|vtg| vtg.mode != Some(b'N')).and_then(|vtg| vtg.speed);
        let finer = rmc.zip(vtg).is_none_or(|(rmc, vtg)| {
            let agree = (rmc.m_s - vtg.m_s).abs() <= rmc.quantum_m_s + vtg.quantum_m_s;
            agree && vtg.quantum_m_s < rmc.quantum_m_s
        });
        if finer { vtg.or(rmc) } else { rmc }
    }
}

/// Whether two printed positions can be the same place.
fn agree(a: Position, b: Position) -> bool {
    let allowed_m = AGREE_M + a.quantum_m + b.quantum_m;
    let north_m = (a.lat_deg - b.lat_deg) * DEGREE_M;
    // Either side of the date line, 180 W and 180 E are one place.
    let turn = (a.lon_deg - b.lon_deg).abs();
    let turn_m = turn.min(360.0 - turn) * DEGREE_M;
    // Degrees of longitude are never longer than on the equator: mostly that settles it.
    let east = |limit_m: f64| turn_m <= limit_m || turn_m * a.lat_deg.to_radians().cos() <= limit_m;
    north_m.abs() <= allowed_m && east(allowed_m)
}
