//! Wheel, radar and satellite speed against each other for the terminal: the answer first.

use super::lines::with_cautions;
use crate::phrases::Warning;
use std::fmt::Write as _;
use trundle_core::cautions;
use trundle_core::stats::budget::rounding::round_pair;
use trundle_core::survey::speeds::{
    AngleHint, Interval, Least, NoLine, PAIRS, PairFit, STEADY_RUN_S, STRAIGHT_DEG_S, Sensor,
    Speeds, SpeedsRefusal,
};
use trundle_core::units::decimals;
use trundle_core::units::signed;

/// Kilometres per hour in a metre per second.
pub use trundle_core::units::KM_H_PER_M_S as KM_H;
/// Metres of the usual value.
const COURSE_M: f64 = 100.0;

/// The comparison as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render(speeds: &Result<Speeds, SpeedsRefusal>) -> String {
    let mut out = String::new();
    match speeds {
        Ok(speeds) => compared(&mut out, speeds),
        Err(refusal) => {
            let _ = writeln!(out, "SPEEDS: NO RESULT: {refusal}.");
            let _ = writeln!(out, "{} {}", refusal.means(), refusal.next());
        }
    }
    out.push('\n');
    with_cautions(out, cautions::ALL)
}

fn compared(out: &mut String, speeds: &Speeds) {
    let _ = writeln!(out, "{}", headline(speeds));
    for warning in warnings(speeds) {
        let _ = writeln!(out, "{warning}");
    }
    out.push('\n');
    pairs(out, speeds);
    out.push('\n');
    for (channel, name) in [(0, "wheel"), (1, "radar")] {
        let _ = writeln!(out, "{}", least(speeds, channel, name));
    }
    let _ = writeln!(out, "{}", standing(speeds));
    if let Some(hint) = &speeds.hint {
        let _ = writeln!(out, "{}", hint_words(hint));
    }
    bins(out, speeds);
    let _ = writeln!(
        out,
        "\nAssumed: {} steady runs of {STEADY_RUN_S} s were straight (turning less than \
         {STRAIGHT_DEG_S} degrees a second, which cannot be seen at very low speed), on ground \
         that was the same for all.",
        speeds.steady_runs.len()
    );
}

/// Do they agree, and by how much?
pub(crate) fn headline(speeds: &Speeds) -> String {
    let worst = [0, 1].into_iter().filter_map(|channel| speeds.worst(channel));
    let worst = worst.max_by(|a, b| a.residual.abs().total_cmp(&b.residual.abs()));
    let by = worst.map_or_else(String::new, |bin| {
        format!(
            " (largest deviation {} ± {:.1} % at {:.1} km/h)",
            signed(100.0 * bin.residual, 1),
            100.0 * bin.uncertainty,
            KM_H * bin.speed_m_s
        )
    });
    let missing: Vec<&str> = missing(speeds);
    if !missing.is_empty() {
        return format!(
            "SPEEDS: NOT ALL THREE, no usable speed from the {}{by}.",
            missing.join(", ")
        );
    }
    if !offsets(speeds).is_empty() {
        return format!("SPEEDS: THE THREE DO NOT AGREE, a line does not pass through zero{by}.");
    }
    if speeds.agree() {
        return format!("SPEEDS: THE THREE AGREE, each is a fixed multiple of the others{by}.");
    }
    format!("SPEEDS: RATIOS ONLY; whether they hold at other speeds is not tested{by}.")
}

fn missing(speeds: &Speeds) -> Vec<&'static str> {
    [(0, "wheel"), (1, "radar")]
        .into_iter()
        .filter(|(channel, _)| speeds.singles[*channel].is_none())
        .map(|(_, name)| name)
        .collect()
}

/// The pairs whose line misses zero.
fn offsets(speeds: &Speeds) -> Vec<(Sensor, Sensor)> {
    let differs = |fit: &PairFit| fit.line.is_ok_and(|line| line.offset_differs);
    let both = PAIRS.into_iter().zip(&speeds.pairs);
    both.filter(|(_, fit)| fit.as_ref().is_ok_and(differs)).map(|(pair, _)| pair).collect()
}

