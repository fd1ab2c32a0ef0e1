//! Has the value of one rig and sensor changed since it was measured last, or does it drift?
//!
//! Each point is held against the one before it and against the weighted mean of all before: the
//! difference, its normalised error (En; ISO 13528 and ISO/IEC 17043:2010, B.3), and so whether it
//! is significant at 95 %. What two points share, such as the error of the same tape, does not
//! differ between them and so cannot make a difference: it is not counted in the uncertainty of
//! one. Through all points goes a straight line in time (weighted least squares,
//! [`crate::stats::fit::line`]).

mod change;
mod refusal;
mod trend;
mod verdict;

pub use change::Change;
pub use refusal::{HistoryRefusal, NoTrend};
pub use trend::{DAYS_PER_YEAR, Trend};
pub use verdict::{Stability, causes, sentence};

use crate::stats::budget::source::SourceId;
use crate::stats::budget::{Quantity, Source, Sources};
use chrono::NaiveDate;

/// What a point shares with others.
#[derive(Clone, Debug, PartialEq)]
pub struct Shared {
    /// Names it; points with the same name share it wholly, those with different names not at all.
    pub key: String,
    /// The part of the standard uncertainty that it makes, impulses per 100 m.
    pub standard_uncertainty: f64,
}

/// One value that was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Identity of its record.
    pub record: String,
    /// Day of the measurement, UTC.
    pub day: NaiveDate,
    /// Impulses per 100 m.
    pub figure: f64,
    /// Standard uncertainty, impulses per 100 m, with what is shared.
    pub standard_uncertainty: f64,
    /// Its effective degrees of freedom; infinite when unlimited.
    pub degrees_of_freedom: f64,
    /// The part that is shared, where it is known.
    pub shared: Option<Shared>,
    /// Another record has taken the place of this one: shown, but not used.
    pub amended: bool,
}

/// One point with what it is held against.
#[derive(Clone, Debug, PartialEq)]
pub struct HistoryStep {
    /// The point it belongs to.
    pub point: Point,
    /// Against the point before.
    pub previous: Option<Change>,
    /// Against the weighted mean of all before; the same as `previous` for the second.
    pub mean: Option<Change>,
}

/// The history of one rig and sensor.
#[derive(Clone, Debug, PartialEq)]
pub struct History {
    /// In the order of time; amended ones stand among them without changes.
    pub steps: Vec<HistoryStep>,
    /// The line through all, or why there is none.
    pub trend: Result<Trend, NoTrend>,
    /// What it comes to.
    pub verdict: Stability,
}

impl History {
    /// The newest point that is used.
    #[must_use]
    pub fn newest(&self) -> Option<&HistoryStep> {
        self.steps.iter().rev().find(|step| !step.point.amended)
    }
}

/// A point as quantities: its value, and its value without what is shared.
struct Known<'a> {
    point: &'a Point,
    figure: Quantity,
    own: SourceId,
}

/// Work a history. The points may come in any order; those of one day keep theirs.
///
/// # Errors
/// [`HistoryRefusal`] with fewer than two points that are not amended, or one that is no value.
pub fn history(points: &[Point]) -> Result<History, HistoryRefusal> {
    let mut points = points.to_vec();
    points.sort_by_key(|point| point.day);
    let mut sources = Sources::new();
    let mut known: Vec<Known<'_>> = Vec::new();
    for point in points.iter().filter(|point| !point.amended) {
        known.push(quantity(point, known.len(), &mut sources)?);
    }
    match known.as_slice() {
        [] => return Err(HistoryRefusal::NoRecord),
        [only] => return Err(HistoryRefusal::OneRecord { day: only.point.day }),
        _ => {}
    }
    let mut used = 0..known.len();
    let step = |point: &Point| {
        let at = if point.amended { None } else { used.next() };
        let now = at.map(|at| (&known[..at], &known[at]));
        let previous =
            now.and_then(|(before, now)| Some(change::between(before.last()?, now, &sources)));
        let mean = now.and_then(|(before, now)| change::from_mean(before, now, &sources));
        HistoryStep { point: point.clone(), previous, mean }
    };
    let steps: Vec<HistoryStep> = points.iter().map(step).collect();
    let trend = trend::trend(&known, &mut sources);
    let mut history = History { steps, trend, verdict: Stability::Steady };
    history.verdict = verdict::verdict(&history);
    Ok(history)
}

fn quantity<'a>(
    point: &'a Point,
    number: usize,
    sources: &mut Sources,
) -> Result<Known<'a>, HistoryRefusal> {
    let u = point.standard_uncertainty;
    let shared = point.shared.as_ref();
    let u_shared = shared.map_or(0.0, |shared| shared.standard_uncertainty);
    let finite = point.figure.is_finite() && u.is_finite();
    let positive = point.figure > 0.0 && point.degrees_of_freedom > 0.0;
    if !(finite && positive && u > u_shared && u_shared >= 0.0) {
        return Err(HistoryRefusal::NoFigure { record: point.record.clone() });
    }
    let u_own = (u * u - u_shared * u_shared).sqrt();
    // What is shared is a type B uncertainty, without end of degrees of freedom: those of the whole
    // come from the rest alone, and Welch and Satterthwaite's formula gives them back (JCGM 100,
    // G.2b).
    let own_dof = (point.degrees_of_freedom * (u_own / u).powi(4)).max(1.0);
    let own = sources.add(Source::type_a(&format!("own.{number}"), "own", u_own, own_dof));
    let mut figure = Quantity::from_source(point.figure, own, sources);
    if let Some(shared) = shared {
        // One error in units of its own standard uncertainty, the same for all who share it.
        let error = Source::normal(&format!("shared.{}", shared.key), "shared", 1.0);
        figure = &figure + &sources.quantity(0.0, error).scaled(shared.standard_uncertainty);
    }
    Ok(Known { point, figure, own })
}
