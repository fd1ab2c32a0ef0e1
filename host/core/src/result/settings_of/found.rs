//! Where each number comes from: the newest record that holds it, else what was typed with the rig.

use super::super::part_read::PartRead;
use super::super::part_v1::{MountMethodV1, PartMethodV1, PartV1};
use super::super::record_v1::{CaptureV1, RecordV1};
use super::super::settings_v1::SourceV1;
use super::super::sign_off::left_in_terminal;
use super::super::work_v1::WeightV1;
use crate::figure::COVERAGE;
use crate::rig::Snapshot;
use crate::stats::budget::rounding::round_pair;
use crate::stats::budget::student::coverage_factor;
use crate::survey::mount::TAPED_U_M;
use crate::units::typed::Measure;
use chrono::{DateTime, Utc};

/// A number with where it comes from.
#[derive(Debug)]
pub(super) struct Given<'a> {
    pub source: SourceV1,
    /// The record that holds it; none of what was typed.
    pub record: Option<&'a RecordV1>,
    /// When its capture began, as far as that is known.
    pub began: DateTime<Utc>,
    /// The same as a day.
    pub day: Option<String>,
    /// The whole number to key in, for impulses.
    pub to_enter: Option<f64>,
    pub value: Option<f64>,
    /// Half-width of its interval.
    pub half: Option<f64>,
    pub assumed: bool,
    pub notes: Vec<String>,
}

/// The number with this key.
pub(super) fn given<'a>(
    key: &'static str,
    records: &[&'a RecordV1],
    rig: &Snapshot,
) -> Option<Given<'a>> {
    let of = |record: &&'a RecordV1| match key {
        "wheel" | "radar" => sensor(record, key),
        "pto" => pto(record),
        _ => mounted(record, key),
    };
    let newest = |given: &Given<'_>| {
        let (issued, id) = given.record.map_or(("", ""), |r| (&r.issued_utc, &r.id));
        (given.began, instant(issued), id.to_owned())
    };
    let typed = typed(key, rig);
    match records.iter().filter_map(of).max_by_key(newest) {
        Some(mut given) => {
            given.notes.extend(typed.and_then(|typed| otherwise(key, &given, &typed)));
            given.notes.extend(given.record.and_then(|record| record.clock.clone()));
            Some(given)
        }
        None => typed,
    }
}

/// An instant; what cannot be read is older than all.
pub(super) fn instant(rfc3339: &str) -> DateTime<Utc> {
    DateTime::parse_from_rfc3339(rfc3339).map_or(DateTime::<Utc>::MIN_UTC, |at| at.to_utc())
}

/// When a capture began, else when its record was signed off.
pub(super) fn began(record: &RecordV1, capture: &CaptureV1) -> DateTime<Utc> {
    let began = instant(&capture.started_utc);
    if began == DateTime::<Utc>::MIN_UTC { instant(&record.issued_utc) } else { began }
}

/// A number of a record, not filled in yet.
fn of_record<'a>(source: SourceV1, record: &'a RecordV1, capture: &CaptureV1) -> Given<'a> {
    let began = began(record, capture);
    Given {
        source,
        record: Some(record),
        began,
        day: Some(began.format("%Y-%m-%d").to_string()),
        to_enter: None,
        value: None,
        half: None,
        assumed: false,
        notes: Vec::new(),
    }
}

/// The value of a sensor: as it was signed off, or as it was calculated beside the other one.
fn sensor<'a>(record: &'a RecordV1, name: &str) -> Option<Given<'a>> {
    let (course, work) = (record.course()?, record.worked().ok()??);
    let channel = work.channels.get(name)?;
    let mut given = of_record(SourceV1::Measured, record, course.capture);
    let signed = course.channel == name;
    let to_enter = if signed { Some(course.to_enter) } else { channel.value_to_enter };
    given.to_enter = Some(to_enter? as f64);
    match channel.best() {
        Some(best) => {
            given.value = Some(best.impulses_per_100m);
            given.half = Some(best.expanded_uncertainty);
        }
        None => given.notes.push("The result gives no uncertainty.".to_owned()),
    }
    let mine = |of: &Option<String>| of.as_deref().is_none_or(|of| of == name);
    let against =
        work.flags.iter().find(|flag| flag.weight != WeightV1::Remark && mine(&flag.channel));
    given.notes.extend(against.map(|flag| format!("Flagged: {}.", flag.what)));
    if !signed {
        given.notes.push(format!(
            "Calculated beside the {} sensor, not signed off for this one.",
            course.channel
        ));
    } else if let Some(otherwise) = left_in_terminal(record, &work) {
        given.notes.push(otherwise);
    } else if let Some(left) = record.as_left {
        given.notes.push(format!("Typed as left in the terminal: {left}."));
    }
    Some(given)
}