/// Something that can speak against the sensors.
#[derive(Clone, Copy, Debug)]
pub struct Known {
    /// The word in files.
    pub code: &'static str,
    /// What it is.
    pub about: &'static str,
    /// What it means for the comparison.
    pub means: &'static str,
    /// What to do next.
    pub next: &'static str,
}

const OFFSET_NOT_ZERO: Known = Known {
    code: "OFFSET_NOT_ZERO",
    about: "One speed is not zero where another one is.",
    means: "Its value per 100 m holds at one speed only.",
    next: "find the pair that agrees: the sensor that is not in it is the wrong one; check its \
           mounting, cable and earth.",
};
const NO_SPEED: Known = Known {
    code: "NO_SPEED",
    about: "A sensor gave too few impulses to compare.",
    means: "The other two are compared without it.",
    next: "check its plug; if the tractor has no such sensor, do nothing.",
};
const RANGE_TOO_SMALL: Known = Known {
    code: "RANGE_TOO_SMALL",
    about: "The speeds driven lie too close together for gain and offset.",
    means: "The mean ratios hold for the speeds driven, and for no other.",
    next: "drive slower and faster steady speeds, and log again.",
};
const NEVER_USABLE: Known = Known {
    code: "NEVER_USABLE",
    about: "A sensor is off by more than 5 % at every speed.",
    means: "It jumps, or impulses are missing.",
    next: "check the sensor, its gap or its aim, and its cable.",
};
const TRAIL_CUT: Known = Known {
    code: "TRAIL_CUT",
    about: "The capture is too long.",
    means: "Its end is not in the comparison.",
    next: "log a shorter drive.",
};

/// All that can.
pub const KNOWN: [Known; 5] = [OFFSET_NOT_ZERO, NO_SPEED, RANGE_TOO_SMALL, NEVER_USABLE, TRAIL_CUT];

impl Known {
    const fn warning(self, what: String) -> Warning {
        Warning { code: self.code, what, means: self.means, next: self.next }
    }
}

/// Everything that speaks against the sensors.
#[must_use]
pub fn warnings(speeds: &Speeds) -> Vec<Warning> {
    let mut out = Vec::new();
    for (second, first) in offsets(speeds) {
        out.push(OFFSET_NOT_ZERO.warning(format!(
            "The {} speed is not zero where the {} speed is zero.",
            second.word(),
            first.word()
        )));
    }
    for name in missing(speeds) {
        out.push(NO_SPEED.warning(format!("The {name} gave too few impulses to compare.")));
    }
    let close = |fit: &Result<PairFit, NoLine>| match fit {
        Ok(fit) => fit.line.err(),
        Err(_) => None,
    };
    if let Some(why) = speeds.pairs.iter().find_map(close) {
        out.push(RANGE_TOO_SMALL.warning(format!("No result for gain and offset: {why}.")));
    }
    for (channel, name) in [(0, "wheel"), (1, "radar")] {
        if let Some(Least::Never) = speeds.singles[channel].as_ref().map(|single| single.least) {
            let what = format!("The {name} is off by more than 5 % at every speed.");
            out.push(NEVER_USABLE.warning(what));
        }
    }
    if speeds.cut {
        out.push(TRAIL_CUT.warning(TRAIL_CUT.about.to_owned()));
    }
    out
}

/// An interval as text.
pub(crate) fn shown(interval: Interval) -> String {
    round_pair(interval.value, interval.half_width).to_string()
}

fn pairs(out: &mut String, speeds: &Speeds) {
    for ((second, first), fit) in PAIRS.into_iter().zip(&speeds.pairs) {
        let name = format!("{} against {}", second.word(), first.word());
        match fit {
            Ok(fit) => pair(out, &name, first, fit),
            Err(why) => {
                let _ = writeln!(out, "{name}: {why}.");
            }
        }
    }
}

