//! What the implement bus shows against the satellites, for the terminal.

use super::lines::with_cautions;
use std::fmt::Write as _;
use trundle_core::cautions;
use trundle_core::session::bus::{BusKey, BusNow};
use trundle_core::survey::bus::{
    BusDelay, BusScale, BusStream, BusSurvey, DelayAgainst, KeyedIn, NoDelay,
};
use trundle_core::units::{KM_H_PER_M_S as KM_H, signed};
use trundle_core::wire::bus::message::{BusSpeed, SelectedSource};

/// Nothing was received: what happened, and what to do.
pub(crate) const NOTHING: [&str; 2] = [
    "NO RESULT: no speed was received from the bus.",
    "Check the plug of the adapter and that the ignition is on. A tractor without these messages \
     shows nothing here.",
];

/// The survey as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render(survey: Option<&BusSurvey>, keyed: &KeyedIn) -> String {
    let mut out = String::new();
    match survey {
        Some(survey) => surveyed(&mut out, survey, keyed),
        None => {
            let [what, next] = NOTHING;
            let _ = writeln!(out, "BUS: {what}\n{next}");
        }
    }
    out.push('\n');
    with_cautions(out, cautions::ALL)
}

/// What the bus shows at this moment, a line each; speeds older than `stale_ns` before `now_ns`
/// are left out.
#[must_use]
pub fn now(bus: &BusNow, now_ns: u64, stale_ns: u64) -> String {
    let live = |host_ns: u64| host_ns + stale_ns >= now_ns;
    let mut out = String::new();
    for (key, sample) in bus.speeds.iter().filter(|(_, sample)| live(sample.host_ns)) {
        let speed = sample.speed_mm_s.map_or_else(
            || "not available".to_owned(),
            |mm_s| format!("{:.2} km/h", f64::from(mm_s) * 1e-3 * KM_H),
        );
        let source = sample
            .source
            .map_or_else(String::new, |source| format!(", from the {}", source_name(source)));
        let _ = writeln!(out, "{}: {speed}{source}", name(*key));
    }
    for (sender, sample) in bus.shafts.iter().filter(|(_, sample)| live(sample.host_ns)) {
        if let Some(rpm) = sample.shaft_rpm {
            let _ = writeln!(out, "rear PTO of control unit {sender}: {rpm:.0} r/min");
        }
    }
    if out.is_empty() { "No speed is received from the bus.\n".to_owned() } else { out }
}

/// Name of a stream.
#[must_use]
pub fn name(key: BusKey) -> String {
    let kind = match key.kind {
        BusSpeed::Wheel => "wheel-based speed",
        BusSpeed::Ground => "ground-based speed",
        BusSpeed::Selected => "selected speed",
    };
    format!("{kind} of control unit {}", key.sender)
}

/// Name of the distance of a stream, at the start of a line.
#[must_use]
pub fn distance_name(key: BusKey) -> String {
    let kind = match key.kind {
        BusSpeed::Wheel => "Wheel-based distance",
        BusSpeed::Ground => "Ground-based distance",
        BusSpeed::Selected => "Selected distance",
    };
    format!("{kind} of control unit {}", key.sender)
}

fn source_name(source: SelectedSource) -> String {
    match source {
        SelectedSource::Wheel => "wheel-based speed".to_owned(),
        SelectedSource::Ground => "ground-based speed".to_owned(),
        SelectedSource::Navigation => "satellite receiver of the tractor".to_owned(),
        SelectedSource::Blended => "several speeds, blended".to_owned(),
        SelectedSource::Simulated => "simulation: it is no speed".to_owned(),
        SelectedSource::Reserved(number) => format!("source with the unknown number {number}"),
    }
}

fn surveyed(out: &mut String, survey: &BusSurvey, keyed: &KeyedIn) {
    let _ = writeln!(out, "BUS: {}", headline(survey));
    for stream in &survey.streams {
        out.push('\n');
        one(out, stream, keyed);
    }
    out.push('\n');
    match survey.receiver_delay_s {
        Some(own) => {
            let _ = writeln!(
                out,
                "Delays are against the movement itself; the receiver's own, {:.0} ± {:.0} ms, was \
                 measured with the counter board.",
                1e3 * own.value,
                2e3 * own.standard_uncertainty
            );
        }
        None => out.push_str(
            "Without a counter board delays are against the receiver's sentences, which are late \
             themselves, usually by 0.02 to 0.3 s.\n",
        ),
    }
    out.push_str("Assumed: no slip on the passes; the ratio of a wheel-based speed contains it.\n");
    if survey.cut {
        out.push_str("The capture is longer than can be kept: its end is not in this result.\n");
    }
}

