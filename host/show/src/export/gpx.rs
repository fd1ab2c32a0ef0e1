//! A table for receivers and map programs: GPX 1.1, a track a pass or turn, a segment a row.
//!
//! The standard has no place for what a row tells. It stands at the first point of a segment: in
//! words, where any program shows it, and exactly in an extension, in a namespace of our own, where
//! the standard allows it and readers pass over it. (Segments may have extensions too, but not
//! every reader knows that.) The times of the points are laid evenly between the ends of their
//! segment. Same input, same bytes.

use super::track::Track;
use crate::xml::escaped;
use std::fmt::Write as _;
use trundle_core::units::rfc3339;

/// Our namespace; a name, not an address.
pub const NAMESPACE: &str = "urn:trundle:slip:1";
/// That of GPX 1.1; a name too.
const GPX_NAMESPACE: &str = "http://www.topografix.com/GPX/1/1";

/// The document, ending with a line end.
pub fn write(tracks: &[Track]) -> String {
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let _ = writeln!(
        out,
        "<gpx version=\"1.1\" creator=\"Trundle\" xmlns=\"{GPX_NAMESPACE}\" \
         xmlns:slip=\"{NAMESPACE}\">"
    );
    for part in tracks.chunk_by(|a, b| a.part == b.part && a.of == b.of) {
        track(part, &mut out);
    }
    out.push_str("</gpx>\n");
    out
}

fn track(part: &[Track], out: &mut String) {
    let Some(first) = part.first() else { return };
    // The order of these is the standard's.
    let _ = writeln!(
        out,
        "<trk><name>{}</name><src>{}</src><number>{}</number><type>{}</type>",
        escaped(&format!("{} {}", first.kind, first.part)),
        escaped(&first.of),
        first.part,
        escaped(first.kind)
    );
    for row in part {
        segment(row, out);
    }
    out.push_str("</trk>\n");
}

fn segment(row: &Track, out: &mut String) {
    out.push_str("<trkseg>\n");
    let lasted_ns = 1e9 * row.lasted_s;
    let last = row.line.len().saturating_sub(1).max(1) as f64;
    for (at, (lat, lon)) in row.line.iter().enumerate() {
        let utc_ns = row.utc_ns + ((at as f64 / last - 0.5) * lasted_ns).round() as i64;
        let _ = write!(
            out,
            "<trkpt lat=\"{lat:.8}\" lon=\"{lon:.8}\"><time>{}</time>",
            rfc3339(utc_ns)
        );
        if at == 0 {
            let _ = write!(out, "<desc>{}</desc>", escaped(&row.words));
            extension(row, out);
        }
        out.push_str("</trkpt>\n");
    }
    out.push_str("</trkseg>\n");
}

/// For programs.
fn extension(row: &Track, out: &mut String) {
    out.push_str("<extensions><slip:section");
    for (name, value) in &row.facts {
        let _ = write!(out, " {name}=\"{}\"", escaped(value));
    }
    out.push_str("/></extensions>");
}
