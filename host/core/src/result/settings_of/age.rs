//! What speaks against a sheet: other tyres, another rig in use, a newer record that cannot be
//! used, a value that did not take, a newer sheet.

use super::super::as_left;
use super::super::part_v1::PartMethodV1;
use super::super::record_v1::RecordV1;
use super::super::records_v1::DAMAGED;
use super::super::settings_v1::{RemarkV1, SettingsV1};
use super::super::sign_off::SAME_FIGURE;
use super::found::{Given, began, instant};
use super::{Ground, Kind, Listed, same_name};
use crate::rig::{Entry, Snapshot, Thing};
use chrono::{DateTime, Utc};

/// What of a set of tyres the wheel's value depends on.
const OF_TYRES: [&str; 6] =
    ["size", "inflation", "ballast", "wear", "circumference", "impulses_per_turn"];
/// The word of the part of a record that says whether a value took.
const PROOF: &str = "proof";

/// Is it of this rig, or may it be of any?
pub(super) fn is_of(one: &Listed, rig: &Snapshot) -> bool {
    one.row.state == DAMAGED || one.row.rig.to_lowercase() == rig.rig.name.to_lowercase()
}

/// Write down what speaks against the sheet.
pub(super) fn judge(
    sheet: &mut SettingsV1,
    ground: &Ground<'_>,
    mine: &[&Listed],
    usable: &[&RecordV1],
    given: &[(&Kind, Option<Given<'_>>)],
) {
    let (rig, active) = (ground.rig, ground.active);
    let printed = ground.printed.filter(|id| !id.trim().eq_ignore_ascii_case(&sheet.id));
    let mut against: Vec<RemarkV1> = printed.map(|_| newer_sheet(&sheet.id)).into_iter().collect();
    let (other, only_said) = other_rig(rig, active).map_or((None, None), |(remark, same)| {
        if same { (Some(remark), None) } else { (None, Some(remark)) }
    });
    against.extend(other);
    for (kind, given) in given {
        let Some(record) = given.as_ref().and_then(|given| given.record) else { continue };
        against.extend(other_tractor(record, rig));
        against.extend((kind.key == "wheel").then(|| other_tyres(record, rig)).flatten());
    }
    against.extend(mine.iter().filter_map(|one| damaged(one, sheet.practice, given)));
    let in_force = given.iter().find(|(kind, _)| sheet.source.as_deref() == Some(kind.key));
    if let Some(given) = in_force.and_then(|(_, given)| given.as_ref()) {
        match by_proof(given.began, given.to_enter, &proofs(usable)) {
            Some(Ok(note)) => {
                let key = sheet.source.clone();
                let setting = sheet.settings.iter_mut().find(|one| Some(&one.key) == key.as_ref());
                setting.into_iter().for_each(|setting| setting.notes.push(note.clone()));
            }
            Some(Err(remark)) => against.push(remark),
            None => {}
        }
    }
    let mut once: Vec<RemarkV1> = Vec::new();
    for remark in against {
        if !once.contains(&remark) {
            once.push(remark);
        }
    }
    sheet.out_of_date = once;
    sheet.remarks.extend(only_said);
    sheet.remarks.extend(mine.iter().filter_map(|one| withdrawn(one, mine)));
}

fn remark(code: &str, what: String, next: &str) -> RemarkV1 {
    RemarkV1 { code: code.to_owned(), what, next: next.to_owned() }
}

fn newer_sheet(id: &str) -> RemarkV1 {
    let what = format!("the sheet that was printed before is no longer the one of today, {id}");
    remark("newer_sheet", what, "Throw the old sheet away; key in what stands on this one.")
}

/// Another rig is in use, and whether it is the same tractor.
fn other_rig(rig: &Snapshot, active: Option<&Snapshot>) -> Option<(RemarkV1, bool)> {
    let active = active?;
    if active.rig.name.to_lowercase() == rig.rig.name.to_lowercase() {
        return None;
    }
    let name = &active.rig.name;
    if !same_name(active.tractor.as_ref(), rig.tractor.as_ref()) {
        let what = format!("another rig is in use, \"{name}\"");
        return Some((remark("not_active", what, "See that this is the tractor meant."), false));
    }
    let tyres = active.tyres.as_ref().map(|tyres| format!(" on tyres \"{}\"", tyres.name));
    let what = format!(
        "another rig of the same tractor is in use, \"{name}\"{}",
        tyres.unwrap_or_default()
    );
    let next = "On the tyres of this sheet again? `trundle rig use NAME`. Else use the sheet of \
                the rig in use: `trundle sheet`.";
    Some((remark("other_rig_active", what, next), true))
}

fn other_tractor(record: &RecordV1, rig: &Snapshot) -> Option<RemarkV1> {
    let (then, now) = (record.rig.tractor.as_ref()?, rig.tractor.as_ref()?);
    let other = !same_name(Some(then), Some(now)) && !renamed(Thing::Tractor, then, now);
    other.then(|| {
        let what = format!(
            "record {} was measured on the tractor \"{}\", the rig names \"{}\"",
            record.id, then.name, now.name
        );
        remark("other_tractor", what, "Measure again on this tractor, or name the right one.")
    })
}

/// Another name, and all else that is known of it the same.
fn renamed(thing: Thing, then: &Entry, now: &Entry) -> bool {
    let known = |entry: &Entry| {
        let fields = thing.fields().iter().filter(|field| field.key != "note");
        fields.filter_map(|field| entry.values.get(field.key).cloned()).collect::<Vec<_>>()
    };
    !known(then).is_empty() && known(then) == known(now)
}

fn other_tyres(record: &RecordV1, rig: &Snapshot) -> Option<RemarkV1> {
    let (then, now) = match (&record.rig.tyres, &rig.tyres) {
        (Some(then), Some(now)) => (then, now),
        (None, None) => return None,
        (then, _) => {
            let who =
                if then.is_none() { format!("record {}", record.id) } else { "the rig".into() };
            let what = format!("{who} does not say on which tyres: the wheel's value may not hold");
            let next = "Name the tyres: `trundle rig edit NAME --tyres NAME`; measure again if \
                        they were changed.";
            return Some(remark("tyres_unknown", what, next));
        }
    };
    let again = "Measure the wheel sensor again on these tyres, or make a rig of its own for them.";
    if !same_name(Some(then), Some(now)) {
        let what = format!(
            "the wheel's value was measured on tyres \"{}\" (record {}), the rig is on \"{}\"",
            then.name, record.id, now.name
        );
        return (!renamed(Thing::Tyres, then, now)).then(|| remark("other_tyres", what, again));
    }
    let changed = Thing::Tyres.fields().iter().filter(|field| OF_TYRES.contains(&field.key));
    let changed = changed.filter_map(|field| {
        let [was, is] = [then, now].map(|tyres| tyres.values.get(field.key));
        let shown = |value: Option<_>| value.map_or("not given".into(), |value| field.show(value));
        (was != is).then(|| format!("{} {}, now {}", field.label, shown(was), shown(is)))
    });
    let changed: Vec<String> = changed.collect();
    (!changed.is_empty()).then(|| {
        let what = format!(
            "the tyres are not as they were measured in record {}: {}",
            record.id,
            changed.join("; ")
        );
        remark("tyres_changed", what, again)
    })
}

/// A damaged record that may hold a newer number than the sheet.
fn damaged(one: &Listed, practice: bool, given: &[(&Kind, Option<Given<'_>>)]) -> Option<RemarkV1> {
    let (row, damage) = (&one.row, one.row.damage.as_ref()?);
    let any = row.state == DAMAGED;
    if row.amended_by.is_some() || (!any && row.practice != practice) {
        return None;
    }
    let issued = instant(&row.issued_utc);
    let newer = |keys: &[&str]| {
        let mut of = given.iter().filter(|(kind, _)| keys.contains(&kind.key));
        of.any(|(_, given)| {
            let record = given.as_ref().and_then(|given| given.record);
            record.is_none_or(|record| instant(&record.issued_utc) <= issued)
        })
    };
    let part = |word: &str| row.parts.iter().any(|part| part == word);
    let may: Vec<&str> = [
        (!row.channel.is_empty(), "the sensors", &["wheel", "radar"][..]),
        (part("pto"), "the PTO", &["pto"]),
        (
            part("mount"),
            "the antenna position",
            &["antenna_right", "antenna_ahead", "axle_to_hitch"],
        ),
    ]
    .into_iter()
    .filter(|(holds, _, keys)| *holds && newer(keys))
    .map(|(_, what, _)| what)
    .collect();
    (any || !may.is_empty()).then(|| {
        let of = if any { "any number of any rig".to_owned() } else { may.join(", ") };
        let what = format!("record {} is damaged ({damage}): it may hold newer of {of}", row.id);
        let next = "Look at it in the last backup: `trundle --data FOLDER restore FILE`.";
        remark("record_damaged", what, next)
    })
}

/// A record whose place another one took, and which is newer than all that took its place holds:
/// said, so that nobody looks for its numbers.
fn withdrawn(one: &Listed, mine: &[&Listed]) -> Option<RemarkV1> {
    let (row, by) = (&one.row, one.row.amended_by.as_ref()?);
    let newer = mine.iter().find(|other| other.row.id == *by);
    let gone: Vec<&str> = match newer {
        None => vec!["all of it"],
        Some(newer) => {
            let parts = row.parts.iter().filter(|part| !newer.row.parts.contains(part));
            let course =
                (!row.channel.is_empty() && newer.row.channel.is_empty()).then_some("course");
            course.into_iter().chain(parts.map(String::as_str)).collect()
        }
    };
    (!gone.is_empty()).then(|| {
        let what = format!("record {by} withdrew from record {}: {}", row.id, gone.join(", "));
        remark("withdrawn", what, "Nothing, unless it is to be measured again.")
    })
}

/// What a proof drive showed.
struct Proved<'a> {
    /// When it began.
    at: DateTime<Utc>,
    record: &'a str,
    /// In one word ([`as_left::measured`]).
    state: &'a str,
    /// The value that was keyed in.
    entered: Option<f64>,
}

/// The proof drives of these records.
fn proofs<'a>(usable: &[&'a RecordV1]) -> Vec<Proved<'a>> {
    let proof = |record: &&'a RecordV1| {
        let part = record.part(PROOF)?;
        let PartMethodV1::Proof(how) = &part.method else { return None };
        let entered = how.known().entered();
        let (at, state) = (began(record, &part.capture), as_left::measured(record)?);
        Some(Proved { at, record: &record.id, state, entered })
    };
    usable.iter().filter_map(proof).collect()
}

