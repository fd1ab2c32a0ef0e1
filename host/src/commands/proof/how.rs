//! What a proof drive is told of the terminal, for `trundle proof` and for signing off.

use crate::commands::typed::{length_within, speed_km_h, within};
use std::ops::RangeInclusive;
use trundle_core::rig::{NAME_MAX, clean};
use trundle_core::survey::proof::{
    DISTANCE_STEPS_M, Known, Origin, RATES_L_PER_HA, SPEED_STEPS_KM_H, Stated, WRAPS_M,
};
use trundle_protocol::units::Channel;

/// What is known of the terminal, and how to judge it.
#[derive(Clone, Debug, Default, PartialEq, clap::Args)]
#[command(next_help_heading = "Proof drive: what is known of the terminal")]
pub struct ProofHow {
    /// The value that was keyed in, impulses per 100 m; that of the rig's last record if not given.
    #[arg(long, value_name = "N", value_parser = within(1.0, 1e8))]
    pub entered: Option<f64>,
    /// A value that was in force before; may be given again.
    #[arg(long, value_name = "N", value_parser = within(1.0, 1e8))]
    pub old: Vec<f64>,
    /// The other sensor's value.
    #[arg(long, value_name = "N", value_parser = within(1.0, 1e8))]
    pub other: Option<f64>,
    /// The wheel's value on other tyres: "Winter=12450"; may be given again.
    #[arg(long, value_name = "NAME=N", value_parser = tyres_value)]
    pub tyres_value: Vec<(String, f64)>,
    /// The sensor that the terminal should go by: wheel or radar; the rig's, else the wheel.
    #[arg(long, value_name = "SENSOR", value_parser = sensor)]
    pub source: Option<Channel>,
    /// Last step of the terminal's distance: "0.1 m"; by the digits typed if not given.
    #[arg(long, value_name = "LENGTH", value_parser = metres(DISTANCE_STEPS_M))]
    pub step: Option<f64>,
    /// Last step of the terminal's speed: "0.1 km/h"; by the digits typed if not given.
    #[arg(long, value_name = "SPEED", value_parser = speed_step)]
    pub speed_step: Option<f64>,
    /// The terminal's distance begins again at 0 here: "10000 m".
    #[arg(long, value_name = "LENGTH", value_parser = metres(WRAPS_M))]
    pub wrap: Option<f64>,
}

fn sensor(word: &str) -> Result<Channel, String> {
    let found = [Channel::Wheel, Channel::Radar].into_iter().find(|one| one.name() == word);
    found.ok_or_else(|| "wheel or radar".to_owned())
}

fn metres(plausible: RangeInclusive<f64>) -> impl Fn(&str) -> Result<f64, String> + Clone {
    length_within(*plausible.start(), *plausible.end())
}

/// A rate that an implement is set to, litres per hectare.
///
/// # Errors
/// What is wanted instead.
pub fn rate(word: &str) -> Result<f64, String> {
    within(*RATES_L_PER_HA.start(), *RATES_L_PER_HA.end())(word)
}

fn speed_step(word: &str) -> Result<f64, String> {
    let step_km_h = speed_km_h(word)?;
    if SPEED_STEPS_KM_H.contains(&step_km_h) {
        return Ok(step_km_h);
    }
    Err(format!("from {} to {} km/h", SPEED_STEPS_KM_H.start(), SPEED_STEPS_KM_H.end()))
}

fn tyres_value(typed: &str) -> Result<(String, f64), String> {
    let (name, value) = typed.rsplit_once('=').ok_or("NAME=N, as \"Winter=12450\"")?;
    let name = clean("the tyres' name", name, NAME_MAX).map_err(|fault| fault.to_string())?;
    Ok((name, within(1.0, 1e8)(value)?))
}

impl ProofHow {
    /// What was typed of the values.
    #[must_use]
    pub fn known(&self) -> Known {
        let known = Known { source: self.source, ..Known::default() };
        let entered = self.entered.iter().map(|value| (Origin::Entered, *value));
        let old = self.old.iter().map(|value| (Origin::Old, *value));
        let other = self.other.iter().map(|value| (Origin::OtherSensor, *value));
        let tyres = self.tyres_value.iter().map(|(n, value)| (Origin::Tyres(n.clone()), *value));
        let all = entered.chain(old).chain(other).chain(tyres);
        all.fold(known, |known, (origin, value)| known.with(origin, value))
    }

    /// What was typed of display and implement.
    #[must_use]
    pub const fn stated(&self, rate_l_per_ha: Option<f64>) -> Stated {
        Stated {
            distance_step_m: self.step,
            speed_step_km_h: self.speed_step,
            wrap_m: self.wrap,
            rate_l_per_ha,
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn values_on_other_tyres_are_read_with_their_name() {
        assert_eq!(tyres_value("A=b=12450").unwrap(), ("A=b".to_owned(), 12_450.0));
        assert!(tyres_value("Winter").is_err() && tyres_value("=5").is_err());
        assert!(tyres_value("Winter=0").is_err());
    }
}
