//! Signed-off records, a row a record.

use super::Export;
use super::table::{Column, Head, Table, columns, instant_us};
use trundle_core::result::as_left;
use trundle_core::result::part_read::PartRead;
use trundle_core::result::part_v1::PartV1;
use trundle_core::result::record_v1::{RecordFault, RecordV1};
use trundle_core::result::work_v1::{ChannelV1, FigureV1, FlagV1, WorkV1};
use trundle_core::rig::Entry;

/// A record with its results read.
pub(super) struct Row<'a> {
    pub(super) record: &'a RecordV1,
    /// Of its course, where it holds one.
    pub(super) work: Option<WorkV1>,
    parts: Vec<PartRead>,
}

impl<'a> Row<'a> {
    pub(super) fn of(record: &'a RecordV1) -> Result<Self, RecordFault> {
        let parts = record.parts.iter().map(PartV1::read).collect::<Result<_, _>>()?;
        Ok(Self { record, work: record.worked()?, parts })
    }

    /// The sensor that was signed off.
    fn channel(&self) -> Option<&ChannelV1> {
        self.record.channel_of(self.work.as_ref()?)
    }

    fn figure(&self) -> Option<&FigureV1> {
        self.channel()?.best()
    }

    /// What the proof drive showed over the truth.
    fn shown_over_true(&self) -> Option<(f64, f64)> {
        self.part("proof", "shown_over_true")
    }

    /// One value of a part, and the half-width of its interval.
    fn part(&self, word: &str, key: &str) -> Option<(f64, f64)> {
        let read = self.record.parts.iter().zip(&self.parts);
        let (_, read) = read.into_iter().find(|(part, _)| part.method.word() == word)?;
        read.lines.iter().find(|line| line.key == key)?.value
    }

    fn shaft(&self) -> Option<(f64, f64)> {
        self.part("pto", "per_revolution")
    }

    fn antenna(&self, key: &str) -> Option<(f64, f64)> {
        self.part("mount", key)
    }

    fn tyres(&self, key: &str) -> Option<f64> {
        self.record.rig.tyres.as_ref()?.number(key)
    }

    /// A condition in words.
    fn said(&self, key: &str) -> Option<String> {
        self.record.conditions.text(key).map(str::to_owned)
    }

    /// A condition in numbers.
    fn measured(&self, key: &str) -> Option<f64> {
        self.record.conditions.number(key)
    }

