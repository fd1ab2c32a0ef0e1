//! The parameters of a satellite receiver, by class.

use crate::nmea::Sentence;

/// Class of satellite receiver, by what it corrects its positions with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum ReceiverClass {
    /// Nothing: fix quality 1.
    Standalone,
    /// Corrections of a satellite service: fix quality 2.
    Corrected,
    /// Carrier phase fixed against a base: fix quality 4.
    Rtk,
}

impl ReceiverClass {
    /// All classes.
    pub const ALL: [Self; 3] = [Self::Standalone, Self::Corrected, Self::Rtk];

    /// The word for the class.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Standalone => "standalone",
            Self::Corrected => "corrected",
            Self::Rtk => "rtk",
        }
    }

    /// The class of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|class| class.word() == word)
    }
}

/// Errors of position and speed, each horizontal axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Uncorrelated, standard deviation in metres.
    pub white_m: f64,
    /// Correlated (first-order Gauss-Markov), standard deviation in metres.
    pub markov_m: f64,
    /// Its time constant, seconds.
    pub markov_s: f64,
    /// A second, slower one, metres.
    pub slow_m: f64,
    /// Its time constant, seconds.
    pub slow_s: f64,
    /// Speed, standard deviation in metres per second.
    pub doppler_m_s: f64,
    /// Its time constant, seconds.
    pub doppler_s: f64,
}

impl Noise {
    /// The errors that belong to a fix quality of GGA: 1, 2, 4, and 5 for carrier phase
    /// not yet fixed; anything else is taken as 1.
    #[must_use]
    pub const fn of_quality(quality: u8) -> Self {
        match quality {
            2 => Self {
                white_m: 0.03,
                markov_m: 0.30,
                markov_s: 150.0,
                slow_m: 0.10,
                slow_s: 900.0,
                doppler_m_s: 0.025,
                doppler_s: 0.5,
            },
            4 => Self {
                white_m: 0.004,
                markov_m: 0.008,
                markov_s: 30.0,
                slow_m: 0.0,
                slow_s: 1.0,
                doppler_m_s: 0.015,
                doppler_s: 0.5,
            },
            5 => Self {
                white_m: 0.02,
                markov_m: 0.25,
                markov_s: 60.0,
                slow_m: 0.05,
                slow_s: 600.0,
                doppler_m_s: 0.02,
                doppler_s: 0.5,
            },
            _ => Self {
                white_m: 0.05,
                markov_m: 0.90,
                markov_s: 300.0,
                slow_m: 0.60,
                slow_s: 1800.0,
                doppler_m_s: 0.04,
                doppler_s: 0.5,
            },
        }
    }
}

/// A satellite receiver.
#[derive(Clone, Debug, PartialEq)]
pub struct Receiver {
    /// What it is.
    pub class: ReceiverClass,
    /// Fix quality it reports.
    pub quality: u8,
    /// Its errors.
    pub noise: Noise,
    /// Epochs per second.
    pub rate_hz: u32,
    /// Sentences sent at every epoch, in this order.
    pub sentences: Vec<Sentence>,
    /// Sentences sent at whole seconds only, after the others.
    pub slow_sentences: Vec<Sentence>,
    /// Decimals of the minutes of latitude and longitude.
    pub minute_decimals: usize,
    /// Decimals of the speed in knots.
    pub speed_decimals: usize,
    /// The content is that of this long before its time tag (lag of the receiver's filter).
    pub tag_lag_s: f64,
    /// From the epoch to the first byte on the wire, seconds.
    pub latency_s: f64,
    /// Speed of its line, bits per second.
    pub baud: u32,
}

impl Receiver {
    /// The usual receiver of a class.
    #[must_use]
    pub fn of_class(class: ReceiverClass) -> Self {
        let (quality, minute_decimals, speed_decimals, tag_lag_s, latency_s) = match class {
            ReceiverClass::Standalone => (1, 5, 2, 0.1, 0.12),
            ReceiverClass::Corrected => (2, 5, 3, 0.1, 0.08),
            ReceiverClass::Rtk => (4, 7, 3, 0.0, 0.04),
        };
        Self {
            class,
            quality,
            noise: Noise::of_quality(quality),
            rate_hz: 10,
            sentences: vec![Sentence::Gga, Sentence::Rmc, Sentence::Gst],
            slow_sentences: vec![Sentence::Gsa, Sentence::Zda],
            minute_decimals,
            speed_decimals,
            tag_lag_s,
            latency_s,
            baud: 115_200,
        }
    }
}