/// Which speed implements are given.
pub(crate) fn handed_on(survey: &BusSurvey) -> String {
    headline(survey)
}

/// What was seen of one speed: its scale or why there is none, and both delays; with what to do.
pub(crate) fn seen(stream: &BusStream, keyed: &KeyedIn) -> (Result<String, String>, &'static str) {
    let (scale, next) = match &stream.scale {
        Ok(scale) => (Ok(scale_words(scale)), ""),
        Err(why) => (Err(format!("scale not known: {why}")), why.next()),
    };
    let value = keyed.right_value(stream).map_or_else(String::new, |value| {
        let half = 2.0 * value.standard_uncertainty;
        format!("; the value that fits: {:.0} ± {half:.0} impulses per 100 m", value.value)
    });
    (scale.map(|words| words + &value), next)
}

fn headline(survey: &BusSurvey) -> String {
    let selected = survey.streams.iter().find(|stream| stream.key.kind == BusSpeed::Selected);
    let Some(stream) = selected else {
        return "no control unit states which speed is handed on to implements".to_owned();
    };
    match &stream.sources[..] {
        [] => "the source of the speed that is handed on to implements is not stated".to_owned(),
        [(source, _)] => format!("implements are given the {}", source_name(*source)),
        [(first, _), (second, _), ..] => format!(
            "implements are given the {}, and at times the {}",
            source_name(*first),
            source_name(*second)
        ),
    }
}

fn one(out: &mut String, stream: &BusStream, keyed: &KeyedIn) {
    let _ = writeln!(out, "{}", name(stream.key));
    let lacks = stream.messages - stream.with_speed;
    let share = 100.0 * lacks as f64 / stream.messages as f64;
    let _ = write!(out, "  {} messages in {:.0} s", stream.messages, stream.seconds);
    if lacks > 0 {
        let _ = write!(out, ", {share:.1} % of them without a speed");
    }
    if stream.restarts > 0 {
        let _ = write!(out, "; the distance began anew {} times", stream.restarts);
    }
    out.push('\n');
    match &stream.scale {
        Ok(scale) => {
            let _ = writeln!(out, "  {}", scale_words(scale));
        }
        Err(why) => {
            let _ = writeln!(out, "  scale not known: {why}. {}", why.next());
        }
    }
    if let Some(value) = keyed.right_value(stream) {
        let _ = writeln!(
            out,
            "  the value that fits: {:.0} ± {:.0} impulses per 100 m",
            value.value,
            2.0 * value.standard_uncertainty
        );
    }
    let _ = writeln!(out, "  speed: {}", delay_words(&stream.speed_delay));
    let _ = writeln!(out, "  distance: {}", delay_words(&stream.distance_delay));
}

fn scale_words(scale: &BusScale) -> String {
    let off = 100.0 * (scale.ratio.value - 1.0);
    let half = 100.0 * scale.half_width;
    let basis = if scale.by_speed { "speed, added up," } else { "distance" };
    let verdict = if off.abs() <= half {
        "no error is seen"
    } else if off > 0.0 {
        "it shows too much"
    } else {
        "it shows too little"
    };
    format!(
        "{basis} shown over true: {} ± {half:.2} %, {verdict} ({} passes, {:.0} m)",
        signed(off, 2),
        scale.passes,
        scale.distance_m
    )
}

fn delay_words(delay: &Result<BusDelay, NoDelay>) -> String {
    match delay {
        Ok(delay) => {
            let after = match delay.against {
                DelayAgainst::Ground => "after the movement",
                DelayAgainst::Receiver => "after the receiver",
            };
            format!("{} ± {:.3} s {after}", signed(delay.seconds.value, 3), delay.half_width_s)
        }
        Err(why) => format!("delay not known: {why}. {}", why.next()),
    }
}
