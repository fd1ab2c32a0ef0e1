//! Readings to impulses per revolution: the ratio, the line, the whole number, what is set.

use super::PtoOptions;
use super::reading::Reading;
use crate::figure::COVERAGE;
use crate::stats::budget::student::{chi_squared_survival, coverage_factor};
use crate::stats::budget::{Expanded, Quantity, Source, Sources, cover};
use crate::stats::fit::york::{self, Point};

/// Readings of this ratio of shaft speeds or more can distinguish an offset from a slope: 540 and
/// 750 rpm can, readings closer together would give an offset that is all uncertainty.
pub const SPREAD_MIN: f64 = 1.3;
/// Readings whose scatter has less than this chance contradict each other.
const CHANCE_MIN: f64 = 0.01;
/// Seconds in a minute.
const SECONDS: f64 = 60.0;

/// A whole number of impulses per revolution.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Whole {
    /// The only one inside the interval.
    Only(u32),
    /// Several fit: the lowest and the highest.
    Several(u32, u32),
    /// None fits; this one is nearest.
    Outside(u32),
}

/// What is set in the terminal, against what was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetNow {
    /// The set value is right.
    Equal,
    /// Twice what it should be.
    TwiceTooHigh,
    /// Half of what it should be.
    HalfTooLow,
    /// None of the known mistakes.
    Other,
}

/// Rate against shaft speed as a straight line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PtoLine {
    /// Impulses per revolution of the shaft.
    pub slope: f64,
    /// Half-width of its interval.
    pub slope_half_width: f64,
    /// Impulses per second at a standing shaft.
    pub offset_hz: f64,
    /// Half-width of its interval, impulses per second.
    pub offset_half_width_hz: f64,
    /// The offset is not zero.
    pub offset_differs: bool,
    /// Chi-squared over its degrees of freedom, where there are any.
    pub reduced_chi_squared: Option<f64>,
}

/// Why there is no line.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoLine {
    /// One shaft speed only.
    #[error("one shaft speed only: the ratio is given, an offset cannot be determined from it")]
    OneSpeed,
    /// The speeds lie too close together.
    #[error(
        "the shaft speeds differ by a factor of {factor:.2} only, {SPREAD_MIN} is needed: the \
         ratio is given, an offset cannot be determined from it"
    )]
    TooClose {
        /// Fastest over slowest shaft speed.
        factor: f64,
    },
}

/// Impulses per revolution of the shaft.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Impulses per revolution, rate over shaft speed, all readings weighed together.
    pub per_rev: f64,
    /// Its uncertainty, with the interval.
    pub expanded: Expanded,
    /// The line, or why there is none.
    pub line: Result<PtoLine, NoLine>,
    /// The readings do not agree with each other.
    pub contradict: bool,
    /// Whole number near it.
    pub whole: Whole,
    /// What is set now, where it was stated.
    pub set_now: Option<SetNow>,
}

impl Found {
    /// The number to enter, where there is one that nothing speaks against.
    #[must_use]
    pub const fn to_enter(&self) -> Option<u32> {
        match self.whole {
            Whole::Only(number) if !self.contradict && !self.offset_differs() => Some(number),
            _ => None,
        }
    }

    /// The line does not go through zero.
    #[must_use]
    pub const fn offset_differs(&self) -> bool {
        matches!(self.line, Ok(PtoLine { offset_differs: true, .. }))
    }
}

/// Readings of one shown speed. They share the display's rounding, so their mean is no better
/// than it.
struct Group {
    shaft: Quantity,
    rate: Quantity,
}

impl Group {
    fn ratio(&self) -> Quantity {
        &self.rate / &self.shaft
    }
}

/// Work the usable readings out; `None` when there are none.
pub(super) fn find(readings: &[Reading], options: &PtoOptions) -> Option<Found> {
    let mut sources = Sources::new();
    let groups = groups(readings, options, &mut sources);
    if groups.is_empty() {
        return None;
    }
    let ratios: Vec<Quantity> = groups.iter().map(Group::ratio).collect();
    let weights: Vec<f64> = ratios.iter().map(|r| r.standard_uncertainty().powi(-2)).collect();
    let total: f64 = weights.iter().sum();
    let parts: Vec<(&Quantity, f64)> =
        ratios.iter().zip(&weights).map(|(ratio, weight)| (ratio, weight / total)).collect();
    let mean = Quantity::weighted_sum(&parts);
    let expanded = cover(&mean, &sources, COVERAGE);
    let per_rev = mean.value();
    let chi_squared: f64 =
        ratios.iter().zip(&weights).map(|(r, w)| w * (r.value() - per_rev).powi(2)).sum();
    let freedom = (groups.len() - 1) as f64;
    let half_width = expanded.expanded_uncertainty;
    Some(Found {
        per_rev,
        line: line(&groups, &sources),
        contradict: freedom > 0.0 && chi_squared_survival(chi_squared, freedom) < CHANCE_MIN,
        whole: whole(per_rev, half_width),
        set_now: options.set_now.map(|set| against(set, per_rev, half_width)),
        expanded,
    })
}