fn read<'a>(record: &'a RecordV1, word: &str) -> Option<(&'a PartV1, PartRead)> {
    let part = record.part(word)?;
    Some((part, part.read().ok()?))
}

fn flag(part: &PartV1) -> Option<String> {
    part.flag.as_ref().map(|why| format!("Flagged: {why}."))
}

/// The value of a line of a part, with the half-width of its interval.
fn line(read: &PartRead, key: &str) -> Option<(f64, f64)> {
    read.lines.iter().find(|line| line.key == key)?.value
}

fn pto(record: &RecordV1) -> Option<Given<'_>> {
    let (part, read) = read(record, "pto")?;
    let (value, half) = line(&read, "per_revolution")?;
    let document: serde_json::Value = serde_json::from_str(part.result.get()).ok()?;
    let mut given = of_record(SourceV1::Measured, record, &part.capture);
    given.to_enter = document["to_enter"].as_f64();
    (given.value, given.half) = (Some(value), Some(half));
    given.notes.extend(flag(part));
    Some(given)
}

/// A distance of the antenna's part: driven where that found it, else as it was taped.
fn mounted<'a>(record: &'a RecordV1, key: &str) -> Option<Given<'a>> {
    let (part, read) = read(record, "mount")?;
    let PartMethodV1::Mount(how) = &part.method else { return None };
    let (driven, taped_m) = match key {
        "antenna_right" => (line(&read, "right"), how.taped_right_m),
        "antenna_ahead" => (line(&read, "ahead"), how.taped_ahead_m),
        "axle_to_hitch" => (None, how.axle_to_hitch_m),
        _ => (None, None),
    };
    let mut given = match driven {
        Some((value, half)) => Given {
            value: Some(value),
            half: Some(half),
            ..of_record(SourceV1::Measured, record, &part.capture)
        },
        None => Given {
            value: Some(taped_m?),
            half: Some(half_m(TAPED_U_M)),
            assumed: true,
            ..of_record(SourceV1::Taped, record, &part.capture)
        },
    };
    given.notes.extend(flag(part).filter(|_| concerns(key, how)));
    Some(given)
}

/// What is flagged of an antenna's part is flagged of what was driven, or taped beside it.
fn concerns(key: &str, how: &MountMethodV1) -> bool {
    key != "axle_to_hitch" || how.taped_right_m.or(how.taped_ahead_m).is_some()
}

/// Half-width of the interval of a normal standard uncertainty, metres.
fn half_m(standard_uncertainty_m: f64) -> f64 {
    coverage_factor(COVERAGE, f64::INFINITY) * standard_uncertainty_m
}

/// What was typed with the rig.
fn typed<'a>(key: &str, rig: &Snapshot) -> Option<Given<'a>> {
    let antenna = rig.antenna_uncertainty_m();
    let (field, uncertainty) = match key {
        "pto" => ("pto_impulses", None),
        "antenna_right" | "antenna_ahead" => (key, Some(antenna)),
        "antenna_height" | "axle_to_hitch" => (key, Some((TAPED_U_M, true))),
        _ => return None,
    };
    let value = rig.rig.number(field)?;
    Some(Given {
        source: SourceV1::Typed,
        record: None,
        began: DateTime::<Utc>::MIN_UTC,
        day: None,
        to_enter: uncertainty.is_none().then_some(value),
        value: Some(value),
        half: uncertainty.map(|(u_m, _)| half_m(u_m)),
        assumed: uncertainty.is_some_and(|(_, assumed)| assumed),
        notes: Vec::new(),
    })
}

/// What was typed with the rig is another number than the one of the record.
fn otherwise(key: &str, given: &Given<'_>, typed: &Given<'_>) -> Option<String> {
    let (said, value) = (typed.value?, given.to_enter.or(given.value)?);
    let apart = (said - value).abs();
    if key == "pto" {
        return (apart > 0.5).then(|| {
            format!(
                "The rig says that {said} is set in the terminal; once that is mended: `trundle \
                 rig edit NAME --pto-impulses {value}`."
            )
        });
    }
    let chance = given.half?.hypot(typed.half?);
    let option = key.replace('_', "-");
    let should = Measure::Offset.show(round_pair(given.value?, given.half?).value);
    let said = Measure::Offset.show(said);
    (apart > chance).then(|| {
        format!(
            "The rig says {said}, further off than the uncertainties explain. Next: `trundle rig \
             edit NAME --{option} \"{should}\"`."
        )
    })
}
