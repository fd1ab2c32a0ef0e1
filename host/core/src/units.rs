//! Lengths as people type them, and times as they are written down.

mod comma;
pub mod typed;
mod words;

pub use comma::with_point;
pub(crate) use words::words;

/// Kilometres per hour in one metre per second: exact.
pub const KM_H_PER_M_S: f64 = 3.6;
/// One foot, metres: exact since the international yard and pound agreement of 1959.
pub const FOOT_M: f64 = 0.3048;
/// Inches in a foot.
const INCHES_PER_FOOT: f64 = 12.0;

/// A number with so many decimals, as people read it: nothing is never "-0".
#[must_use]
pub fn decimals(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    if text.bytes().any(|byte| matches!(byte, b'1'..=b'9')) {
        text
    } else {
        text.trim_start_matches('-').to_owned()
    }
}

/// The same with its sign before it; nothing is "+0".
#[must_use]
pub fn signed(value: f64, places: usize) -> String {
    let text = decimals(value, places);
    if text.starts_with('-') { text } else { format!("+{text}") }
}

/// Why a typed length was not understood.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{typed:?} is not a length; write it like \"100 m\" or \"328 ft 1 in\"")]
pub struct LengthFault {
    /// The text that was typed.
    pub typed: String,
}

/// Read a length: `100`, `100 m`, `100.02m`, `328 ft`, `328 ft 1 in`, `328' 1"`. A number alone
/// is metres. Returns metres.
///
/// A comma is a decimal one as [`with_point`] reads it; one that may set off thousands is refused.
///
/// # Errors
/// [`LengthFault`] when it is none of these, or not a finite number above 0.
pub fn parse_length_m(typed: &str) -> Result<f64, LengthFault> {
    let fault = || LengthFault { typed: typed.to_owned() };
    let read = with_point(typed);
    let mut rest = read.trim();
    let (mut metres, mut inches, mut seen) = (0.0, None, 0);
    while !rest.is_empty() {
        let (value, unit, after) = quantity(rest).ok_or_else(fault)?;
        match unit {
            "" | "m" | "metre" | "metres" | "meter" | "meters" if seen == 0 => {
                metres = value;
                seen = 2;
            }
            "ft" | "foot" | "feet" | "'" | "′" if seen == 0 => {
                metres = value * FOOT_M;
                seen = 1;
            }
            "in" | "inch" | "inches" | "\"" | "″" if seen == 1 => {
                inches = Some(value);
                seen = 2;
            }
            _ => return Err(fault()),
        }
        rest = after;
    }
    if let Some(inches) = inches {
        // "328 ft 14 in" is a slip of the finger, not a length.
        if inches >= INCHES_PER_FOOT {
            return Err(fault());
        }
        metres += inches / INCHES_PER_FOOT * FOOT_M;
    }
    if seen > 0 && metres.is_finite() && metres > 0.0 { Ok(metres) } else { Err(fault()) }
}

/// The number and the unit at the front of `text`, and what follows.
fn quantity(text: &str) -> Option<(f64, &str, &str)> {
    let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len());
    let value = text[..end].parse().ok()?;
    let after = text[end..].trim_start();
    let end = after.find(|c: char| c.is_ascii_digit() || c.is_whitespace()).unwrap_or(after.len());
    Some((value, &after[..end], after[end..].trim_start()))
}

/// Bytes as lower-case hexadecimal digits.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Time as RFC 3339 with milliseconds, UTC. `utc_ns` is nanoseconds since 1970.
#[must_use]
pub fn rfc3339(utc_ns: i64) -> String {
    chrono::DateTime::from_timestamp_nanos(utc_ns)
        .to_rfc3339_opts(chrono::SecondsFormat::Millis, true)
}

/// Time of day, `14:03:27`, of the instant `later_s` seconds after `utc_ns` (nanoseconds since
/// 1970, UTC). A zone's offset is a part of `later_s`.
#[must_use]
pub fn clock_words(utc_ns: i64, later_s: f64) -> String {
    let shifted_ns = utc_ns.saturating_add((later_s * 1e9) as i64);
    chrono::DateTime::from_timestamp_nanos(shifted_ns).format("%H:%M:%S").to_string()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_minus_zero() {
        for (value, places, plain, with_sign) in [
            (-0.0, 0, "0", "+0"),
            (-0.04, 1, "0.0", "+0.0"),
            (-0.05, 2, "-0.05", "-0.05"),
            (12.5, 1, "12.5", "+12.5"),
            (-10.0, 0, "-10", "-10"),
        ] {
            assert_eq!(
                (decimals(value, places), signed(value, places)),
                (plain.into(), with_sign.into())
            );
        }
    }

    /// Foot and inch: international yard and pound agreement, 1959 (1 in = 25.4 mm exactly).
    #[test]
    fn lengths_are_read_as_typed() {
        for (typed, metres) in [
            ("100", 100.0),
            (" 100 m ", 100.0),
            ("100.02m", 100.02),
            ("328 ft", 99.9744),
            ("328 ft 1 in", 99.9998),
            ("328'1\"", 99.9998),
            ("1 ft 6.5 in", 0.4699),
        ] {
            let read = parse_length_m(typed).unwrap();
            assert!((read - metres).abs() < 1e-9, "{typed}: {read}");
        }
    }

    #[test]
    fn what_is_not_a_length_is_refused() {
        let typed =
            ["", "m", "1,005 m", "-5 m", "0", "100 km", "1 in", "328 ft 14 in", "3 m 4", "1.2.3"];
        for typed in typed {
            assert!(parse_length_m(typed).is_err(), "{typed}");
        }
        assert!(parse_length_m("9".repeat(400).as_str()).is_err());
    }
}
