//! Signed-off records, a row a pass and sensor.

use super::Export;
use super::records::{Row as Signed, tyre_size};
use super::table::{Column, Head, Table, columns, instant_us};
use trundle_core::result::record_v1::{RecordFault, RecordV1};
use trundle_core::result::work_v1::PassV1;

/// One row.
struct Row<'a> {
    record: &'a RecordV1,
    channel: &'a str,
    pass: &'a PassV1,
}

/// The passes of all records, in the order given; of each record the sensors in the order of the
/// alphabet. Passes carry no coordinates, so they have no tracks.
///
/// # Errors
/// [`RecordFault`] of the first record whose result cannot be read.
pub fn export(records: &[RecordV1]) -> Result<Export, RecordFault> {
    let signed: Vec<Signed<'_>> = records.iter().map(Signed::of).collect::<Result<_, _>>()?;
    let mut rows: Vec<Row<'_>> = Vec::new();
    for Signed { record, work, .. } in &signed {
        for (channel, read) in work.iter().flat_map(|work| &work.channels) {
            rows.extend(read.passes.iter().map(|pass| Row { record, channel, pass }));
        }
    }
    Ok(Export { table: Table::of("passes", &columns(), &rows), tracks: None })
}

/// What the columns are, in their order.
#[must_use]
pub fn heads() -> Vec<Head> {
    columns().iter().map(|column| column.head).collect()
}

fn columns<'a>() -> Vec<Column<Row<'a>>> {
    columns! { Row<'a>:
        /// Identity of the record.
        record: Text = |r| Some(r.record.id.clone());
        /// When it was signed off, UTC.
        issued_utc: Time = |r| instant_us(&r.record.issued_utc);
        /// Name of the rig.
        rig: Text = |r| Some(r.record.rig.rig.name.clone());
        /// Size of the tyres, as moulded on them.
        tyre_size: Text = |r| tyre_size(r.record);
        /// The sensor: wheel or radar.
        channel: Text = |r| Some(r.channel.to_owned());
        /// It is the sensor that was signed off.
        signed_off: Truth = |r| Some(Some(r.channel) == r.record.channel.as_deref());
        /// Number of the pass, from 1.
        number: Whole = |r| Some(i64::from(r.pass.number));
        /// out or back.
        direction: Text = |r| r.pass.direction.clone();
        /// When it began, UTC.
        start_utc: Time = |r| instant_us(r.pass.start_utc.as_deref()?);
        /// When it ended, UTC.
        finish_utc: Time = |r| instant_us(r.pass.finish_utc.as_deref()?);
        /// How long it took, seconds.
        duration_s: Number = |r| r.pass.duration_s;
        /// Marked at standstill.
        standing: Truth = |r| r.pass.standing;
        /// Impulses between the marks.
        impulses: Number = |r| r.pass.impulses;
        /// Length by tape, metres.
        tape_m: Number = |r| r.pass.tape_m;
        /// Length by satellite, metres.
        satellite_m: Number = |r| r.pass.satellite_m;
        /// Standard uncertainty of the length by satellite, metres.
        satellite_standard_uncertainty_m: Number = |r| r.pass.satellite_standard_uncertainty_m;
        /// Impulses per 100 m by tape.
        by_tape_per_100m: Number = |r| r.pass.by_tape();
        /// Impulses per 100 m by satellite.
        by_satellite_per_100m: Number = |r| r.pass.by_satellite();
        /// Quality of the fix at the start, in words.
        start_fix: Text = |r| Some(r.pass.fix_quality.as_ref()?[0].clone());
        /// Quality of the fix at the end, in words.
        finish_fix: Text = |r| Some(r.pass.fix_quality.as_ref()?[1].clone());
        /// valid, flagged or refused.
        state: Text = |r| Some(r.pass.state.clone());
        /// Warnings, stable words.
        flags: Words = |r| Some(r.pass.flags.clone());
        /// From the simulator: nothing was measured.
        practice: Truth = |r| Some(r.record.practice);
    }
}
