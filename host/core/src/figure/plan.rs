//! Before driving: how many passes of what length reach the uncertainty wanted.
//!
//! The budget of a job not yet driven is built of the same sources as that of a driven one
//! (`figure/channel.rs`): the tape is common to all passes, stopping, counting and receiver noise
//! differ from pass to pass and enter with n - 1 degrees of freedom. What a job would learn from
//! its own data (how the passes scatter, how the receiver wanders) is replaced by typical values,
//! all named here and in `figure/plan/model.rs`. The real scatter of few passes is a matter of
//! luck; what is stated is the half-width to expect, not a promise.

mod model;
mod remedy;

pub use model::{
    ReceiverKind, SPEED_M_S, STOP_HALF_WIDTH_M, TypicalReceiver, satellite_length_u_m, typical,
};
pub use remedy::Remedy;

use crate::course::tape::{CourseRefusal, CourseSpec};
use crate::stats::budget::BudgetLine;
use model::Forecast;

/// Numbers of passes that are tabled.
pub const PASSES: [u32; 6] = [2, 3, 4, 6, 8, 10];
/// Lengths that are tabled where none is given, metres.
pub const LENGTHS_M: [f64; 4] = [50.0, 100.0, 200.0, 400.0];
/// More passes than this nobody drives: a morning's work.
pub const MOST_PASSES: u32 = 30;
/// Half-width wanted where none is said, as a share.
pub const TARGET: f64 = 0.001;
/// Stands for endless driving: what is left then is common to all passes.
const ENDLESS: u32 = 100_000;
/// Longest tape in common use, metres; a longer course is laid in equal parts.
const TAPE_MOST_M: f64 = 100.0;

/// What is planned with.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanInputs {
    /// The tape and how it will be laid.
    pub course: CourseSpec,
    /// Lengths of course to look at, metres.
    pub lengths_m: Vec<f64>,
    /// The receiver, if there is one.
    pub receiver: Option<ReceiverKind>,
    /// How far from a peg the driver stops, metres, half-width.
    pub stop_half_width_m: f64,
    /// Expanded relative uncertainty wanted (95 %), as a share.
    pub target: f64,
}

impl PlanInputs {
    /// One course, or the usual lengths with the tape of `CourseSpec::new` where none is given;
    /// all else at its default.
    #[must_use]
    pub fn new(course: Option<CourseSpec>) -> Self {
        let lengths_m = course.as_ref().map_or(LENGTHS_M.to_vec(), |spec| vec![spec.nominal_m]);
        Self {
            course: course.unwrap_or_else(|| CourseSpec::new(100.0)),
            lengths_m,
            receiver: None,
            stop_half_width_m: STOP_HALF_WIDTH_M,
            target: TARGET,
        }
    }

    /// The course at one of the lengths: as given where it is that long, else laid again.
    fn course_of(&self, length_m: f64) -> CourseSpec {
        let same = (length_m - self.course.nominal_m).abs() < 1e-9;
        if same { self.course.clone() } else { stretched(&self.course, length_m) }
    }
}

/// The same tape over another length: level, on the ground, in as few equal layings as it takes.
fn stretched(spec: &CourseSpec, length_m: f64) -> CourseSpec {
    let mut spec = spec.clone();
    let layings = (length_m / spec.tape.tape_length_m.unwrap_or(TAPE_MOST_M)).ceil().max(1.0);
    spec.nominal_m = length_m;
    spec.height_difference_m = None;
    spec.tape.hanging_spans_m.clear();
    spec.sections_m.clear();
    if layings > 1.0 {
        spec.sections_m = vec![length_m / layings; layings as usize];
    }
    spec
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq)]
pub enum PlanFault {
    /// The course itself is refused.
    Course(CourseRefusal),
    /// A number cannot be what it is said to be.
    Number {
        /// Name of the rejected value.
        what: &'static str,
        /// As given, in the unit of the limits.
        value: f64,
        /// Least and most that is taken.
        limits: (f64, f64),
        /// Unit of all three values.
        unit: &'static str,
    },
}

impl PlanFault {
    /// What happened, as one sentence.
    #[must_use]
    pub fn what(&self) -> String {
        match self {
            Self::Course(refusal) => refusal.to_string(),
            Self::Number { what, value, limits: (low, high), unit } => {
                format!("The {what} is given as {value} {unit}; between {low} and {high} is taken.")
            }
        }
    }

    /// What it means for the result.
    #[must_use]
    pub fn meaning(&self) -> &'static str {
        "No plan can be made; nothing has been measured yet, so nothing is lost."
    }

    /// What to do next.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Course(refusal) => refusal.remedy(),
            Self::Number { .. } => "Check the number and its unit, and enter it again.",
        }
    }
}

