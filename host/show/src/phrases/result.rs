//! Phrases of a result: one wording for terminal, page and paper.
//!
//! Nothing in a stored result is trusted: text goes through `line` here or where it is shown.

use super::plain::{line, significant};
use trundle_core::result::work_v1::{ChannelV1, FigureV1, FlagV1, PassV1, SeenV1, WorkV1};
use trundle_core::stats::budget::rounding::round_pair;

/// Coverage factor of the interval of a single pass by satellite.
pub const PASS_K: f64 = 2.0;
/// Digits of the day in an RFC 3339 instant.
const DAY_DIGITS: usize = 10;

/// Sensors that are shown, each with its name.
pub type Sensors<'a> = [(&'a str, &'a ChannelV1)];

/// Degrees of freedom for people: whole numbers, and a word for very many.
pub fn degrees(value: f64) -> String {
    if value < 1000.0 { format!("{value:.0}") } else { "very many".to_owned() }
}

/// The same of a document, where none is unlimited.
pub fn freedom(value: Option<f64>) -> String {
    degrees(value.unwrap_or(f64::INFINITY))
}

/// The largest line of the budget.
pub fn largest_uncertainty(figure: &FigureV1) -> String {
    figure.budget.first().map_or_else(|| "none known".to_owned(), |one| line(&one.source))
}

/// Value and expanded uncertainty, rounded together.
pub fn rounded(figure: &FigureV1) -> (String, String) {
    let rounded = round_pair(figure.impulses_per_100m, figure.expanded_uncertainty);
    let places = usize::try_from(rounded.decimals.clamp(0, 9)).unwrap_or(0);
    (format!("{:.places$}", rounded.value), format!("{:.places$}", rounded.uncertainty))
}

/// The same in one phrase.
pub fn pair(figure: &FigureV1) -> String {
    let (value, half) = rounded(figure);
    format!("{value}\u{a0}±\u{a0}{half}")
}

/// The expanded uncertainty in per cent of the value.
pub fn percent(figure: &FigureV1) -> f64 {
    100.0 * figure.expanded_uncertainty / figure.impulses_per_100m.abs()
}

/// The same in a phrase.
pub fn relative(figure: &FigureV1) -> String {
    format!("±{}\u{a0}%", significant(percent(figure), 2))
}

/// The probability that the interval covers.
pub fn coverage(figure: &FigureV1) -> String {
    format!("{:.0}\u{a0}%", 100.0 * figure.coverage_probability)
}

/// Whether the tape and satellite agree.
pub fn agreement(channel: &ChannelV1) -> String {
    let (Some(satellite), Some(agreement)) = (&channel.satellite, channel.agreement) else {
        let alone = match (&channel.tape, &channel.satellite) {
            (Some(_), _) => "By tape alone: nothing checks the taped length.",
            (_, Some(_)) => "By satellite alone: nothing checks the receiver.",
            _ => "There is no value by tape and none by satellite.",
        };
        return alone.to_owned();
    };
    // Against the satellite, as the warning has it when they contradict each other.
    let percent = |size: f64| significant(100.0 * (size / satellite.impulses_per_100m).abs(), 2);
    let apart = percent(agreement.difference);
    let chance = percent(agreement.expanded_uncertainty);
    if agreement.agrees {
        format!(
            "Tape and satellite agree: they differ by {apart}\u{a0}%; up to {chance}\u{a0}% is \
             expected."
        )
    } else if channel.combined.is_some() {
        format!(
            "Tape and satellite differ by more than expected: {apart}\u{a0}%; up to \
             {chance}\u{a0}% is expected. The uncertainty of the value is enlarged for it."
        )
    } else {
        format!(
            "Tape and satellite contradict each other: they differ by {apart}\u{a0}%; no more \
             than {chance}\u{a0}% is expected."
        )
    }
}

/// A warning in one sentence: where, what happened, what it means, what to do.
pub fn sentence(flag: &FlagV1) -> String {
    let pass = flag.pass.map(|pass| format!("pass {pass}: ")).unwrap_or_default();
    let channel = flag.channel.as_ref().map(|name| format!("{name}: ")).unwrap_or_default();
    line(&format!("{pass}{channel}{}; {}. Next: {}.", flag.what, flag.means, flag.next))
}

