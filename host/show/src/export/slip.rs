//! Slip, a row a section, of one or more captures.

use super::table::{Column, Get, Table, instant_us, millisecond_us};
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
    #[must_use]
    pub fn started_us(&self) -> Option<i64> {
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

type C<'a> = Column<Row<'a>>;

/// The sections of all captures, in the order given.
#[must_use]
pub fn export(slips: &[(Origin, Slip)]) -> Export {
    let rows: Vec<Row<'_>> = slips
        .iter()
        .flat_map(|(of, slip)| slip.sections.iter().map(move |section| Row { of, section }))
        .collect();
    let tracks = rows.iter().map(track).collect();
    let columns = [when_and_where(), what(), how()].into_iter().flatten().collect::<Vec<_>>();
    Export { table: Table::of("slip", &columns, &rows), tracks: Some(tracks) }
}

fn when_and_where<'a>() -> Vec<C<'a>> {
    use Get::{Number, Time};
    vec![
        C::new(
            "utc",
            "Middle of the section, UTC.",
            Time(|r| Some(millisecond_us(r.section.utc_ns))),
        ),
        C::new(
            "board_start_s",
            "Begin, seconds since the board started.",
            Number(|r| Some(r.section.board_s.0)),
        ),
        C::new(
            "board_finish_s",
            "End, seconds since the board started.",
            Number(|r| Some(r.section.board_s.1)),
        ),
        C::new(
            "latitude_deg",
            "Middle of the section, degrees north, WGS 84.",
            Number(|r| Some(r.middle()?.0)),
        ),
        C::new(
            "longitude_deg",
            "Middle of the section, degrees east, WGS 84.",
            Number(|r| Some(r.middle()?.1)),
        ),
        C::new(
            "length_m",
            "Distance of the rear axle along the ground, metres.",
            Number(|r| Some(r.section.length_m)),
        ),
    ]
}

fn what<'a>() -> Vec<C<'a>> {
    use Get::Number;
    vec![
        C::new("impulses", "Impulses of the wheel sensor.", Number(|r| Some(r.section.impulses))),
        C::new(
            "ground_speed_m_s",
            "Mean speed over ground, metres per second.",
            Number(|r| Some(r.section.ground_speed_m_s)),
        ),
        C::new(
            "slip",
            "1 - actual/theoretical travel, no unit: 0.1 is 10 %.",
            Number(|r| Some(r.section.slip)),
        ),
        C::new(
            "standard_uncertainty",
            "Standard uncertainty of the slip, no unit.",
            Number(|r| Some(r.section.standard_uncertainty)),
        ),
        C::new(
            "heading_deg",
            "Mean heading, degrees clockwise from north.",
            Number(|r| Some(r.section.heading_deg)),
        ),
        C::new(
            "turned_deg",
            "Change of heading, degrees, clockwise positive.",
            Number(|r| Some(r.section.turned_rad.to_degrees())),
        ),
    ]
}

fn how<'a>() -> Vec<C<'a>> {
    use Get::{Text, Truth, Whole, Words};
    vec![
        C::new("kind", "pass or turn.", Text(|r| Some(r.section.kind.word().to_owned()))),
        C::new(
            "part",
            "Number of the pass or turn, from 1.",
            Whole(|r| Some(i64::from(r.section.part))),
        ),
        C::new(
            "in_work",
            "The implement was in work over the whole section.",
            Truth(|r| Some(r.section.in_work)),
        ),
        C::new("flags", "Warnings, stable words.", Words(|r| flags(r.section))),
        C::new("capture", "Name of the capture.", Text(|r| Some(r.of.capture.clone()))),
        C::new(
            "capture_sha256",
            "SHA-256 of the capture, hexadecimal.",
            Text(|r| Some(r.of.capture_sha256.clone())),
        ),
        C::new(
            "practice",
            "From the simulator: nothing was measured.",
            Truth(|r| Some(r.of.practice)),
        ),
    ]
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
