//! Readings of a terminal as they are typed, and how a capture keeps them.

use super::Stated;
use crate::units::{FOOT_M, KM_H_PER_M_S, with_point};

/// A note that begins with this word is a reading.
const WORD: &str = "shown";
/// In place of a reading: the one before it does not count.
const OUT: &str = "out";
/// Metres of a mile, exact since 1959.
const MILE_M: f64 = 1_609.344;
/// Distances beyond this are slips of the finger, metres: no counter holds them.
const DISTANCE_MAX_M: f64 = 1e8;
/// Speeds outside this are slips of the finger, metres per second: a value a hundred times too
/// small shows 2000 km/h for 20.
const SPEEDS_M_S: std::ops::RangeInclusive<f64> = 0.01..=1_000.0;

/// What is read off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShownKind {
    /// The running distance.
    Distance,
    /// The speed.
    Speed,
}

impl ShownKind {
    const fn word(self) -> &'static str {
        match self {
            Self::Distance => "distance",
            Self::Speed => "speed",
        }
    }

    /// Metres, or metres per second, of a unit as it is typed; the first is meant where none is.
    fn factor(self, unit: &str) -> Option<f64> {
        Some(match (self, unit) {
            (Self::Distance, "" | "m") => 1.0,
            (Self::Distance, "km") => 1_000.0,
            (Self::Distance, "ft") => FOOT_M,
            (Self::Distance, "mi") => MILE_M,
            (Self::Speed, "" | "km/h" | "kmh") => KM_H_PER_M_S.recip(),
            (Self::Speed, "m/s") => 1.0,
            (Self::Speed, "mph") => MILE_M / 3_600.0,
            _ => return None,
        })
    }

    fn holds(self, value: f64) -> bool {
        match self {
            Self::Distance => (0.0..=DISTANCE_MAX_M).contains(&value),
            Self::Speed => SPEEDS_M_S.contains(&value),
        }
    }
}

/// One reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Shown {
    /// Host time of the typed line, nanoseconds.
    pub host_ns: u64,
    /// What was read.
    pub kind: ShownKind,
    /// Metres, or metres per second.
    pub value: f64,
    /// Last step of the display, same unit.
    pub step: f64,
    /// Metres, or metres per second, of the unit it was typed in.
    pub unit: f64,
    /// As typed.
    pub text: String,
}

/// The note that keeps a reading, with a decimal point; `None` when the line is no plausible one.
#[must_use]
pub fn note_of(kind: ShownKind, typed: &str) -> Option<String> {
    let value = with_point(typed);
    read(kind, &value).map(|_| format!("{WORD} {} {}", kind.word(), value.trim()))
}

/// The note that takes the last reading out.
#[must_use]
pub fn note_out() -> String {
    format!("{WORD} {OUT}")
}

/// Value, last step by its decimals, and unit.
fn read(kind: ShownKind, typed: &str) -> Option<(f64, f64, f64)> {
    let read = with_point(typed);
    let text = read.trim();
    let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len());
    let number: f64 = text[..end].parse().ok()?;
    let unit = kind.factor(&text[end..].trim().to_lowercase())?;
    let decimals = text[..end].split_once('.').map_or(0, |(_, after)| after.len());
    let step = 10_f64.powi(-i32::try_from(decimals.min(9)).ok()?);
    let value = number * unit;
    kind.holds(value).then_some((value, step * unit, unit))
}

/// Readings that count, among the notes of a capture.
pub(super) fn readings(notes: &[(u64, String)], stated: &Stated) -> Vec<Shown> {
    let speed_step_m_s = stated.speed_step_km_h.map(|step| step / KM_H_PER_M_S);
    let mut out: Vec<Shown> = Vec::new();
    for (host_ns, text) in notes {
        let Some(said) = text.strip_prefix(WORD).and_then(|rest| rest.strip_prefix(' ')) else {
            continue;
        };
        if said.trim() == OUT {
            out.pop();
            continue;
        }
        for (kind, given) in
            [(ShownKind::Distance, stated.distance_step_m), (ShownKind::Speed, speed_step_m_s)]
        {
            let typed = said.strip_prefix(kind.word()).filter(|rest| rest.starts_with(' '));
            if let Some((value, step, unit)) = typed.and_then(|typed| read(kind, typed)) {
                let (host_ns, step) = (*host_ns, given.unwrap_or(step));
                out.push(Shown { host_ns, kind, value, step, unit, text: said.to_owned() });
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_are_taken_as_typed_and_slips_are_not() {
        use ShownKind::{Distance, Speed};
        for (kind, typed, read_as) in [
            (Distance, "1234.5", Some((1234.5, 0.1))),
            (Distance, " 0 m ", Some((0.0, 1.0))),
            (Distance, "12.34 km", Some((12_340.0, 10.0))),
            (Distance, "328.0 ft", Some((328.0 * 0.3048, 0.03048))),
            (Speed, "8.0", Some((8.0 / 3.6, 0.1 / 3.6))),
            (Speed, "5.0 mph", Some((2.2352, 0.044_704))),
            (Speed, "2.22 m/s", Some((2.22, 0.01))),
            (Speed, "0", None),
            (Speed, "8000", None),
            (Distance, "1234,5", Some((1234.5, 0.1))),
            (Distance, "1,234", None),
            (Distance, "-3", None),
            (Distance, "12 kg", None),
            (Distance, "", None),
            (Distance, "nan", None),
        ] {
            let found = read(kind, typed);
            assert_eq!(found.is_some(), read_as.is_some(), "{typed:?}");
            if let (Some((value, step, _)), Some(wanted)) = (found, read_as) {
                assert!((value - wanted.0).abs() < 1e-9, "{typed:?}: {value}");
                assert!((step - wanted.1).abs() < 1e-9, "{typed:?}: {step}");
            }
        }
    }

    #[test]
    fn a_reading_taken_out_does_not_count_and_a_stated_step_wins() {
        let notes: Vec<(u64, String)> =
            ["shown distance 5.0 m", "wet grass", "shown speed 9", "shown out", "shown speed 8.1"]
                .map(|text| (1, text.to_owned()))
                .to_vec();
        let stated = Stated { distance_step_m: Some(0.5), ..Stated::default() };
        let read = readings(&notes, &stated);
        assert_eq!(read.len(), 2);
        assert_eq!((read[0].value, read[0].step), (5.0, 0.5));
        assert_eq!(read[1].text, "speed 8.1");
        assert_eq!(note_of(ShownKind::Speed, "8.1 km/h").as_deref(), Some("shown speed 8.1 km/h"));
    }
}