fn groups(readings: &[Reading], options: &PtoOptions, sources: &mut Sources) -> Vec<Group> {
    let used = readings.iter().filter_map(|reading| Some((reading.shown_rpm, reading.rate.ok()?)));
    let mut rates: Vec<(f64, Vec<Quantity>)> = Vec::new();
    for (number, (shown_rpm, rate)) in used.enumerate() {
        let (key, name) = (format!("rate.{number}"), "steadiness of the shaft");
        let source = Source::type_a(&key, name, rate.u_hz, f64::from(rate.pieces - 1));
        let rate = sources.quantity(rate.rate_hz, source);
        match rates.iter_mut().find(|(rpm, _)| (rpm - shown_rpm).abs() < f64::EPSILON) {
            Some((_, together)) => together.push(rate),
            None => rates.push((shown_rpm, vec![rate])),
        }
    }
    let mut group = |(shown_rpm, rates): (f64, Vec<Quantity>)| {
        let half = options.display_step_rpm / 2.0 / SECONDS;
        let source = Source::rectangular(&format!("display.{shown_rpm}"), "display's step", half);
        let share = (rates.len() as f64).recip();
        let parts: Vec<(&Quantity, f64)> = rates.iter().map(|rate| (rate, share)).collect();
        Group {
            shaft: sources.quantity(shown_rpm / SECONDS, source),
            rate: Quantity::weighted_sum(&parts),
        }
    };
    let mut groups: Vec<Group> = rates.into_iter().map(&mut group).collect();
    groups.sort_by(|a, b| a.shaft.value().total_cmp(&b.shaft.value()));
    groups
}

fn line(groups: &[Group], sources: &Sources) -> Result<PtoLine, NoLine> {
    let [slow, .., fast] = groups else { return Err(NoLine::OneSpeed) };
    let factor = fast.shaft.value() / slow.shaft.value();
    if factor < SPREAD_MIN {
        return Err(NoLine::TooClose { factor });
    }
    let u = Quantity::standard_uncertainty;
    let point = |g: &Group| Point::new(g.shaft.value(), g.rate.value(), u(&g.shaft), u(&g.rate));
    let points: Vec<Point> = groups.iter().map(point).collect();
    let mut line = if let Ok(fit) = york::fit(&points) {
        let k = coverage_factor(COVERAGE, f64::INFINITY);
        PtoLine {
            slope: fit.slope,
            slope_half_width: k * fit.u_slope,
            offset_hz: fit.intercept,
            offset_half_width_hz: k * fit.u_intercept,
            offset_differs: false,
            reduced_chi_squared: Some(fit.reduced_chi_squared()),
        }
    } else {
        let slope = &(&fast.rate - &slow.rate) / &(&fast.shaft - &slow.shaft);
        let offset = &slow.rate - &(&slope * &slow.shaft);
        let half = |quantity: &Quantity| cover(quantity, sources, COVERAGE).expanded_uncertainty;
        PtoLine {
            slope: slope.value(),
            slope_half_width: half(&slope),
            offset_hz: offset.value(),
            offset_half_width_hz: half(&offset),
            offset_differs: false,
            reduced_chi_squared: None,
        }
    };
    line.offset_differs = line.offset_hz.abs() > line.offset_half_width_hz;
    Ok(line)
}

fn whole(per_rev: f64, half_width: f64) -> Whole {
    // A shaft that gives impulses gives at least one a revolution.
    let lowest = (per_rev - half_width).ceil().max(1.0);
    let highest = (per_rev + half_width).floor();
    if highest < lowest {
        Whole::Outside(per_rev.round().max(1.0) as u32)
    } else if highest > lowest {
        Whole::Several(lowest as u32, highest as u32)
    } else {
        Whole::Only(lowest as u32)
    }
}

fn against(set: f64, per_rev: f64, half_width: f64) -> SetNow {
    let fits = |value: f64| (value - per_rev).abs() <= half_width;
    if fits(set) {
        SetNow::Equal
    } else if fits(set / 2.0) {
        SetNow::TwiceTooHigh
    } else if fits(set * 2.0) {
        SetNow::HalfTooLow
    } else {
        SetNow::Other
    }
}
