//! Quantities with a unit as people type them, into the units that are stored.
//!
//! Factors: NIST SP 811 (2008), appendix B.8, from memory; exact where not said otherwise.

use super::{FOOT_M, parse_length_m, with_point};
use std::ops::RangeInclusive;

/// What a typed number may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Metres, at least 0.
    Length,
    /// A length in metres, either sign.
    Offset,
    /// The same above 0.
    Reach,
    /// Of a tyre, in kilopascal over the air's pressure.
    Pressure,
    /// A mass, in kilograms.
    Mass,
    /// A speed in metres per second.
    Speed,
    /// A temperature in degrees Celsius.
    Temperature,
    /// Percent, 0 to 100.
    Percent,
    /// A number above 0 without a unit.
    Number,
}

/// Pascal of a pound-force per square inch, in kilopascal: not exact, 7 digits.
pub const PSI_KPA: f64 = 6.894_757;
/// Pressures of tyres that carry a tractor or an implement, kilopascal over the air's: from softer
/// than any soft tyre's to harder than any hard one's (common practice, no source). Bar typed
/// without its unit lies outside, and so does most of what is typed in psi.
const TYRE_KPA: RangeInclusive<f64> = 30.0..=1000.0;
/// Kilogram of an avoirdupois pound.
const POUND_KG: f64 = 0.453_592_37;
/// Metres per second of a mile per hour.
pub const MPH_M_S: f64 = 0.447_04;

/// Why a typed quantity was not understood.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{typed:?} is not {wanted}")]
pub struct MeasureFault {
    /// What was typed, cut to a length that fits a message.
    pub typed: String,
    /// What is wanted, with examples.
    pub wanted: &'static str,
}

