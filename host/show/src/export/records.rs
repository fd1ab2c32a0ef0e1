//! Signed-off records, a row a record.

use super::Export;
use super::table::{Column, Get, Table, instant_us};
use trundle_core::result::record_v1::{RecordFault, RecordV1};
use trundle_core::result::work_v1::{ChannelV1, FigureV1, FlagV1, WorkV1};
use trundle_core::rig::Entry;

/// A record with its result read.
pub(super) struct Row<'a> {
    pub(super) record: &'a RecordV1,
    pub(super) work: WorkV1,
}

impl<'a> Row<'a> {
    pub(super) fn of(record: &'a RecordV1) -> Result<Self, RecordFault> {
        Ok(Self { record, work: record.worked()? })
    }

    /// The sensor that was signed off.
    fn channel(&self) -> Option<&ChannelV1> {
        self.work.channels.get(&self.record.channel)
    }

    fn figure(&self) -> Option<&FigureV1> {
        self.channel()?.best()
    }

    fn tyres(&self, key: &str) -> Option<f64> {
        self.record.rig.tyres.as_ref()?.number(key)
    }

    /// Codes of the warnings that touch the channel signed off, each once, in the order found.
    fn flags(&self) -> Vec<String> {
        let mine = |flag: &&FlagV1| {
            flag.channel.as_ref().is_none_or(|channel| *channel == self.record.channel)
        };
        let mut codes: Vec<String> = Vec::new();
        for flag in self.work.flags.iter().filter(mine) {
            if !codes.contains(&flag.code) {
                codes.push(flag.code.clone());
            }
        }
        codes
    }
}

/// Name of what the rig names.
pub(super) fn name(entry: Option<&Entry>) -> Option<String> {
    entry.map(|entry| entry.name.clone())
}

/// Size of the tyres, as written down.
pub(super) fn tyre_size(record: &RecordV1) -> Option<String> {
    record.rig.tyres.as_ref()?.text("size").map(str::to_owned)
}

type C<'a> = Column<Row<'a>>;

/// The records, in the order given. Their places are words, so they have no tracks.
///
/// # Errors
/// [`RecordFault`] of the first record whose result cannot be read.
pub fn export(records: &[RecordV1]) -> Result<Export, RecordFault> {
    let rows: Vec<Row<'_>> = records.iter().map(Row::of).collect::<Result<_, _>>()?;
    let columns = [which(), whose(), conditions(), figures(), state(), evidence()];
    let columns: Vec<C<'_>> = columns.into_iter().flatten().collect();
    Ok(Export { table: Table::of("records", &columns, &rows), tracks: None })
}

fn which<'a>() -> Vec<C<'a>> {
    use Get::{Text, Time};
    vec![
        C::new("id", "Identity of the record.", Text(|r| Some(r.record.id.clone()))),
        C::new(
            "issued_utc",
            "When it was signed off, UTC.",
            Time(|r| instant_us(&r.record.issued_utc)),
        ),
        C::new(
            "amends",
            "Identity of the record that it replaces.",
            Text(|r| Some(r.record.amends.as_ref()?.id.clone())),
        ),
        C::new(
            "amends_because",
            "What was wrong with that one or has changed.",
            Text(|r| Some(r.record.amends.as_ref()?.reason.clone())),
        ),
    ]
}

fn whose<'a>() -> Vec<C<'a>> {
    use Get::{Number, Text};
    vec![
        C::new("rig", "Name of the rig.", Text(|r| Some(r.record.rig.rig.name.clone()))),
        C::new("tractor", "Name of the tractor.", Text(|r| name(r.record.rig.tractor.as_ref()))),
        C::new("tyres", "Name of the set of tyres.", Text(|r| name(r.record.rig.tyres.as_ref()))),
        C::new(
            "tyre_size",
            "Size of the tyres, as moulded on them.",
            Text(|r| tyre_size(r.record)),
        ),
        C::new(
            "tyre_inflation_kpa",
            "Inflation in the rig's data, kilopascal.",
            Number(|r| r.tyres("inflation")),
        ),
        C::new("tyre_wear_percent", "Wear of the lugs, per cent.", Number(|r| r.tyres("wear"))),
        C::new(
            "tyre_ballast_kg",
            "Mass added to the axle, kilogram.",
            Number(|r| r.tyres("ballast")),
        ),
        C::new("tape", "Name of the tape.", Text(|r| name(r.record.rig.tape.as_ref()))),
        C::new("operator", "Who measured.", Text(|r| name(r.record.rig.operator.as_ref()))),
        C::new("customer", "Whose it is.", Text(|r| name(r.record.rig.customer.as_ref()))),
    ]
}

