//! Slip, a row a window, of one or more captures.

use super::table::{Column, Get, Table, instant_us, millisecond_us};
use super::{Export, Track};
use trundle_core::survey::slip::{Slip, Window};

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
    window: &'a Window,
}

impl Row<'_> {
    /// The middle of the window; nothing where it has no way, never a place that is not real.
    fn middle(&self) -> Option<(f64, f64)> {
        (!self.window.line.is_empty()).then(|| self.window.middle())
    }
}

type C<'a> = Column<Row<'a>>;

/// The windows of all captures, in the order given.
#[must_use]
pub fn export(slips: &[(Origin, Slip)]) -> Export {
    let rows: Vec<Row<'_>> = slips
        .iter()
        .flat_map(|(of, slip)| slip.windows.iter().map(move |window| Row { of, window }))
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
            Time(|r| Some(millisecond_us(r.window.utc_ns))),
        ),
        C::new(
            "board_start_s",
            "Begin, seconds since the board started.",
            Number(|r| Some(r.window.board_s.0)),
        ),
        C::new(
            "board_finish_s",
            "End, seconds since the board started.",
            Number(|r| Some(r.window.board_s.1)),
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
            Number(|r| Some(r.window.length_m)),
        ),
    ]
}

fn what<'a>() -> Vec<C<'a>> {
    use Get::Number;
    vec![
        C::new("impulses", "Impulses of the wheel sensor.", Number(|r| Some(r.window.impulses))),
        C::new(
            "ground_speed_m_s",
            "Mean speed over ground, metres per second.",
            Number(|r| Some(r.window.ground_speed_m_s)),
        ),
        C::new(
            "slip",
            "1 - actual/theoretical travel, no unit: 0.1 is 10 %.",
            Number(|r| Some(r.window.slip)),
        ),
        C::new(
            "standard_uncertainty",
            "Standard uncertainty of the slip, no unit.",
            Number(|r| Some(r.window.standard_uncertainty)),
        ),
        C::new(
            "heading_deg",
            "Mean heading, degrees clockwise from north.",
            Number(|r| Some(r.window.heading_deg)),
        ),
        C::new(
            "turned_deg",
            "Change of heading, degrees, clockwise positive.",
            Number(|r| Some(r.window.turned_rad.to_degrees())),
        ),
    ]
}

fn how<'a>() -> Vec<C<'a>> {
    use Get::{Text, Truth, Whole, Words};
    vec![
        C::new("kind", "pass or turn.", Text(|r| Some(r.window.kind.word().to_owned()))),
        C::new(
            "leg",
            "Number of the pass or turn, from 1.",
            Whole(|r| Some(i64::from(r.window.leg))),
        ),
        C::new(
            "in_work",
            "The implement was in work over the whole section.",
            Truth(|r| Some(r.window.in_work)),
        ),
        C::new("flags", "Warnings, stable words.", Words(|r| flags(r.window))),
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

fn flags(window: &Window) -> Vec<String> {
    window.flags.iter().map(|flag| flag.word().to_owned()).collect()
}

fn track(row: &Row<'_>) -> Track {
    let window = row.window;
    Track {
        of: row.of.capture.clone(),
        leg: window.leg,
        kind: window.kind.word(),
        line: window.line.clone(),
        utc_ns: window.utc_ns,
        lasted_s: window.board_s.1 - window.board_s.0,
        words: format!(
            "slip {} %, standard uncertainty {:.2} %",
            trundle_core::units::decimals(100.0 * window.slip, 2),
            100.0 * window.standard_uncertainty
        ),
        facts: vec![
            ("slip", window.slip.to_string()),
            ("standard_uncertainty", window.standard_uncertainty.to_string()),
            ("length_m", window.length_m.to_string()),
            ("ground_speed_m_s", window.ground_speed_m_s.to_string()),
            ("in_work", window.in_work.to_string()),
            ("flags", flags(window).join(" ")),
        ],
    }
}
