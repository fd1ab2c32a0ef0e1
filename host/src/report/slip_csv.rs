//! Slip for spreadsheets: RFC 4180, a row a window, names with units in the first row.

use crate::slip::{Slip, Window};
use crate::units::rfc3339;

/// The first row.
pub const HEADER: [&str; 16] = [
    "utc",
    "board_start_s",
    "board_finish_s",
    "latitude_deg",
    "longitude_deg",
    "length_m",
    "impulses",
    "ground_speed_m_s",
    "slip",
    "standard_uncertainty",
    "heading_deg",
    "turned_deg",
    "kind",
    "leg",
    "in_work",
    "flags",
];

/// The table. Slip and its standard uncertainty are fractions; the position is that of the middle.
#[must_use]
pub fn render(slip: &Slip) -> String {
    let mut writer =
        csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let mut put = |row: &[String]| {
        writer.write_record(row).expect("rows of one length, written to memory");
    };
    put(&HEADER.map(str::to_owned));
    for window in &slip.windows {
        put(&row(window));
    }
    let bytes = writer.into_inner().expect("memory takes it all");
    String::from_utf8(bytes).expect("only text was written")
}

fn row(window: &Window) -> [String; HEADER.len()] {
    let (lat_deg, lon_deg) = window.middle();
    let flags: Vec<&str> = window.flags.iter().map(|flag| flag.word()).collect();
    [
        words(&rfc3339(window.utc_ns)),
        format!("{:.3}", window.board_s.0),
        format!("{:.3}", window.board_s.1),
        format!("{lat_deg:.8}"),
        format!("{lon_deg:.8}"),
        format!("{:.3}", window.length_m),
        format!("{:.2}", window.impulses),
        format!("{:.3}", window.ground_speed_m_s),
        format!("{:.6}", window.slip),
        format!("{:.6}", window.standard_uncertainty),
        format!("{:.1}", window.heading_deg),
        format!("{:.1}", window.turned_rad.to_degrees()),
        words(window.kind.word()),
        window.leg.to_string(),
        window.in_work.to_string(),
        words(&flags.join(" ")),
    ]
}

/// A cell of words. A spreadsheet takes some first characters for the start of a formula: an
/// apostrophe before them makes it text. Numbers are left alone, their minus too.
fn words(text: &str) -> String {
    let formula = text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']);
    if formula { format!("'{text}") } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_never_start_a_formula() {
        for text in ["=1+1", "+1", "-1", "@a", "\tx", "\rx"] {
            assert_eq!(words(text), format!("'{text}"));
        }
        assert_eq!(words("LINK_GAP"), "LINK_GAP");
    }
}
