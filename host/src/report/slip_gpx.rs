//! Slip for receivers and map programs: GPX 1.1, a track a leg, a segment a window.
//!
//! The standard has no place for slip. It stands at the first point of a segment: in words, where
//! any program shows it, and exactly in an extension, in a namespace of our own, where the standard
//! allows it and readers pass over it: `slip` and `standard_uncertainty` are fractions. (Segments
//! may have extensions too, but not every reader knows that.) The times of the points are laid
//! evenly between the ends of their window. Same input, same bytes.

use super::xml::escaped;
use crate::slip::{Slip, Window};
use crate::units::rfc3339;
use std::fmt::Write as _;

/// Our namespace; a name, not an address.
pub const NAMESPACE: &str = "urn:trundle:slip:1";
/// That of GPX 1.1; a name too.
const GPX_NAMESPACE: &str = "http://www.topografix.com/GPX/1/1";

/// The document, ending with a line end.
#[must_use]
pub fn render(slip: &Slip) -> String {
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let _ = writeln!(
        out,
        "<gpx version=\"1.1\" creator=\"Trundle\" xmlns=\"{GPX_NAMESPACE}\" \
         xmlns:slip=\"{NAMESPACE}\">"
    );
    for leg in slip.windows.chunk_by(|a, b| a.leg == b.leg) {
        track(leg, &mut out);
    }
    out.push_str("</gpx>\n");
    out
}

fn track(leg: &[Window], out: &mut String) {
    let Some(first) = leg.first() else { return };
    let kind = first.kind.word();
    let _ = writeln!(
        out,
        "<trk><name>{}</name><number>{}</number><type>{}</type>",
        escaped(&format!("{kind} {}", first.leg)),
        first.leg,
        escaped(kind)
    );
    for window in leg {
        segment(window, out);
    }
    out.push_str("</trk>\n");
}

fn segment(window: &Window, out: &mut String) {
    out.push_str("<trkseg>\n");
    let lasted_ns = 1e9 * (window.board_s.1 - window.board_s.0);
    let last = window.line.len().saturating_sub(1).max(1) as f64;
    for (at, (lat, lon)) in window.line.iter().enumerate() {
        let utc_ns = window.utc_ns + ((at as f64 / last - 0.5) * lasted_ns).round() as i64;
        let _ = write!(
            out,
            "<trkpt lat=\"{lat:.8}\" lon=\"{lon:.8}\"><time>{}</time>",
            rfc3339(utc_ns)
        );
        if at == 0 {
            let _ = write!(out, "<desc>{}</desc>", escaped(&words(window)));
            extension(window, out);
        }
        out.push_str("</trkpt>\n");
    }
    out.push_str("</trkseg>\n");
}

/// For programs.
fn extension(window: &Window, out: &mut String) {
    let flags: Vec<&str> = window.flags.iter().map(|flag| flag.word()).collect();
    let _ = write!(
        out,
        "<extensions><slip:window slip=\"{:.6}\" standard_uncertainty=\"{:.6}\" \
         length_m=\"{:.3}\" ground_speed_m_s=\"{:.3}\" in_work=\"{}\" flags=\"{}\"/></extensions>",
        window.slip,
        window.standard_uncertainty,
        window.length_m,
        window.ground_speed_m_s,
        window.in_work,
        escaped(&flags.join(" "))
    );
}

/// For people.
fn words(window: &Window) -> String {
    let percent = |value: f64| 100.0 * value;
    format!(
        "slip {:.2} %, standard uncertainty {:.2} %",
        percent(window.slip),
        percent(window.standard_uncertainty)
    )
}
