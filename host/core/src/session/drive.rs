//! What was driven since the last mark, across restarts of the board.
//!
//! Presses alternate between start and finish. A board that restarts may have missed one, and
//! whoever drives may begin the pass again or may not have noticed; what was driven since the last
//! mark tells whether a press can be the finish of a pass.

use crate::geodesy::inverse;
use crate::stats::fit::robust::upper_median;
use crate::wire::board::CountSample;
use crate::wire::fix::Fix;
use trundle_protocol::message::CHANNELS;

/// Passes over one course differ by less than this share in their impulses: slip is within some
/// per cent of itself. The way between two passes is some other length.
const SAME_SHARE: f64 = 0.05;
/// Fewer impulses than these are no drive: some metres, however fine the sensor.
const MOVED: f64 = 20.0;
/// Ends that lie closer together than this are one peg, metres: half of a short course, and more
/// than positions without corrections are out by within minutes.
const ONE_PEG_M: f64 = 15.0;
/// A position is of the moment if it is not older than this, nanoseconds.
const FRESH_NS: u64 = 3_000_000_000;
/// Impulses that may be lost while the board is off are put in by the rate before, and are in doubt
/// by this share.
const OFF_DOUBT: f64 = 0.5;

/// What can be said of the drive from the last mark to a press.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Drive {
    /// As long as the passes before, or from one peg to another.
    Pass,
    /// No pass: back at the same peg, not moved, or another length than the passes before.
    NoPass,
    /// There is nothing to tell it by.
    #[default]
    Unknown,
}

/// Impulses of a drive, wheel, radar and PTO.
#[derive(Clone, Copy, Debug, Default)]
pub struct Driven {
    impulses: [f64; CHANNELS],
    /// What of them is in doubt.
    doubt: [f64; CHANNELS],
}

impl Driven {
    /// A drive between two counts of one boot.
    pub fn between(from: &CountSample, to: &CountSample) -> Self {
        let impulses =
            std::array::from_fn(|i| to.impulses[i].saturating_sub(from.impulses[i]) as f64);
        Self { impulses, ..Self::default() }
    }

    /// The middle one of several drives, channel by channel; `None` of none.
    pub fn middle(drives: &[Self]) -> Option<Self> {
        if drives.is_empty() {
            return None;
        }
        let of = |i: usize| upper_median(drives.iter().map(|d| d.impulses[i]).collect());
        Some(Self { impulses: std::array::from_fn(|i| of(i).unwrap_or(0.0)), ..Self::default() })
    }

    /// The channel of the ground that shows motion, where one does.
    fn motion(&self) -> Option<usize> {
        [0, 1].into_iter().find(|&i| self.impulses[i] >= MOVED)
    }

    /// Whether both are the same length, by the first sensor of the ground that shows it.
    pub fn is_as_long_as(&self, other: &Self) -> bool {
        other.motion().is_some_and(|i| {
            let doubt = self.doubt[i] + other.doubt[i];
            (self.impulses[i] - other.impulses[i]).abs() <= SAME_SHARE * other.impulses[i] + doubt
        })
    }
}

/// Counts on from a mark.
#[derive(Clone, Debug, Default)]
pub struct Odometer {
    /// Of boots before this one.
    before: Driven,
    /// The count it began with in this boot.
    from: Option<[u64; CHANNELS]>,
    last: Option<CountSample>,
    /// Where the board was when it restarted: its last count, and impulses a second.
    off: Option<(CountSample, [f64; CHANNELS])>,
    /// Degrees at the mark.
    place: Option<(f64, f64)>,
    /// Marks were undone or lost: there is no telling from where it counts.
    lost: bool,
}

impl Odometer {
    /// The next count.
    pub fn counts(&mut self, sample: &CountSample) {
        if let Some((last, rate)) = self.off.take() {
            let silent_s = sample.host_ns.saturating_sub(last.host_ns) as f64 * 1e-9;
            let off_s = (silent_s - sample.board_us as f64 * 1e-6).max(0.0);
            for (i, rate) in rate.into_iter().enumerate() {
                self.before.impulses[i] += rate * off_s;
                self.before.doubt[i] += OFF_DOUBT * rate * off_s;
            }
        }
        self.from.get_or_insert(sample.impulses);
        self.last = Some(*sample);
    }

    /// The board restarted; `ago` is a count some time before its last one.
    pub fn restarted(&mut self, ago: Option<&CountSample>) {
        let so_far = self.driven();
        let Some(last) = self.last.take() else {
            return;
        };
        self.before = so_far;
        self.from = Some([0; CHANNELS]);
        let span_s = ago.map_or(0.0, |a| last.host_ns.saturating_sub(a.host_ns) as f64 * 1e-9);
        let rate = ago.filter(|_| span_s > 0.0).map_or([0.0; CHANNELS], |ago| {
            Driven::between(ago, &last).impulses.map(|count| count / span_s)
        });
        self.off = Some((last, rate));
    }

    /// A mark is given here.
    pub fn mark(&mut self, host_ns: u64, fix: Option<&Fix>) {
        let from = self.last.map(|last| last.impulses).or_else(|| self.off.map(|_| [0; CHANNELS]));
        let place = here(host_ns, fix);
        let (last, off) = (self.last, self.off.map(|(last, _)| (last, [0.0; CHANNELS])));
        *self = Self { from, last, off, place, ..Self::default() };
    }

    /// A mark was undone or lost.
    pub const fn lose(&mut self) {
        self.lost = true;
    }

    /// What was driven since the mark.
    pub fn driven(&self) -> Driven {
        let mut driven = self.before;
        if let (Some(from), Some(last)) = (self.from, &self.last) {
            for (i, from) in from.into_iter().enumerate() {
                driven.impulses[i] += last.impulses[i].saturating_sub(from) as f64;
            }
        }
        driven
    }

    /// Whether a press at this host time can be the finish of what the last mark began; `usual` is
    /// what passes are like.
    pub fn judge(&self, host_ns: u64, fix: Option<&Fix>, usual: Option<&Driven>) -> Drive {
        if self.lost {
            return Drive::Unknown;
        }
        let driven = self.driven();
        if driven.motion().is_none() && self.last.is_some() {
            return Drive::NoPass;
        }
        let apart_m = self.place.zip(here(host_ns, fix)).map(|(a, b)| inverse(a, b).length_m);
        match (apart_m, usual) {
            (Some(apart_m), _) if apart_m < ONE_PEG_M => Drive::NoPass,
            (_, Some(usual)) if driven.is_as_long_as(usual) => Drive::Pass,
            (_, Some(_)) => Drive::NoPass,
            (Some(_), None) => Drive::Pass,
            (None, None) => Drive::Unknown,
        }
    }
}

fn here(host_ns: u64, fix: Option<&Fix>) -> Option<(f64, f64)> {
    let fix = fix.filter(|fix| fix.host_ns.abs_diff(host_ns) <= FRESH_NS)?;
    Some((fix.lat_deg, fix.lon_deg))
}