impl Measure {
    /// What may be typed.
    #[must_use]
    pub const fn wanted(self) -> &'static str {
        match self {
            Self::Length => "a length like \"50 m\" or \"164 ft 1 in\"",
            Self::Offset => "an offset like \"0.35 m\", \"-12 cm\" or \"-14 in\"",
            Self::Reach => "a distance up to 10 m like \"3.05 m\", \"305 cm\" or \"10 ft\"",
            Self::Pressure => {
                "a pressure from 0.3 to 10 bar, like \"1.2 bar\", \"120 kPa\" or \"17 psi\""
            }
            Self::Mass => "a mass like \"400 kg\", \"1.2 t\" or \"880 lb\"",
            Self::Speed => "a speed like \"8 km/h\", \"2.2 m/s\" or \"5 mph\"",
            Self::Temperature => "a temperature like \"12 C\" or \"54 F\"",
            Self::Percent => "a share like \"60 %\", from 0 to 100",
            Self::Number => "a number above 0",
        }
    }

    /// The unit in which it is stored and shown.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Length | Self::Offset | Self::Reach => "m",
            Self::Pressure => "kPa",
            Self::Mass => "kg",
            Self::Speed => "m/s",
            Self::Temperature => "°C",
            Self::Percent => "%",
            Self::Number => "",
        }
    }

    /// Read what was typed; a number alone is in the stored unit. A comma is a decimal one
    /// as [`with_point`] reads it; one that may set off thousands is refused.
    ///
    /// # Errors
    /// [`MeasureFault`] with what may be typed.
    pub fn read(self, typed: &str) -> Result<f64, MeasureFault> {
        let fault =
            || MeasureFault { typed: typed.chars().take(40).collect(), wanted: self.wanted() };
        let read = with_point(typed);
        let text = read.trim();
        if self == Self::Length {
            return parse_length_m(text).map_err(|_| fault());
        }
        let end = text
            .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+')))
            .unwrap_or(text.len());
        let value: f64 = text[..end].parse().map_err(|_| fault())?;
        let unit = text[end..].trim().to_lowercase();
        let value = self.in_stored_unit(value, &unit).ok_or_else(fault)?;
        if self.holds(value) { Ok(value) } else { Err(fault()) }
    }

    fn in_stored_unit(self, value: f64, unit: &str) -> Option<f64> {
        let factor = match (self, unit) {
            (_, "") => 1.0,
            (Self::Offset | Self::Reach, "m") => 1.0,
            (Self::Offset | Self::Reach, "cm") => 0.01,
            (Self::Offset | Self::Reach, "mm") => 0.001,
            (Self::Offset | Self::Reach, "ft") => FOOT_M,
            (Self::Offset | Self::Reach, "in" | "\"") => FOOT_M / 12.0,
            (Self::Pressure, "kpa") => 1.0,
            (Self::Pressure, "bar") => 100.0,
            (Self::Pressure, "psi") => PSI_KPA,
            (Self::Mass, "kg") => 1.0,
            (Self::Mass, "t") => 1000.0,
            (Self::Mass, "lb" | "lbs") => POUND_KG,
            (Self::Speed, "m/s") => 1.0,
            (Self::Speed, "km/h" | "kmh") => return Some(value / super::KM_H_PER_M_S),
            (Self::Speed, "mph") => MPH_M_S,
            (Self::Temperature, "c" | "°c") => 1.0,
            (Self::Temperature, "f" | "°f") => return Some((value - 32.0) / 1.8),
            (Self::Percent, "%") => 1.0,
            _ => return None,
        };
        Some(value * factor)
    }

    /// Is it a value that this can have?
    #[must_use]
    pub fn holds(self, value: f64) -> bool {
        value.is_finite()
            && match self {
                Self::Length | Self::Number => value > 0.0 && value < 1e9,
                Self::Offset => value.abs() <= 10.0,
                Self::Reach => value > 0.0 && value <= 10.0,
                Self::Pressure => TYRE_KPA.contains(&value),
                Self::Mass | Self::Speed => (0.0..1e6).contains(&value),
                Self::Temperature => (-60.0..=80.0).contains(&value),
                Self::Percent => (0.0..=100.0).contains(&value),
            }
    }

    /// As it is shown: at most four decimals, and the unit.
    #[must_use]
    pub fn show(self, value: f64) -> String {
        let number = super::decimals(value, 4);
        let number = number.trim_end_matches('0').trim_end_matches('.');
        format!("{number} {}", self.unit()).trim_end().to_owned()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn units_are_read_as_typed() {
        for (measure, typed, stored) in [
            (Measure::Offset, "-14 in", -0.3556),
            (Measure::Offset, "35cm", 0.35),
            (Measure::Reach, "305 cm", 3.05),
            (Measure::Length, "164 ft 1 in", 50.0126),
            (Measure::Pressure, "1.2 bar", 120.0),
            (Measure::Pressure, "1,25 bar", 125.0),
            (Measure::Pressure, "17 psi", 117.210_869),
            (Measure::Mass, "880 lb", 399.161_285_6),
            (Measure::Mass, "1.2 t", 1200.0),
            (Measure::Speed, "8 km/h", 2.222_222_222),
            (Measure::Speed, "5 mph", 2.2352),
            (Measure::Temperature, "54 F", 12.222_222_222),
            (Measure::Temperature, "-3", -3.0),
            (Measure::Percent, "60 %", 60.0),
        ] {
            let read = measure.read(typed).unwrap();
            assert!((read - stored).abs() < 1e-6, "{typed}: {read}");
        }
    }

    #[test]
    fn what_is_not_meant_is_refused_with_what_is() {
        for (measure, typed) in [
            (Measure::Pressure, "1,200 bar"),
            (Measure::Pressure, "1.2 kg"),
            (Measure::Pressure, "1.2"),
            (Measure::Pressure, "0 bar"),
            (Measure::Pressure, "2000 kPa"),
            (Measure::Percent, "130 %"),
            (Measure::Offset, "35 m"),
            (Measure::Reach, "305"),
            (Measure::Reach, "-1 m"),
            (Measure::Reach, "0"),
            (Measure::Number, "0"),
            (Measure::Number, "nan"),
            (Measure::Mass, "--4 kg"),
            (Measure::Speed, ""),
        ] {
            let said = measure.read(typed).unwrap_err().to_string();
            assert!(said.contains(measure.wanted()), "{said}");
        }
    }

    #[test]
    fn shown_values_are_read_again() {
        for (measure, value) in [(Measure::Offset, -0.35), (Measure::Pressure, 117.2109)] {
            assert!((measure.read(&measure.show(value)).unwrap() - value).abs() < 1e-9);
        }
    }
}
