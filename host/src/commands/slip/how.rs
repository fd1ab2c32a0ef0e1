//! How to calculate slip: the options that `trundle slip` and `trundle export slip` have in common.

use super::figure;
use crate::commands::typed::{length_within, measure, positive, speed_km_h};
use crate::shell::exit::Trouble;
use std::path::PathBuf;
use trundle_core::survey::ride::axle::Mounting;
use trundle_core::survey::slip::SlipOptions;
use trundle_core::units::KM_H_PER_M_S;
use trundle_core::units::typed::Measure;

/// How to calculate slip.
#[derive(Debug, clap::Args)]
pub struct HowArgs {
    /// Wheel impulses per 100 m without slip, on firm ground with the same tyres; that of the
    /// rig's last record if not given.
    #[arg(long, value_name = "N", value_parser = positive)]
    pub zero_slip_value: Option<f64>,
    /// Uncertainty of that value, ± percent (95 %).
    #[arg(long, value_name = "PERCENT", default_value_t = 0.2, value_parser = positive)]
    pub zero_slip_percent: f64,
    /// Capture of a measured course to take the zero-slip value from.
    #[arg(long, value_name = "CAPTURE", conflicts_with = "zero_slip_value")]
    pub zero_slip: Option<PathBuf>,
    /// Antenna to the right of the tractor's middle: "0.35 m"; negative to the left. The rig's if
    /// not given.
    #[arg(long, value_name = "OFFSET", allow_hyphen_values = true, requires = "ahead",
        value_parser = measure(Measure::Offset))]
    pub right: Option<f64>,
    /// Antenna ahead of the rear axle: "1.5 m"; negative behind.
    #[arg(long, value_name = "OFFSET", allow_hyphen_values = true, requires = "right",
        value_parser = measure(Measure::Offset))]
    pub ahead: Option<f64>,
    /// Standard uncertainty of both, metres.
    #[arg(long, value_name = "METRES", default_value_t = 0.03, value_parser = positive)]
    pub mounting_uncertainty: f64,
    /// Length of a section: "15 m", "50 ft".
    #[arg(long, value_name = "LENGTH", default_value = "15 m",
        value_parser = length_within(5.0, 200.0))]
    pub section: f64,
    /// Slower than this no slip is given: "1.8 km/h".
    #[arg(long, value_name = "SPEED", default_value = "1.8 km/h", value_parser = speed_km_h)]
    pub least_speed: f64,
    /// Show the share of the distance with more slip than these, percent.
    #[arg(long, value_name = "PERCENT", value_delimiter = ',', default_values_t = [8.0, 15.0],
        value_parser = positive)]
    pub above: Vec<f64>,
}

impl HowArgs {
    /// The same for the maths, the zero-slip value calculated where a course was named.
    ///
    /// # Errors
    /// [`Trouble`] when its capture cannot be read or gives no value.
    pub fn options(&self) -> Result<SlipOptions, Trouble> {
        let mounting = self.right.zip(self.ahead).map(|(right_m, ahead_m)| Mounting {
            right_m,
            u_right_m: self.mounting_uncertainty,
            ahead_m,
            u_ahead_m: self.mounting_uncertainty,
        });
        let zero_slip = match &self.zero_slip {
            Some(path) => Some(figure::of_course(path)?),
            None => self.zero_slip_value.map(|n| figure::given(n, self.zero_slip_percent)),
        };
        Ok(SlipOptions {
            zero_slip,
            mounting,
            section_m: self.section,
            least_speed_m_s: self.least_speed / KM_H_PER_M_S,
            thresholds: self.above.iter().map(|percent| percent / 100.0).collect(),
        })
    }
}
