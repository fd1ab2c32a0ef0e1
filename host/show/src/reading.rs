//! Units and time as their reader wants them. What is stored never changes: this is the last step
//! before a number is read.

use chrono::{DateTime, Duration, Utc};
use serde::Deserialize;
use trundle_core::units::typed::{MPH_M_S, Measure, PSI_KPA};
use trundle_core::units::{FOOT_M, KM_H_PER_M_S, decimals};

/// Unit of speeds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
pub enum SpeedUnit {
    /// Kilometres per hour.
    #[default]
    #[serde(rename = "km/h")]
    KmH,
    /// Miles per hour.
    #[serde(rename = "mph")]
    Mph,
}

/// Unit of the pressure of tyres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
pub enum PressureUnit {
    /// Bar.
    #[default]
    #[serde(rename = "bar")]
    Bar,
    /// Pound-force per square inch.
    #[serde(rename = "psi")]
    Psi,
}

/// Unit of lengths.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
pub enum LengthUnit {
    /// Metres.
    #[default]
    #[serde(rename = "m")]
    Metres,
    /// Feet.
    #[serde(rename = "ft")]
    Feet,
}

/// The reader's own time.
#[derive(Clone, Copy, Debug, Default)]
pub enum Zone {
    /// Only UTC.
    #[default]
    Utc,
    /// How far it is ahead of UTC, seconds, at a moment in seconds since 1970: summer and winter
    /// differ. `None` where the system cannot say.
    Local(fn(i64) -> Option<i32>),
}

impl PartialEq for Zone {
    fn eq(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Utc, Self::Utc) => true,
            (Self::Local(mine), Self::Local(other)) => std::ptr::fn_addr_eq(*mine, *other),
            _ => false,
        }
    }
}

impl Eq for Zone {}

/// How numbers and times are read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Reading {
    /// Unit of speeds.
    pub speed: SpeedUnit,
    /// Unit of pressures.
    pub pressure: PressureUnit,
    /// Unit of lengths.
    pub length: LengthUnit,
    /// Own time beside UTC.
    pub zone: Zone,
}

impl SpeedUnit {
    /// As it is written.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::KmH => "km/h",
            Self::Mph => "mph",
        }
    }

    /// So many of it are a metre per second.
    #[must_use]
    pub fn per_m_s(self) -> f64 {
        match self {
            Self::KmH => KM_H_PER_M_S,
            Self::Mph => 1.0 / MPH_M_S,
        }
    }

    /// A speed given in kilometres per hour.
    #[must_use]
    pub fn of_km_h(self, km_h: f64) -> f64 {
        match self {
            Self::KmH => km_h,
            Self::Mph => km_h / KM_H_PER_M_S * self.per_m_s(),
        }
    }
}

impl PressureUnit {
    /// As it is written.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Bar => "bar",
            Self::Psi => "psi",
        }
    }
}

impl LengthUnit {
    /// As it is written.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Metres => "m",
            Self::Feet => "ft",
        }
    }

    /// So many of it are a metre.
    #[must_use]
    pub fn per_m(self) -> f64 {
        match self {
            Self::Metres => 1.0,
            Self::Feet => 1.0 / FOOT_M,
        }
    }
}

impl Reading {
    /// A speed given in metres per second.
    #[must_use]
    pub fn speed(&self, m_s: f64, places: usize) -> String {
        let unit = self.speed;
        format!("{} {}", decimals(m_s * unit.per_m_s(), places), unit.word())
    }

    /// A pressure given in kilopascal: as fine as a gauge at a tyre shows it.
    #[must_use]
    pub fn pressure(&self, kpa: f64) -> String {
        let number = match self.pressure {
            PressureUnit::Bar => decimals(kpa / 100.0, 2),
            PressureUnit::Psi => decimals(kpa / PSI_KPA, 1),
        };
        format!("{number} {}", self.pressure.word())
    }

    /// A length given in metres.
    #[must_use]
    pub fn length(&self, metres: f64, places: usize) -> String {
        let unit = self.length;
        format!("{} {}", decimals(metres * unit.per_m(), places), unit.word())
    }

    /// A stored value as it is typed and read: in words that [`Measure::read`] understands.
    #[must_use]
    pub fn measure(&self, measure: Measure, value: f64) -> String {
        let short = |number: String| {
            let plain = number.contains('.');
            let cut = number.trim_end_matches('0').trim_end_matches('.').to_owned();
            if plain { cut } else { number }
        };
        let (number, unit) = match (measure, self) {
            (Measure::Pressure, Self { pressure: PressureUnit::Bar, .. }) => {
                (decimals(value / 100.0, 3), "bar")
            }
            (Measure::Pressure, _) => (decimals(value / PSI_KPA, 2), "psi"),
            (Measure::Length | Measure::Offset | Measure::Reach, _) => {
                (decimals(value * self.length.per_m(), 4), self.length.word())
            }
            (Measure::Speed, _) => (decimals(value * self.speed.per_m_s(), 2), self.speed.word()),
            _ => return measure.show(value),
        };
        format!("{} {unit}", short(number))
    }