/// Whether a pass is in the value of a sensor, and if not, why.
pub fn reason(work: &WorkV1, sensor: &str, pass: &PassV1) -> String {
    if pass.used() {
        return "in the value".to_owned();
    }
    let said: Vec<String> =
        work.of_pass(pass.number, sensor).map(|flag| line(&flag.what)).collect();
    match (said.is_empty(), pass.impulses) {
        (false, _) => format!("rejected: {}", said.join("; ")),
        (true, None) => "rejected: nothing was counted".to_owned(),
        (true, Some(_)) => "rejected by the rules of the method".to_owned(),
    }
}

/// Number of a pass, and its way where it is known.
pub fn named(pass: &PassV1) -> String {
    let way = pass.direction.as_deref().map_or_else(String::new, |way| format!(" {}", line(way)));
    format!("{}{way}", pass.number)
}

/// Length of a pass by satellite, and its half-width, metres.
pub fn satellite_m(pass: &PassV1) -> Option<(f64, f64)> {
    Some((pass.satellite_m?, PASS_K * pass.satellite_standard_uncertainty_m?))
}

/// The day of an instant.
pub fn day(instant: &str) -> String {
    line(&instant.chars().take(DAY_DIGITS).collect::<String>())
}

/// An instant without its tenths: those say nothing to a reader.
pub fn instant(text: &str) -> String {
    line(&text.chars().take(19).collect::<String>().replace('T', " "))
}

/// The day of the passes, or from the first to the last.
pub fn days(passes: &[PassV1]) -> Option<String> {
    let instants = passes.iter().flat_map(|pass| [&pass.start_utc, &pass.finish_utc]);
    let mut days: Vec<String> = instants.flatten().map(|at| day(at)).collect();
    days.sort();
    let (first, last) = (days.first()?, days.last()?);
    Some(if first == last { first.clone() } else { format!("{first} to {last}") })
}

/// How the clocks were combined.
pub fn clocks(work: &WorkV1) -> Option<String> {
    let clock = work.clock.as_ref()?;
    Some(format!(
        "The clocks of board and receiver were matched by {}; the receiver's delay is \
         {:.0}\u{a0}ms, standard uncertainty {:.0}\u{a0}ms.",
        line(&clock.method),
        1000.0 * clock.receiver_lag_s,
        1000.0 * clock.receiver_lag_standard_uncertainty_s
    ))
}

/// Satellites, signal and dilution over the whole job.
pub fn sky(work: &WorkV1) -> Option<String> {
    let sky = work.sky.as_ref()?;
    let range = |seen: SeenV1, digits: usize| {
        let SeenV1 { mean, least, most } = seen;
        (format!("{mean:.digits$}"), format!("(from {least:.digits$} to {most:.digits$})"))
    };
    let parts = [
        sky.satellites_used.map(|seen| {
            let (mean, ends) = range(seen, 0);
            format!("{mean} used {ends}")
        }),
        sky.satellites_in_view.map(|seen| {
            let (mean, ends) = range(seen, 0);
            format!("{mean} in view {ends}")
        }),
        sky.signal_db_hz.map(|seen| {
            let (mean, ends) = range(seen, 0);
            format!("signal {mean}\u{a0}dB-Hz {ends}")
        }),
        sky.hdop.map(|seen| {
            let (mean, ends) = range(seen, 1);
            format!("horizontal dilution {mean} {ends}")
        }),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    Some(format!("Satellites, on average: {}.", parts.join(", ")))
}

/// Length of the course.
pub fn course(work: &WorkV1) -> Option<String> {
    let course = work.course?;
    Some(format!(
        "The course is {:.3}\u{a0}m from peg to peg along the ground, standard uncertainty \
         {:.1}\u{a0}mm.",
        course.length_m,
        1000.0 * course.standard_uncertainty_m
    ))
}

/// Text as a sentence: a full stop at its end.
pub fn stop(text: &str) -> String {
    let text = line(text);
    if text.ends_with('.') { text } else { format!("{text}.") }
}
