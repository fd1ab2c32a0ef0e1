//! Wheel slip along the way: how much further the wheels turned than the tractor went.
//!
//! Slip is 1 - actual/theoretical travel = 1 - K0/K, K0 being the impulses per 100 m of the same
//! tyres without slip and K those counted over a stretch of ground (ANSI/ASAE S296.5 and OECD
//! Code 2, from memory): the loaded quantity stands in the denominator. The other denominator is
//! in use too and gives larger numbers: 15 % here are 17.6 % there.
//!
//! The way is cut into windows of distance. Each tells how far the axle went by satellite, how far
//! the wheels turned by their impulses, the slip, and how sure that is.

pub mod compare;
mod cut;
mod measure;
mod places;
mod refusal;
mod totals;

pub use places::Place;
pub use refusal::SlipRefusal;
pub use totals::{LegTotal, ShareAbove, Total};

use crate::ride::axle::{Mounting, Trace, traces};
use crate::ride::legs::LegKind;
use crate::ride::noise::{MotionNoise, learn};
use crate::ride::{Ride, Rides, rides};
use crate::session::trail::Trail;
use crate::timeline::counts::CountCurve;
use trundle_protocol::units::Channel;

/// Standard uncertainty taken for an antenna of which nothing is known, right and ahead, metres:
/// on a cab roof, somewhere near the middle; common practice, no source.
const UNKNOWN_MOUNTING: Mounting =
    Mounting { right_m: 0.0, u_right_m: 0.4, ahead_m: 0.0, u_ahead_m: 1.5 };

/// The wheel figure without slip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ZeroSlip {
    /// Impulses per 100 m.
    pub per_100m: f64,
    /// Standard uncertainty, impulses per 100 m.
    pub standard_uncertainty: f64,
}

/// How to work slip out.
#[derive(Clone, Debug, PartialEq)]
pub struct SlipOptions {
    /// Figure without slip; nothing is given without one.
    pub zero_slip: Option<ZeroSlip>,
    /// Where the antenna is; without it, turns are doubtful and say so.
    pub mounting: Option<Mounting>,
    /// Length of a window, metres.
    pub window_m: f64,
    /// Slower than this nothing is given, m/s.
    pub least_speed_m_s: f64,
    /// Slips of which the share of distance above is told.
    pub thresholds: Vec<f64>,
}

impl Default for SlipOptions {
    fn default() -> Self {
        Self {
            zero_slip: None,
            mounting: None,
            window_m: 15.0,
            least_speed_m_s: 0.5,
            // The good working range on soil is 8 to 15 %: common practice, from memory.
            thresholds: vec![0.08, 0.15],
        }
    }
}

/// What keeps a window from being taken at its word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum WindowFlag {
    /// In a turn, and the place of the antenna is not known.
    MountingUnknown,
    /// No count came in for more than half a second near an end of it.
    LinkGap,
    /// The kind of fix changed inside.
    FixQualityChanged,
    /// Fixes inside were rejected as implausible, or did not move.
    FixDoubtful,
    /// Less sure than ±0.05.
    Doubtful,
}

impl WindowFlag {
    /// The stable word for files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::MountingUnknown => "MOUNTING_UNKNOWN",
            Self::LinkGap => "LINK_GAP",
            Self::FixQualityChanged => "FIX_QUALITY_CHANGED",
            Self::FixDoubtful => "FIX_DOUBTFUL",
            Self::Doubtful => "DOUBTFUL",
        }
    }
}

/// One window.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// UTC of its middle, nanoseconds since 1970.
    pub utc_ns: i64,
    /// Board seconds since boot, start and finish.
    pub board_s: (f64, f64),
    /// The axle's way, degrees, about a metre from point to point.
    pub line: Vec<(f64, f64)>,
    /// The axle's way, metres along the ground.
    pub length_m: f64,
    /// Its standard uncertainty, metres.
    pub u_length_m: f64,
    /// The part of it that the antenna's place makes, right and ahead, with its sign: the same
    /// error in all windows.
    pub arm_m: [f64; 2],
    /// Wheel impulses.
    pub impulses: f64,
    /// Mean ground speed, m/s.
    pub ground_speed_m_s: f64,
    /// 1 - actual/theoretical travel.
    pub slip: f64,
    /// Standard uncertainty of the slip, that of the figure without slip included.
    pub standard_uncertainty: f64,
    /// Mean heading, degrees clockwise from north.
    pub heading_deg: f64,
    /// Change of heading, radians, clockwise positive.
    pub turned_rad: f64,
    /// Pass or turn.
    pub kind: LegKind,
    /// Number of its leg, from 1.
    pub leg: u32,
    /// The implement was in work all the way.
    pub in_work: bool,
    /// What to mind.
    pub flags: Vec<WindowFlag>,
}