fn conditions<'a>() -> Vec<C<'a>> {
    use Get::{Number, Text};
    vec![
        C::new("place", "Where, in words.", Text(|r| r.record.place.clone())),
        C::new("surface", "The ground, in words.", Text(|r| r.record.conditions.surface.clone())),
        C::new(
            "inflation_kpa",
            "Inflation as measured that day, kilopascal.",
            Number(|r| r.record.conditions.inflation_kpa),
        ),
        C::new(
            "temperature_c",
            "Air, degrees Celsius.",
            Number(|r| r.record.conditions.temperature_c),
        ),
        C::new("load", "Load and implement, in words.", Text(|r| r.record.conditions.load.clone())),
    ]
}

fn figures<'a>() -> Vec<C<'a>> {
    use Get::{Number, Text, Whole};
    vec![
        C::new(
            "channel",
            "The sensor signed off: wheel or radar.",
            Text(|r| Some(r.record.channel.clone())),
        ),
        C::new(
            "as_found_per_100m",
            "Value found, impulses per 100 m.",
            Number(|r| r.record.as_found),
        ),
        C::new(
            "to_enter_per_100m",
            "Value to enter, impulses per 100 m.",
            Whole(|r| Some(r.record.to_enter)),
        ),
        C::new("as_left_per_100m", "Value left, impulses per 100 m.", Number(|r| r.record.as_left)),
        C::new(
            "value_per_100m",
            "Value as measured, impulses per 100 m.",
            Number(|r| Some(r.figure()?.impulses_per_100m)),
        ),
        C::new(
            "standard_uncertainty_per_100m",
            "Standard uncertainty of the value, impulses per 100 m.",
            Number(|r| Some(r.figure()?.standard_uncertainty)),
        ),
        C::new(
            "expanded_uncertainty_per_100m",
            "Half-width of the interval of the value, impulses per 100 m.",
            Number(|r| Some(r.figure()?.expanded_uncertainty)),
        ),
        C::new(
            "coverage_factor",
            "Expanded over standard uncertainty, no unit.",
            Number(|r| Some(r.figure()?.coverage_factor)),
        ),
        C::new(
            "coverage_probability",
            "Of the interval, no unit.",
            Number(|r| Some(r.figure()?.coverage_probability)),
        ),
        C::new(
            "degrees_of_freedom",
            "Effective, no unit; empty where unlimited or without a value.",
            Number(|r| r.figure()?.degrees_of_freedom),
        ),
    ]
}

fn state<'a>() -> Vec<C<'a>> {
    use Get::{Text, Truth, Words};
    vec![
        C::new("state", "valid or flagged.", Text(|r| Some(r.work.state.clone()))),
        C::new(
            "flags",
            "Warnings about the job and this sensor, stable words.",
            Words(|r| r.flags()),
        ),
        C::new(
            "accepted_because",
            "Why it was signed off although flagged.",
            Text(|r| r.record.accepted_because.clone()),
        ),
        C::new("remark", "Remark of the operator.", Text(|r| r.record.remark.clone())),
        C::new(
            "practice",
            "From the simulator: nothing was measured.",
            Truth(|r| Some(r.record.practice)),
        ),
    ]
}

fn evidence<'a>() -> Vec<C<'a>> {
    use Get::{Text, Time, Whole};
    vec![
        C::new("method", "How it was calculated.", Text(|r| Some(r.record.method.name.clone()))),
        C::new(
            "method_version",
            "Version of the method.",
            Whole(|r| Some(i64::from(r.record.method.version))),
        ),
        C::new("capture", "Name of the capture.", Text(|r| Some(r.record.capture.name.clone()))),
        C::new(
            "capture_sha256",
            "SHA-256 of the capture, hexadecimal.",
            Text(|r| Some(r.record.capture.sha256.clone())),
        ),
        C::new(
            "capture_bytes",
            "Length of the capture, bytes.",
            Whole(|r| i64::try_from(r.record.capture.bytes).ok()),
        ),
        C::new(
            "capture_started_utc",
            "When the capture began, UTC.",
            Time(|r| instant_us(&r.record.capture.started_utc)),
        ),
        C::new(
            "software",
            "Version of the program that signed it off.",
            Text(|r| Some(r.record.software.clone())),
        ),
    ]
}