/// Expanded relative uncertainties to expect (95 %), as shares.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expected {
    /// Number of the passes driven.
    pub passes: u32,
    /// Expected uncertainty by tape, relative.
    pub tape: f64,
    /// Expected uncertainty by satellite, relative.
    pub satellite: Option<f64>,
    /// Expected uncertainty of both, relative.
    pub combined: Option<f64>,
}

impl Expected {
    /// That of the value that would be entered.
    #[must_use]
    pub fn best(&self) -> f64 {
        self.combined.unwrap_or(self.tape)
    }
}

/// The largest line of the budget.
#[derive(Clone, Debug, PartialEq)]
pub struct Dominant {
    /// Key of the source.
    pub key: String,
    /// Name of the source.
    pub source: String,
    /// Its standard uncertainty in the value, as a share of the value.
    pub contribution: f64,
    /// Its part of the variance, 0 to 1.
    pub variance_share: f64,
}

/// What one length of course is good for.
#[derive(Clone, Debug, PartialEq)]
pub struct LengthPlan {
    /// Of the course, metres.
    pub length_m: f64,
    /// For each of [`PASSES`].
    pub rows: Vec<Expected>,
    /// Least number of passes, from two, that reaches the target; `None` when [`MOST_PASSES`] do
    /// not.
    pub needed: Option<u32>,
    /// What is left however many passes are driven.
    pub endless: f64,
    /// Passes for which the rest holds: those needed, else the most that are tabled.
    pub at: Expected,
    /// What most of the uncertainty comes from there.
    pub dominant: Dominant,
    /// What would make it smaller, the best first.
    pub remedies: Vec<Remedy>,
}

/// The plan of a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// What was asked for.
    pub inputs: PlanInputs,
    /// One for each length, in the order asked.
    pub lengths: Vec<LengthPlan>,
    /// What is assumed, in sentences.
    pub assumptions: Vec<String>,
}

/// Make a plan.
///
/// # Errors
/// [`PlanFault`] when the course is refused or a number cannot be right.
pub fn plan(inputs: &PlanInputs) -> Result<Plan, PlanFault> {
    check(inputs)?;
    let lengths = inputs.lengths_m.iter().map(|m| length_plan(inputs, *m));
    let lengths = lengths.collect::<Result<Vec<_>, _>>()?;
    Ok(Plan { inputs: inputs.clone(), assumptions: assumptions(inputs)?, lengths })
}

fn check(inputs: &PlanInputs) -> Result<(), PlanFault> {
    let stop = ("distance of the stops from the pegs", inputs.stop_half_width_m, (0.001, 1.0), "m");
    let target = ("uncertainty wanted", 100.0 * inputs.target, (0.001, 10.0), "%");
    for (what, value, limits, unit) in [stop, target] {
        if !(limits.0..=limits.1).contains(&value) {
            return Err(PlanFault::Number { what, value, limits, unit });
        }
    }
    Ok(())
}

fn length_plan(inputs: &PlanInputs, length_m: f64) -> Result<LengthPlan, PlanFault> {
    let spec = inputs.course_of(length_m);
    let forecast = |passes: u32| {
        Forecast::new(&spec, inputs.receiver, inputs.stop_half_width_m, passes)
            .map_err(PlanFault::Course)
    };
    let rows = PASSES.iter().map(|n| Ok(forecast(*n)?.expected()));
    let rows = rows.collect::<Result<Vec<_>, PlanFault>>()?;
    let endless = forecast(ENDLESS)?.best();
    let reaches = |passes: &u32| forecast(*passes).is_ok_and(|it| it.best() <= inputs.target);
    let within_reach = endless < inputs.target;
    let needed = (PASSES[0]..=MOST_PASSES).find(|passes| within_reach && reaches(passes));
    let chosen = forecast(needed.unwrap_or(PASSES[PASSES.len() - 1]))?;
    let at = chosen.expected();
    Ok(LengthPlan {
        length_m,
        rows,
        needed,
        endless,
        at,
        dominant: dominant(&chosen.budget(), chosen.figure()),
        remedies: remedy::remedies(inputs, &spec, &at),
    })
}

fn dominant(budget: &[BudgetLine], figure: f64) -> Dominant {
    let variance: f64 = budget.iter().map(|line| line.contribution.powi(2)).sum();
    let largest =
        budget.first().expect("a course by tape always carries its pegs, tape and passes");
    Dominant {
        key: largest.key.clone(),
        source: largest.source.clone(),
        contribution: largest.contribution.abs() / figure,
        variance_share: largest.contribution.powi(2) / variance,
    }
}

fn assumptions(inputs: &PlanInputs) -> Result<Vec<String>, PlanFault> {
    let mut out = Vec::new();
    for length_m in &inputs.lengths_m {
        let spec = inputs.course_of(*length_m);
        for words in model::tape_assumptions(&spec).map_err(PlanFault::Course)? {
            if !out.contains(&words) {
                out.push(words);
            }
        }
    }
    out.extend(model::assumptions(inputs.receiver, inputs.stop_half_width_m));
    Ok(out)
}
