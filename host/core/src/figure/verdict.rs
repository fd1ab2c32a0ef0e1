//! Tape against satellite: do they agree, what is their joint word, and which one to suspect.

use super::channel::ChannelFigures;
use super::line::{COVERAGE, PassLine};
use super::pool::{LEAST_SHARE, MANY, Pooled};
use super::sources::whole_impulses;
use crate::course::tape::CourseSpec;
use crate::flags::{Code, Flag};
use crate::stats::budget::{Quantity, Source, Sources, cover, expand};
use crate::stats::fit::agreement::compare;
use std::collections::BTreeMap;

/// A value that is good only to this share is not given to enter, and a side that is good only to
/// this is no check of the other: an error worth finding is a few per cent.
pub(super) const USELESS: f64 = 0.01;
/// Normalised error above which tape and satellite are taken to contradict each other. Between 1
/// and this lies one honest job in twenty, so there the value is still given, with its uncertainty
/// widened; beyond it lies one in some hundred.
const CONTRADICTION: f64 = 1.5;

/// A value by two scatters: the one observed, with which it is given, and the one blended from
/// model and observation, by which it is judged.
pub(super) struct TwoScatters {
    pub observed: Quantity,
    pub blended: Quantity,
    /// Without the scatter of the passes: the uncertainty that all of them share.
    pub without_scatter: Quantity,
    /// Number of each pass and what its deviation puts into the value.
    pub parts: Vec<(u32, f64)>,
    /// Standard uncertainty by the scatter that was seen.
    pub scatter: f64,
    /// The same, blended with the model.
    pub judged: f64,
    /// The same by whole counts alone.
    pub counting: f64,
    pub pooled: Pooled,
}

/// Agreement, the combined value, and what to say when there is none.
pub(super) fn join(
    out: &mut ChannelFigures,
    tape: Option<&TwoScatters>,
    satellite: Option<&TwoScatters>,
    course: Option<&CourseSpec>,
) {
    let name = out.name;
    let (Some(tape), Some(satellite)) = (tape, satellite) else {
        out.blended = tape.or(satellite).map(|side| side.blended.clone());
        if out.tape.is_some() || out.satellite.is_some() {
            let side = if out.tape.is_some() { "satellite" } else { "tape" };
            let what = format!("there is no value by {side}");
            out.flags.push(Flag::job(Code::NotCrossChecked, what).on(name));
        }
        return;
    };
    let agreement = compare(&tape.blended, &satellite.blended, &out.sources, COVERAGE);
    out.agreement = Some(agreement);
    for (side, figure) in [("tape", &tape.blended), ("satellite", &satellite.blended)] {
        let half = expand(figure, &out.sources, COVERAGE).expanded_uncertainty / figure.value();
        if half > USELESS {
            let what = format!("the value by {side} has an uncertainty of ±{:.1} %", 100.0 * half);
            out.flags.push(Flag::job(Code::NotCrossChecked, what).on(name));
        }
    }
    let error = agreement.normalised_error;
    if error > CONTRADICTION {
        contradict(out, &tape.observed, &satellite.observed, error, course);
        return;
    }
    let shared = tape.blended.covariance(&satellite.blended);
    let spread_t = tape.blended.standard_uncertainty().powi(2) - shared;
    let spread_s = satellite.blended.standard_uncertainty().powi(2) - shared;
    let weight_t = (spread_s / (spread_t + spread_s)).clamp(0.0, 1.0);
    let sides = [(tape, spread_t, weight_t), (satellite, spread_s, 1.0 - weight_t)];
    let joined = |of: fn(&TwoScatters) -> &Quantity| {
        Quantity::weighted_sum(&[(of(tape), weight_t), (of(satellite), 1.0 - weight_t)])
    };
    let apart = if sides.iter().all(|(side, ..)| side.pooled.passes() == 2) {
        &joined(|side| &side.without_scatter) + &out.sources.quantity(0.0, scatter_of_two(sides))
    } else {
        joined(|side| &side.observed)
    };
    let sure = joined(|side| &side.without_scatter);
    let mut combined = together(sure, apart, sides, &mut out.sources);
    let text = "weights of tape and satellite from few passes";
    let weights = Source::normal("weights", text, u_of_weights(sides));
    let weights = out.sources.quantity(0.0, weights);
    combined = &combined + &weights;
    let mut blended = &joined(|side| &side.blended) + &weights;
    if error > 1.0 {
        // What the difference shows beyond what the uncertainties allow, shared out over both
        // sides.
        let unexplained = (agreement.difference / 2.0).abs() * (1.0 - 1.0 / (error * error)).sqrt();
        let text = "tape and satellite further apart than their uncertainties";
        let apart = Source::normal("apart", text, unexplained);
        let apart = out.sources.quantity(0.0, apart);
        (combined, blended) = (&combined + &apart, &blended + &apart);
        let what = format!("the normalised error of tape and satellite is {error:.2}");
        out.flags.push(Flag::job(Code::AgreePoorly, what).on(name));
    }
    out.combined = Some(combined);
    out.blended = Some(blended);
}