/// What the newest proof drive says of a number that was measured then or before: a note where it
/// took, what speaks against the sheet where it did not, or where another number was in force;
/// nothing where it cannot be told.
fn by_proof(
    measured: DateTime<Utc>,
    to_enter: Option<f64>,
    proofs: &[Proved<'_>],
) -> Option<Result<String, RemarkV1>> {
    let Proved { at, record, state, entered } = proofs.iter().max_by_key(|one| one.at)?;
    if *at < measured {
        return None;
    }
    let failed = |said: &str| {
        let what = format!("the proof drive in record {record} showed: {said}");
        let next = "Key the value in again and drive the proof again: `trundle proof`.";
        Some(Err(remark("proof_failed", what, next)))
    };
    let other = entered.zip(to_enter).filter(|(a, b)| (a - b).abs() >= SAME_FIGURE);
    match (*state, other) {
        ("did_not_take", _) => failed("the value did not take"),
        (as_left::OTHER_VALUE, _) => failed("another value was in force"),
        ("took" | "took_but_off", Some((entered, _))) => {
            failed(&format!("the value {entered} was in force, which is not the one here"))
        }
        ("took", None) => {
            let day = at.format("%Y-%m-%d");
            Some(Ok(format!("Seen to be in force on {day}, record {record}.")))
        }
        ("took_but_off", None) => failed("the value took, but what the terminal shows is wrong"),
        _ => None,
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_proof_counts_for_what_was_measured_before_it_and_the_newest_counts() {
        let at = |day: u32| instant(&format!("2026-05-{day:02}T08:00:00Z"));
        let proof = |day: u32, state| {
            let record = ["r0", "r1", "r2", "r3", "r4"][day as usize];
            Proved { at: at(day), record, state, entered: Some(12_712.0) }
        };
        let said = |measured, proofs: &[_]| by_proof(at(measured), Some(12_712.0), proofs);
        assert_eq!(said(1, &[]), None);
        assert_eq!(said(2, &[proof(1, "did_not_take")]), None, "older than the value");
        let failed = said(2, &[proof(1, "took"), proof(3, "did_not_take")]).unwrap().unwrap_err();
        assert!(failed.code == "proof_failed" && failed.what.contains("record r3"), "{failed:?}");
        assert!(said(2, &[proof(2, "took_but_off")]).unwrap().is_err(), "on the same visit");
        let took = said(2, &[proof(4, "took"), proof(3, "did_not_take")]).unwrap().unwrap();
        assert!(took.contains("2026-05-04") && took.contains("r4"), "{took}");
        assert_eq!(said(2, &[proof(3, "cannot_tell")]), None);
        let older = by_proof(at(2), Some(12_800.0), &[proof(3, "took")]).unwrap().unwrap_err();
        assert!(older.what.contains("12712"), "another number was in force: {older:?}");
        let other = said(2, &[proof(3, as_left::OTHER_VALUE)]).unwrap().unwrap_err();
        assert!(other.what.contains("another value"), "{other:?}");
    }
}
