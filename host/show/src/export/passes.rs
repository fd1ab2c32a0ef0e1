//! Signed-off records, a row a pass and sensor.

use super::Export;
use super::records::{Row as Signed, tyre_size};
use super::table::{Column, Get, Table, instant_us};
use trundle_core::result::record_v1::{RecordFault, RecordV1};
use trundle_core::result::work_v1::PassV1;

/// One row.
struct Row<'a> {
    record: &'a RecordV1,
    channel: &'a str,
    pass: &'a PassV1,
}

type C<'a> = Column<Row<'a>>;

/// The passes of all records, in the order given; of each record the sensors in the order of the
/// alphabet. Passes carry no coordinates, so they have no tracks.
///
/// # Errors
/// [`RecordFault`] of the first record whose result cannot be read.
pub fn export(records: &[RecordV1]) -> Result<Export, RecordFault> {
    let signed: Vec<Signed<'_>> = records.iter().map(Signed::of).collect::<Result<_, _>>()?;
    let mut rows: Vec<Row<'_>> = Vec::new();
    for Signed { record, work } in &signed {
        for (channel, read) in &work.channels {
            rows.extend(read.passes.iter().map(|pass| Row { record, channel, pass }));
        }
    }
    let columns = [which(), when(), what(), state()].into_iter().flatten().collect::<Vec<_>>();
    Ok(Export { table: Table::of("passes", &columns, &rows), tracks: None })
}

fn which<'a>() -> Vec<C<'a>> {
    use Get::{Text, Time, Truth, Whole};
    vec![
        C::new("record", "Identity of the record.", Text(|r| Some(r.record.id.clone()))),
        C::new(
            "issued_utc",
            "When it was signed off, UTC.",
            Time(|r| instant_us(&r.record.issued_utc)),
        ),
        C::new("rig", "Name of the rig.", Text(|r| Some(r.record.rig.rig.name.clone()))),
        C::new(
            "tyre_size",
            "Size of the tyres, as moulded on them.",
            Text(|r| tyre_size(r.record)),
        ),
        C::new("channel", "The sensor: wheel or radar.", Text(|r| Some(r.channel.to_owned()))),
        C::new(
            "signed_off",
            "It is the sensor that was signed off.",
            Truth(|r| Some(r.channel == r.record.channel)),
        ),
        C::new("number", "Number of the pass, from 1.", Whole(|r| Some(i64::from(r.pass.number)))),
        C::new("direction", "out or back.", Text(|r| r.pass.direction.clone())),
    ]
}

fn when<'a>() -> Vec<C<'a>> {
    use Get::{Number, Time, Truth};
    vec![
        C::new(
            "start_utc",
            "When it began, UTC.",
            Time(|r| instant_us(r.pass.start_utc.as_deref()?)),
        ),
        C::new(
            "finish_utc",
            "When it ended, UTC.",
            Time(|r| instant_us(r.pass.finish_utc.as_deref()?)),
        ),
        C::new("duration_s", "How long it took, seconds.", Number(|r| r.pass.duration_s)),
        C::new("standing", "Marked at standstill.", Truth(|r| r.pass.standing)),
    ]
}

fn what<'a>() -> Vec<C<'a>> {
    use Get::Number;
    vec![
        C::new("impulses", "Impulses between the marks.", Number(|r| r.pass.impulses)),
        C::new("tape_m", "Length by tape, metres.", Number(|r| r.pass.tape_m)),
        C::new("satellite_m", "Length by satellite, metres.", Number(|r| r.pass.satellite_m)),
        C::new(
            "satellite_standard_uncertainty_m",
            "Standard uncertainty of the length by satellite, metres.",
            Number(|r| r.pass.satellite_standard_uncertainty_m),
        ),
        C::new("by_tape_per_100m", "Impulses per 100 m by tape.", Number(|r| r.pass.by_tape())),
        C::new(
            "by_satellite_per_100m",
            "Impulses per 100 m by satellite.",
            Number(|r| r.pass.by_satellite()),
        ),
    ]
}

fn state<'a>() -> Vec<C<'a>> {
    use Get::{Text, Truth, Words};
    vec![
        C::new(
            "start_fix",
            "Quality of the fix at the start, in words.",
            Text(|r| Some(r.pass.fix_quality.as_ref()?[0].clone())),
        ),
        C::new(
            "finish_fix",
            "Quality of the fix at the end, in words.",
            Text(|r| Some(r.pass.fix_quality.as_ref()?[1].clone())),
        ),
        C::new("state", "valid, flagged or refused.", Text(|r| Some(r.pass.state.clone()))),
        C::new("flags", "Warnings, stable words.", Words(|r| r.pass.flags.clone())),
        C::new(
            "practice",
            "From the simulator: nothing was measured.",
            Truth(|r| Some(r.record.practice)),
        ),
    ]
}