/// Scatter of the combined value of each pass: what the sensor itself scatters, slip and whole
/// counts, is in tape and satellite alike and does not average out between them.
///
/// With few passes it is as uncertain as its few degrees of freedom say, and can be small by luck
/// where one side's is not: there the wider of this and of both sides taken apart serves (2 to 4
/// passes, 20 000 draws a case: covers 90 to 96, against 80 to 94 for either alone).
fn together(
    sure: Quantity,
    apart: Quantity,
    sides: [(&TwoScatters, f64, f64); 2],
    sources: &mut Sources,
) -> Quantity {
    let least = sides.iter().map(|(side, ..)| side.pooled.passes()).min().unwrap_or(0);
    if least < 2 {
        return apart;
    }
    let mut of_passes: BTreeMap<u32, f64> = BTreeMap::new();
    let (mut counting, mut judged) = (0.0, 0.0_f64);
    for (side, _, weight) in sides {
        counting += weight * side.counting;
        judged = judged.hypot(weight * side.judged);
        for (number, part) in &side.parts {
            *of_passes.entry(*number).or_default() += weight * part;
        }
    }
    let mut scatter = of_passes.values().map(|part| part * part).sum::<f64>().sqrt();
    if least > 2 {
        scatter = scatter.max(LEAST_SHARE * judged);
    }
    let name = "scatter of the passes: stopping beside the pegs, slip, receiver noise, counting";
    let source = Source::type_a("passes", name, scatter, (least - 1) as f64);
    let whole = whole_impulses("passes", counting, scatter, sources);
    let as_one = &(&sure + &sources.quantity(0.0, source)) + &whole;
    let half = |q: &Quantity| cover(q, sources, COVERAGE).expanded_uncertainty;
    if least >= MANY || half(&as_one) >= half(&apart) { as_one } else { apart }
}

/// The scatter of two passes on both sides as one source.
///
/// The formula of Welch and Satterthwaite (JCGM 100, G.2b) takes the luck of two scatters for their
/// shares. With one degree of freedom a side it gives far too few: the interval covers 96 to 98
/// times in 100. Welch's later form, dof + 2 inside and 2 off the whole (Biometrika 34 (1947) 28,
/// from memory), gives too many: 91 to 96. Halfway, with 1, it covers 93.6 to 96.8 (shares of 0.03
/// to 1 beside a part that is sure, none to twice as large, 40 000 draws each). From three passes
/// on all three agree within half a per cent.
fn scatter_of_two(sides: [(&TwoScatters, f64, f64); 2]) -> Source {
    const HALFWAY: f64 = 1.0;
    let (mut sum, mut over_dof) = (0.0, 0.0);
    for (side, _, weight) in sides {
        let part = (weight * side.scatter).powi(2);
        sum += part;
        over_dof += part * part / (side.pooled.observed.degrees_of_freedom + HALFWAY);
    }
    let dof = if over_dof > 0.0 { sum * sum / over_dof - HALFWAY } else { 1.0 };
    let name = "scatter of the two passes: stopping beside the pegs, receiver noise, counting";
    Source::type_a("passes", name, sum.sqrt(), dof)
}

/// What it costs to learn the weights from the same passes: a side that scatters little by chance
/// gets too much weight, and claims too little uncertainty. Meier, "Variance of a weighted mean",
/// Biometrics 9 (1953) 59 (from memory): the variance grows by the share 4 sum W (1 - W)/dof. With
/// two passes the combined interval, of one degree of freedom a side, is wider than it need be
/// already, and nothing is added.
fn u_of_weights(sides: [(&TwoScatters, f64, f64); 2]) -> f64 {
    let spread: f64 = sides.iter().map(|(_, spread, weight)| weight * weight * spread).sum();
    let learned: f64 = sides
        .iter()
        .map(|(side, _, weight)| {
            let pooled = &side.pooled;
            let seen = (1.0 - 1.0 / pooled.observed.degrees_of_freedom).max(0.0);
            4.0 * weight * (1.0 - weight) * seen / pooled.blended.degrees_of_freedom
        })
        .sum();
    (learned * spread).max(0.0).sqrt()
}

/// No combined value: say how far apart the two are, and where to look first.
fn contradict(
    out: &mut ChannelFigures,
    tape: &Quantity,
    satellite: &Quantity,
    error: f64,
    course: Option<&CourseSpec>,
) {
    let name = out.name;
    // Impulses per 100 m by tape over those by satellite: true length over typed length.
    let ratio = tape.value() / satellite.value();
    let typed_m = course.map_or(0.0, |spec| spec.nominal_m);
    let by_satellite_m = typed_m * ratio;
    let percent = 100.0 * (ratio - 1.0).abs();
    let mistyped = percent > 5.0;
    let (code, hint) = if mistyped {
        (Code::CourseLengthSuspect, "the typed length is the likelier fault")
    } else {
        (Code::Disagree, suspect(tape, satellite, &out.passes))
    };
    let what = format!(
        "tape says {typed_m:.2} m, satellite {by_satellite_m:.2} m ({percent:.2} % apart, \
         normalised error {error:.1}): {hint}"
    );
    out.flags.push(Flag::job(code, what).on(name));
}

/// Which side to look at first: a side whose passes scatter more than its share is the suspect;
/// a fault of the tape is the same in every pass and scatters nothing.
fn suspect(tape: &Quantity, satellite: &Quantity, passes: &[PassLine]) -> &'static str {
    let u_difference = tape.standard_uncertainty().hypot(satellite.standard_uncertainty());
    let difference = tape.value() - satellite.value();
    let same_side = passes
        .iter()
        .filter_map(|p| Some(p.tape? - p.satellite?))
        .filter(|d| d.signum() == difference.signum())
        .count();
    if same_side == passes.len() && difference.abs() > 3.0 * u_difference {
        "every pass shows it alike, so the taped length or a peg is the likelier fault"
    } else {
        "the passes differ among themselves, so the receiver or the stopping is the likelier fault"
    }
}