    /// Codes of the warnings that touch the channel signed off, each once, in the order found.
    fn flags(&self) -> Vec<String> {
        let mine = |flag: &&FlagV1| flag.channel.is_none() || flag.channel == self.record.channel;
        let mut codes: Vec<String> = Vec::new();
        for flag in self.work.iter().flat_map(|work| &work.flags).filter(mine) {
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

/// The records, in the order given. Their places are words, so they have no tracks.
///
/// # Errors
/// [`RecordFault`] of the first record whose result cannot be read.
pub fn export(records: &[RecordV1]) -> Result<Export, RecordFault> {
    let rows: Vec<Row<'_>> = records.iter().map(Row::of).collect::<Result<_, _>>()?;
    Ok(Export { table: Table::of("records", &columns(), &rows), tracks: None })
}

/// What the columns are, in their order.
#[must_use]
pub fn heads() -> Vec<Head> {
    columns().iter().map(|column| column.head).collect()
}

fn columns<'a>() -> Vec<Column<Row<'a>>> {
    let columns = who_and_where().into_iter().chain(value_and_evidence());
    columns.chain(beside_the_course()).collect()
}

fn who_and_where<'a>() -> Vec<Column<Row<'a>>> {
    columns! { Row<'a>:
        /// Identity of the record.
        id: Text = |r| Some(r.record.id.clone());
        /// When it was signed off, UTC.
        issued_utc: Time = |r| instant_us(&r.record.issued_utc);
        /// Identity of the record that it replaces.
        amends: Text = |r| Some(r.record.amends.as_ref()?.id.clone());
        /// What was wrong with that one or has changed.
        amends_because: Text = |r| Some(r.record.amends.as_ref()?.reason.clone());
        /// Name of the rig.
        rig: Text = |r| Some(r.record.rig.rig.name.clone());
        /// Name of the tractor.
        tractor: Text = |r| name(r.record.rig.tractor.as_ref());
        /// Name of the set of tyres.
        tyres: Text = |r| name(r.record.rig.tyres.as_ref());
        /// Size of the tyres, as moulded on them.
        tyre_size: Text = |r| tyre_size(r.record);
        /// Inflation in the rig's data, kilopascal.
        tyre_inflation_kpa: Number = |r| r.tyres("inflation");
        /// Wear of the lugs, per cent.
        tyre_wear_percent: Number = |r| r.tyres("wear");
        /// Mass added to the axle, kilogram.
        tyre_ballast_kg: Number = |r| r.tyres("ballast");
        /// Name of the tape.
        tape: Text = |r| name(r.record.rig.tape.as_ref());
        /// Who measured.
        operator: Text = |r| name(r.record.rig.operator.as_ref());
        /// Whose it is.
        customer: Text = |r| name(r.record.rig.customer.as_ref());
        /// Where, in words.
        place: Text = |r| r.record.place.clone();
        /// The ground, in words.
        surface: Text = |r| r.said("surface");
        /// Inflation of all tyres as measured that day, kilopascal.
        inflation_kpa: Number = |r| r.measured("inflation_kpa");
        /// Inflation of the front tyres as measured that day, kilopascal.
        inflation_front_kpa: Number = |r| r.measured("inflation_front_kpa");
        /// Inflation of the rear tyres as measured that day, kilopascal.
        inflation_rear_kpa: Number = |r| r.measured("inflation_rear_kpa");
        /// Air, degrees Celsius.
        temperature_c: Number = |r| r.measured("temperature_c");
        /// Load, in words.
        load: Text = |r| r.said("load");
        /// Gear, in words.
        gear: Text = |r| r.said("gear");
        /// Four-wheel drive: on or off.
        four_wheel_drive: Text = |r| r.said("four_wheel_drive");
        /// Differential lock: on or off.
        differential_lock: Text = |r| r.said("differential_lock");
        /// The implement, as the customer calls it.
        implement: Text = |r| r.said("implement");
        /// The terminal, as the customer calls it.
        terminal: Text = |r| r.said("terminal");
    }
}

fn value_and_evidence<'a>() -> Vec<Column<Row<'a>>> {
    columns! { Row<'a>:
        /// The sensor signed off: wheel or radar.
        channel: Text = |r| r.record.channel.clone();
        /// Value found, impulses per 100 m.
        as_found_per_100m: Number = |r| r.record.as_found;
        /// Value to enter, impulses per 100 m.
        to_enter_per_100m: Whole = |r| r.record.to_enter;
        /// Value left, impulses per 100 m.
        as_left_per_100m: Number = |r| r.record.as_left;
        /// Value as measured, impulses per 100 m.
        value_per_100m: Number = |r| Some(r.figure()?.impulses_per_100m);
        /// Standard uncertainty of the value, impulses per 100 m.
        standard_uncertainty_per_100m: Number = |r| Some(r.figure()?.standard_uncertainty);
        /// Half-width of the interval of the value, impulses per 100 m.
        expanded_uncertainty_per_100m: Number = |r| Some(r.figure()?.expanded_uncertainty);
        /// Expanded over standard uncertainty, no unit.
        coverage_factor: Number = |r| Some(r.figure()?.coverage_factor);
        /// Of the interval, no unit.
        coverage_probability: Number = |r| Some(r.figure()?.coverage_probability);
        /// Effective, no unit; empty where unlimited or without a value.
        degrees_of_freedom: Number = |r| r.figure()?.degrees_of_freedom;
        /// valid or flagged.
        state: Text = |r| Some(r.record.state(r.work.as_ref()).to_owned());
        /// Warnings about the job and this sensor, stable words.
        flags: Words = |r| Some(r.flags());
        /// Why it was signed off although flagged.
        accepted_because: Text = |r| r.record.accepted_because.clone();
        /// Remark of the operator.
        remark: Text = |r| r.record.remark.clone();
        /// From the simulator: nothing was measured.
        practice: Truth = |r| Some(r.record.practice);
        /// How it was calculated.
        method: Text = |r| Some(r.record.method.as_ref()?.name.clone());
        /// Version of the method.
        method_version: Whole = |r| Some(i64::from(r.record.method.as_ref()?.version));
        /// Name of the capture.
        capture: Text = |r| Some(r.record.capture.as_ref()?.name.clone());
        /// SHA-256 of the capture, hexadecimal.
        capture_sha256: Text = |r| Some(r.record.capture.as_ref()?.sha256.clone());
        /// Length of the capture, bytes.
        capture_bytes: Whole = |r| i64::try_from(r.record.capture.as_ref()?.bytes).ok();
        /// When the capture began, UTC.
        capture_started_utc: Time = |r| instant_us(&r.record.capture.as_ref()?.started_utc);
        /// Version of the program that signed it off.
        software: Text = |r| Some(r.record.software.clone());
    }
}

fn beside_the_course<'a>() -> Vec<Column<Row<'a>>> {
    columns! { Row<'a>:
        /// What was measured beside the course: pto, mount, speeds, proof.
        parts: Words = |r| {
            let parts = r.record.parts.iter();
            Some(parts.map(|part| part.method.word().to_owned()).collect())
        };
        /// Impulses per revolution of the PTO shaft as measured.
        pto_impulses_per_revolution: Number = |r| Some(r.shaft()?.0);
        /// Half-width of the interval of that, impulses per revolution.
        pto_expanded_uncertainty_per_revolution: Number = |r| Some(r.shaft()?.1);
        /// Antenna to the right of the tractor's middle as measured, metres.
        antenna_right_m: Number = |r| Some(r.antenna("right")?.0);
        /// Half-width of the interval of that, metres.
        antenna_right_expanded_uncertainty_m: Number = |r| Some(r.antenna("right")?.1);
        /// Antenna ahead of the rear axle as measured, metres.
        antenna_ahead_m: Number = |r| Some(r.antenna("ahead")?.0);
        /// Half-width of the interval of that, metres.
        antenna_ahead_expanded_uncertainty_m: Number = |r| Some(r.antenna("ahead")?.1);
        /// Value left as the proof drive found it: took, took_but_off, did_not_take, cannot_tell,
        /// other_value.
        as_left_measured: Text = |r| as_left::measured(r.record).map(str::to_owned);
        /// Distance or speed shown in the proof drive over the true one, no unit.
        as_left_shown_over_true: Number = |r| Some(r.shown_over_true()?.0);
        /// Half-width of the interval of that, no unit.
        as_left_shown_over_true_expanded_uncertainty: Number = |r| Some(r.shown_over_true()?.1);
    }
}
