//! Slip, a row a section, of one or more captures.

use super::table::{Column, Head, Table, columns, instant_us, millisecond_us};
use super::{Export, Track};
use trundle_core::survey::slip::{Section, Slip};

/// What a row says of the capture that it comes from. Nothing in it is trusted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Origin {
    /// Name of the file, without its folder.
    pub capture: String,
    /// SHA-256 of the file (FIPS 180-4), hexadecimal.
    pub capture_sha256: String,
    /// When it began, RFC 3339, UTC; empty when it does not tell.
    pub started_utc: String,
    /// It came from the simulator.
    pub practice: bool,
}

impl Origin {
    /// When the capture began, microseconds since 1970.
    pub(super) fn started_us(&self) -> Option<i64> {
        instant_us(&self.started_utc)
    }
}

/// One row.
struct Row<'a> {
    of: &'a Origin,
    section: &'a Section,
}

impl Row<'_> {
    /// The middle of the section; nothing where it has no way, never a place that is not real.
    fn middle(&self) -> Option<(f64, f64)> {
        (!self.section.line.is_empty()).then(|| self.section.middle())
    }
}

/// The sections of all captures, in the order given.
#[must_use]
pub fn export(slips: &[(Origin, Slip)]) -> Export {
    let rows: Vec<Row<'_>> = slips
        .iter()
        .flat_map(|(of, slip)| slip.sections.iter().map(move |section| Row { of, section }))
        .collect();
    let tracks = rows.iter().map(track).collect();
    Export { table: Table::of("slip", &columns(), &rows), tracks: Some(tracks) }
}

/// What the columns are, in their order.
#[must_use]
pub fn heads() -> Vec<Head> {
    columns().iter().map(|column| column.head).collect()
}

fn columns<'a>() -> Vec<Column<Row<'a>>> {
    columns! { Row<'a>:
        /// Middle of the section, UTC.
        utc: Time = |r| Some(millisecond_us(r.section.utc_ns));
        /// Begin, seconds since the board started.
        board_start_s: Number = |r| Some(r.section.board_s.0);
        /// End, seconds since the board started.
        board_finish_s: Number = |r| Some(r.section.board_s.1);
        /// Middle of the section, degrees north, WGS 84.
        latitude_deg: Number = |r| Some(r.middle()?.0);
        /// Middle of the section, degrees east, WGS 84.
        longitude_deg: Number = |r| Some(r.middle()?.1);
        /// Distance of the rear axle along the ground, metres.
        length_m: Number = |r| Some(r.section.length_m);
        /// Impulses of the wheel sensor.
        impulses: Number = |r| Some(r.section.impulses);
        /// Mean speed over ground, metres per second.
        ground_speed_m_s: Number = |r| Some(r.section.ground_speed_m_s);
        /// 1 - actual/theoretical travel, no unit: 0.1 is 10 %.
        slip: Number = |r| Some(r.section.slip);
        /// Standard uncertainty of the slip, no unit.
        standard_uncertainty: Number = |r| Some(r.section.standard_uncertainty);
        /// Mean heading, degrees clockwise from north.
        heading_deg: Number = |r| Some(r.section.heading_deg);
        /// Change of heading, degrees, clockwise positive.
        turned_deg: Number = |r| Some(r.section.turned_rad.to_degrees());
        /// pass or turn.
        kind: Text = |r| Some(r.section.kind.word().to_owned());
        /// Number of the pass or turn, from 1.
        part: Whole = |r| Some(i64::from(r.section.part));
        /// The implement was in work over the whole section.
        in_work: Truth = |r| Some(r.section.in_work);
        /// Warnings, stable words.
        flags: Words = |r| Some(flags(r.section));
        /// Name of the capture.
        capture: Text = |r| Some(r.of.capture.clone());
        /// SHA-256 of the capture, hexadecimal.
        capture_sha256: Text = |r| Some(r.of.capture_sha256.clone());
        /// From the simulator: nothing was measured.
        practice: Truth = |r| Some(r.of.practice);
    }
}

fn flags(section: &Section) -> Vec<String> {
    section.flags.iter().map(|flag| flag.word().to_owned()).collect()
}

fn track(row: &Row<'_>) -> Track {
    let section = row.section;
    Track {
        of: row.of.capture.clone(),
        part: section.part,
        kind: section.kind.word(),
        line: section.line.clone(),
        utc_ns: section.utc_ns,
        lasted_s: section.board_s.1 - section.board_s.0,
        words: format!(
            "slip {} %, standard uncertainty {:.2} %",
            trundle_core::units::decimals(100.0 * section.slip, 2),
            100.0 * section.standard_uncertainty
        ),
        facts: vec![
            ("slip", section.slip.to_string()),
            ("standard_uncertainty", section.standard_uncertainty.to_string()),
            ("length_m", section.length_m.to_string()),
            ("ground_speed_m_s", section.ground_speed_m_s.to_string()),
            ("in_work", section.in_work.to_string()),
            ("flags", flags(section).join(" ")),
        ],
    }
}
