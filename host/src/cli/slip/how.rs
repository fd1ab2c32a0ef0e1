//! How to work slip: the options that `trundle slip` and `trundle export slip` have in common.

use super::figure;
use crate::ride::axle::Mounting;
use crate::shell::exit::Trouble;
use crate::slip::SlipOptions;
use std::path::PathBuf;

/// How to work slip.
#[derive(Debug, clap::Args)]
pub struct HowArgs {
    /// Wheel impulses per 100 m without slip, on firm ground with the same tyres.
    #[arg(long, value_name = "N", value_parser = positive)]
    pub zero_slip_figure: Option<f64>,
    /// How sure that figure is, ± percent (95 %).
    #[arg(long, value_name = "PERCENT", default_value_t = 0.2, value_parser = positive)]
    pub zero_slip_percent: f64,
    /// Capture of a measured course to take the figure without slip from.
    #[arg(long, value_name = "CAPTURE", conflicts_with = "zero_slip_figure")]
    pub zero_slip: Option<PathBuf>,
    /// Antenna to the right of the tractor's middle, metres; negative to the left.
    #[arg(long, value_name = "METRES", allow_negative_numbers = true, requires = "ahead",
        value_parser = within_10)]
    pub right: Option<f64>,
    /// Antenna ahead of the rear axle, metres; negative behind.
    #[arg(long, value_name = "METRES", allow_negative_numbers = true, requires = "right",
        value_parser = within_10)]
    pub ahead: Option<f64>,
    /// Standard uncertainty of both, metres.
    #[arg(long, value_name = "METRES", default_value_t = 0.03, value_parser = positive)]
    pub mounting_doubt: f64,
    /// Length of a window, metres.
    #[arg(long, value_name = "METRES", default_value_t = 15.0, value_parser = window)]
    pub window: f64,
    /// Slower than this no slip is given, km/h.
    #[arg(long, value_name = "KM/H", default_value_t = 1.8, value_parser = positive)]
    pub least_speed: f64,
    /// Tell the share of the way with more slip than these, percent.
    #[arg(long, value_name = "PERCENT", value_delimiter = ',', default_values_t = [8.0, 15.0],
        value_parser = positive)]
    pub above: Vec<f64>,
}

impl HowArgs {
    /// The same for the maths, the figure without slip worked out where a course was named.
    ///
    /// # Errors
    /// [`Trouble`] when its capture cannot be read or gives no figure.
    pub fn options(&self) -> Result<SlipOptions, Trouble> {
        let mounting = self.right.zip(self.ahead).map(|(right_m, ahead_m)| Mounting {
            right_m,
            u_right_m: self.mounting_doubt,
            ahead_m,
            u_ahead_m: self.mounting_doubt,
        });
        let zero_slip = match &self.zero_slip {
            Some(path) => Some(figure::of_course(path)?),
            None => self.zero_slip_figure.map(|n| figure::given(n, self.zero_slip_percent)),
        };
        Ok(SlipOptions {
            zero_slip,
            mounting,
            window_m: self.window,
            least_speed_m_s: self.least_speed / 3.6,
            thresholds: self.above.iter().map(|percent| percent / 100.0).collect(),
        })
    }
}

fn number(word: &str, low: f64, high: f64, text: &str) -> Result<f64, String> {
    match word.parse::<f64>() {
        Ok(value) if (low..=high).contains(&value) => Ok(value),
        _ => Err(text.to_owned()),
    }
}

/// A number above 0.
pub fn positive(word: &str) -> Result<f64, String> {
    number(word, f64::MIN_POSITIVE, 1e9, "a number above 0")
}

fn within_10(word: &str) -> Result<f64, String> {
    number(word, -10.0, 10.0, "metres, from -10 to 10")
}

fn window(word: &str) -> Result<f64, String> {
    number(word, 5.0, 200.0, "metres, from 5 to 200")
}