impl Window {
    /// Position of its middle, degrees.
    #[must_use]
    pub fn middle(&self) -> (f64, f64) {
        self.line.get(self.line.len() / 2).copied().unwrap_or_default()
    }
}

/// The result.
#[derive(Clone, Debug, PartialEq)]
pub struct Slip {
    /// The figure without slip that was used.
    pub zero_slip: ZeroSlip,
    /// Where the antenna was taken to be; `None`: not known.
    pub mounting: Option<Mounting>,
    /// Length of a window that was asked for, metres.
    pub window_m: f64,
    /// Slower than this nothing was given, m/s.
    pub least_speed_m_s: f64,
    /// In order of time.
    pub windows: Vec<Window>,
    /// Over all windows; over those on passes, in turns, and in work, where there are any.
    pub totals: Totals,
    /// Passes and turns.
    pub legs: Vec<LegTotal>,
    /// By place.
    pub places: Vec<Place>,
    /// Share of the distance above each threshold.
    pub share_above: Vec<ShareAbove>,
    /// Metres driven that no window holds: too slow, backwards, or between gaps.
    pub withheld_m: f64,
    /// What the receiver was like.
    pub noise: MotionNoise,
    /// Its lag, and the standard uncertainty of that, seconds.
    pub lag_s: (f64, f64),
}

/// Totals of the windows, by what they have in common.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Totals {
    /// All.
    pub all: Total,
    /// On passes.
    pub passes: Option<Total>,
    /// In turns.
    pub turns: Option<Total>,
    /// With the implement in work.
    pub in_work: Option<Total>,
}

/// Slip by two figures: the one without slip and the one counted under load, both in impulses per
/// 100 m of ground.
#[must_use]
pub fn by_figures(zero_slip_per_100m: f64, loaded_per_100m: f64) -> f64 {
    1.0 - zero_slip_per_100m / loaded_per_100m
}

/// Work slip out.
///
/// # Errors
/// A [`SlipRefusal`] when there is no figure without slip, when counts and positions cannot be
/// laid on one clock, or when nowhere was driven fast enough for a whole window.
pub fn slip(trail: &Trail, options: &SlipOptions) -> Result<Slip, SlipRefusal> {
    let zero_slip = options.zero_slip.ok_or(SlipRefusal::NoZeroSlip)?;
    let Rides { rides, lag } = rides(trail)?;
    let mounting = options.mounting.unwrap_or(UNKNOWN_MOUNTING);
    let wheel = Channel::Wheel.index();
    let driven: Vec<(&Ride<'_>, Trace)> = rides
        .iter()
        .filter(|ride| ride.curves[wheel].knots().len() > 1)
        .flat_map(|ride| traces(ride, &mounting).into_iter().map(move |trace| (ride, trace)))
        .collect();
    if driven.is_empty() {
        return Err(SlipRefusal::NoWheel);
    }
    let witnesses: Vec<(Trace, Vec<&CountCurve>)> =
        driven.iter().map(|(ride, trace)| (trace.clone(), sensors(ride))).collect();
    let noise = learn(&witnesses);
    let lag_s = (lag.lag_s, lag.standard_uncertainty_s);
    let means =
        measure::Means { zero_slip, mounting, known: options.mounting.is_some(), noise, lag_s };
    let mut windows = Vec::new();
    let mut withheld_m = 0.0;
    let mut legs = 0;
    for (ride, trace) in &driven {
        let cut = cut::cut(ride, trace, options, &mut legs);
        withheld_m += cut.withheld_m;
        windows
            .extend(cut.spans.iter().filter_map(|span| measure::window(ride, trace, span, &means)));
    }
    if windows.is_empty() {
        return Err(SlipRefusal::TooSlow { least_speed_m_s: options.least_speed_m_s });
    }
    let totals = |keep: &dyn Fn(&Window) -> bool| {
        totals::total(windows.iter().filter(|w| keep(w)), &zero_slip)
    };
    let all = totals(&|_| true).ok_or(SlipRefusal::NoWheel)?;
    let totals = Totals {
        all,
        passes: totals(&|w| w.kind == LegKind::Pass),
        turns: totals(&|w| w.kind == LegKind::Turn),
        in_work: totals(&|w| w.in_work),
    };
    Ok(Slip {
        zero_slip,
        mounting: options.mounting,
        window_m: options.window_m,
        least_speed_m_s: options.least_speed_m_s,
        legs: totals::by_leg(&windows, &zero_slip),
        places: places::by_place(&windows, &zero_slip),
        share_above: totals::share_above(&windows, &options.thresholds),
        totals,
        windows,
        withheld_m,
        noise,
        lag_s,
    })
}

/// The sensors that turn with the ground and gave impulses.
fn sensors<'r>(ride: &'r Ride<'_>) -> Vec<&'r CountCurve> {
    [Channel::Wheel, Channel::Radar].iter().map(|c| &ride.curves[c.index()]).collect()
}