fn pair(out: &mut String, name: &str, first: Sensor, fit: &PairFit) {
    let unit = if first == Sensor::Satellite { " impulses per m" } else { "" };
    let mut per_course = String::new();
    if first == Sensor::Satellite {
        let gain = fit.gain();
        let scaled = Interval {
            value: COURSE_M * gain.value,
            standard_uncertainty: COURSE_M * gain.standard_uncertainty,
            half_width: COURSE_M * gain.half_width,
        };
        per_course = format!(" = {} per 100 m", shown(scaled));
    }
    let _ = writeln!(out, "{name}: {}{unit}{per_course} (95 %)", shown(fit.gain()));
    let _ = match &fit.line {
        Ok(line) => writeln!(
            out,
            "  line over {} steady runs, errors in both: gain {}, offset {} impulses/s, {}; \
             reduced chi-squared {:.2}{}",
            fit.steady_runs,
            shown(line.gain),
            shown(line.offset),
            if line.offset_differs { "NOT ZERO" } else { "not different from zero" },
            line.reduced_chi_squared,
            if line.own_share > 0.0 {
                format!(", so {:.2} % scatter of its own was added", 100.0 * line.own_share)
            } else {
                String::new()
            }
        ),
        Err(_) => writeln!(out, "  mean ratio over {} steady runs, no line", fit.steady_runs),
    };
}

/// From which speed on a sensor can be used, in words.
pub(crate) fn least(speeds: &Speeds, channel: usize, name: &str) -> String {
    let km_h = |speed_m_s: f64| format!("{:.2} km/h", KM_H * speed_m_s);
    match speeds.singles[channel].as_ref().map(|single| single.least) {
        None => format!("{name}: lowest usable speed not known"),
        Some(Least::Never) => format!("{name}: usable at no speed"),
        Some(Least::BelowSlowest { slowest_m_s }) => format!(
            "{name}: lowest usable speed is below the slowest speed driven that can be judged, {}",
            km_h(slowest_m_s)
        ),
        Some(Least::From { speed_m_s, fails_at_m_s }) => format!(
            "{name}: usable from {} on (within 5 %, none missing); it fails at {}",
            km_h(speed_m_s),
            km_h(fails_at_m_s)
        ),
    }
}

/// Counts at standstill, in words.
pub(crate) fn standing(speeds: &Speeds) -> String {
    let standing = speeds.standing;
    if standing.seconds <= 0.0 {
        return "at standstill: no standstill long enough to test".to_owned();
    }
    let [wheel, radar] = standing.impulses.map(|n| n / standing.seconds * 60.0);
    format!(
        "at standstill: wheel {wheel:.1}, radar {radar:.1} impulses per minute, over {:.0} s of \
         standing",
        standing.seconds
    )
}

/// The beam's angle, as a hint.
pub(crate) fn hint_words(hint: &AngleHint) -> String {
    let seen = match hint.steeper_deg {
        Some(steeper) => format!(
            "the beam would have to be {:.2} degrees {} than {} degrees to explain it alone",
            steeper.abs(),
            if steeper >= 0.0 { "steeper" } else { "flatter" },
            hint.angle_deg
        ),
        None => "no angle of the beam explains it".to_owned(),
    };
    format!(
        "HINT, no warning: the radar gives {} % against {} impulses per m; {seen} ({:.3} % per \
         degree there). Ground, beam width and electronics do the same.",
        signed(100.0 * hint.difference, 2),
        hint.nominal_per_m,
        100.0 * hint.share_per_degree
    )
}

fn bins(out: &mut String, speeds: &Speeds) {
    let _ = writeln!(
        out,
        "\n{:<10}{:>10}{:>12}{:>18}{:>10}",
        "Sensor", "km/h", "steady runs", "deviation %", "± %"
    );
    for (channel, name) in [(0, "wheel"), (1, "radar")] {
        for bin in speeds.singles[channel].iter().flat_map(|single| &single.bins) {
            let _ = writeln!(
                out,
                "  {name:<8}{:>10.2}{:>12}{:>18}{:>10.2}{}",
                KM_H * bin.speed_m_s,
                bin.steady_runs,
                decimals(100.0 * bin.residual, 2),
                100.0 * bin.uncertainty,
                match (bin.lacks, bin.judged()) {
                    (true, _) => "  impulses missing",
                    (false, false) => "  not judged",
                    (false, true) => "",
                }
            );
        }
    }
}