    /// Own time of a moment given as RFC 3339, like `2026-04-30 14:34`; `None` where only UTC is
    /// wanted or it is the same, or where it is no moment.
    #[must_use]
    pub fn local(&self, rfc3339: &str) -> Option<String> {
        let Zone::Local(ahead) = self.zone else { return None };
        let at = DateTime::parse_from_rfc3339(rfc3339.trim()).ok()?.with_timezone(&Utc);
        let ahead = ahead(at.timestamp()).filter(|ahead| *ahead != 0)?;
        let own = at.naive_utc().checked_add_signed(Duration::seconds(i64::from(ahead)))?;
        Some(own.format("%Y-%m-%d %H:%M").to_string())
    }

    /// A moment given as RFC 3339: UTC, and the own time beside it.
    #[must_use]
    pub fn moment(&self, rfc3339: &str) -> String {
        let Ok(at) = DateTime::parse_from_rfc3339(rfc3339.trim()) else {
            return rfc3339.to_owned();
        };
        let utc = at.with_timezone(&Utc).format("%Y-%m-%d %H:%M UTC");
        match self.local(rfc3339) {
            Some(local) => format!("{utc} ({local} local time)"),
            None => utc.to_string(),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// Two hours ahead in the second half of a fictitious year, else one.
    #[allow(clippy::unnecessary_wraps)] // As the type of the zone wants it.
    fn ahead(at_s: i64) -> Option<i32> {
        Some(if at_s > 1_782_000_000 { 7200 } else { 3600 })
    }

    fn feet() -> Reading {
        Reading {
            speed: SpeedUnit::Mph,
            pressure: PressureUnit::Psi,
            length: LengthUnit::Feet,
            zone: Zone::Local(ahead),
        }
    }

    #[test]
    fn numbers_are_shown_in_the_readers_units() {
        let metric = Reading::default();
        // 2.2352 m/s are 5 mph, 30.48 m 100 ft, 117.210869 kPa 17 psi: by their definitions.
        assert_eq!(metric.speed(2.5, 1), "9.0 km/h");
        assert_eq!(feet().speed(2.2352, 1), "5.0 mph");
        assert_eq!(metric.pressure(120.0), "1.20 bar");
        assert_eq!(feet().pressure(117.210_869), "17.0 psi");
        assert_eq!(metric.length(-0.35, 2), "-0.35 m");
        assert_eq!(feet().length(30.48, 1), "100.0 ft");
    }

    #[test]
    fn what_is_shown_in_a_field_is_read_as_the_same_value() {
        for (measure, value, far) in [
            (Measure::Pressure, 117.2, 0.05),
            (Measure::Pressure, 120.0, 0.05),
            (Measure::Offset, -0.35, 2e-5),
            (Measure::Reach, 3.05, 2e-5),
            (Measure::Length, 100.0, 2e-5),
            (Measure::Mass, 400.0, 1e-9),
            (Measure::Speed, 2.2352, 0.01),
            (Measure::Number, 10.0, 1e-9),
        ] {
            for reading in [Reading::default(), feet()] {
                let shown = reading.measure(measure, value);
                let read = measure.read(&shown).unwrap();
                assert!((read - value).abs() < far, "{shown}: {read}");
            }
        }
        assert_eq!(Reading::default().measure(Measure::Reach, 3.0), "3 m");
        assert_eq!(feet().measure(Measure::Length, 30.48), "100 ft");
    }

    #[test]
    fn own_time_that_is_utc_is_not_said_twice() {
        let london = Reading { zone: Zone::Local(|_| Some(0)), ..Reading::default() };
        assert_eq!(london.local("2026-01-01T12:00:00Z"), None);
        assert_eq!(
            Reading { zone: Zone::Local(|_| None), ..london }.local("2026-01-01T12:00:00Z"),
            None
        );
    }

    #[test]
    fn own_time_stands_beside_utc_and_follows_the_season() {
        let winter = "2026-03-30T23:34:56.7Z";
        assert_eq!(feet().moment(winter), "2026-03-30 23:34 UTC (2026-03-31 00:34 local time)");
        assert_eq!(feet().local("2026-08-01T12:00:00Z").unwrap(), "2026-08-01 14:00");
        assert_eq!(Reading::default().moment(winter), "2026-03-30 23:34 UTC");
        assert_eq!(feet().local("yesterday"), None);
        assert_eq!(feet().moment("yesterday"), "yesterday");
    }
}
