//! Readers of what is typed for options.

use trundle_core::units::typed::Measure;
use trundle_core::units::{KM_H_PER_M_S, with_point};

/// A number above 0.
///
/// # Errors
/// What is wanted instead.
pub fn positive(word: &str) -> Result<f64, String> {
    match with_point(word).parse::<f64>() {
        Ok(value) if value > 0.0 && value.is_finite() => Ok(value),
        _ => Err("a number above 0".to_owned()),
    }
}

/// A reader of numbers within bounds.
pub fn within(low: f64, high: f64) -> impl Fn(&str) -> Result<f64, String> + Clone {
    move |word: &str| match with_point(word).parse::<f64>() {
        Ok(value) if (low..=high).contains(&value) => Ok(value),
        _ => Err(format!("a number from {low} to {high}")),
    }
}

/// A reader of quantities with a unit; a number alone is in the stored unit.
pub fn measure(measure: Measure) -> impl Fn(&str) -> Result<f64, String> + Clone {
    move |word: &str| measure.read(word).map_err(|fault| fault.to_string())
}

/// A speed in km/h: `8 km/h`, `5 mph`, `2.2 m/s`; a number alone is km/h.
///
/// # Errors
/// What is wanted instead.
pub fn speed_km_h(word: &str) -> Result<f64, String> {
    let read = match with_point(word).trim().parse::<f64>() {
        Ok(number) if number > 0.0 && number.is_finite() => return Ok(number),
        _ => Measure::Speed.read(word).map_err(|fault| fault.to_string())?,
    };
    if read > 0.0 { Ok(read * KM_H_PER_M_S) } else { Err("a speed above 0".to_owned()) }
}

/// A length in metres within bounds: `15 m`, `50 ft`.
pub fn length_within(low_m: f64, high_m: f64) -> impl Fn(&str) -> Result<f64, String> + Clone {
    move |word: &str| match Measure::Length.read(word) {
        Ok(metres) if (low_m..=high_m).contains(&metres) => Ok(metres),
        Ok(_) => Err(format!("from {low_m} to {high_m} m")),
        Err(fault) => Err(fault.to_string()),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn options_take_units_as_people_type_them() {
        assert!((speed_km_h("8 km/h").unwrap() - 8.0).abs() < 1e-9);
        assert!((speed_km_h("8").unwrap() - 8.0).abs() < 1e-9);
        assert!((speed_km_h("8,5 km/h").unwrap() - 8.5).abs() < 1e-9);
        assert!((positive("0,05").unwrap() - 0.05).abs() < 1e-12 && positive("12,676").is_err());
        assert!((speed_km_h("5 mph").unwrap() - 8.046_72).abs() < 1e-9);
        assert!(speed_km_h("0").is_err() && speed_km_h("8 km").is_err());
        assert!((length_within(5.0, 200.0)("50 ft").unwrap() - 15.24).abs() < 1e-9);
        assert!(length_within(5.0, 200.0)("4 m").is_err());
        assert!((measure(Measure::Offset)("-14 in").unwrap() + 0.3556).abs() < 1e-9);
    }
}
