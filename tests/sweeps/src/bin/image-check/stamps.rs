//! Times that the board says, against the times at which things happened at its pins.

/// Furthest that two stamps may lie apart in their errors, microseconds: what is promised.
const SPREAD_US: f64 = 2.0;

/// The board's clock begins when it likes: what can be wrong is how the stamps lie to each other.
#[derive(Clone, Copy, Debug)]
pub struct Stamps {
    pub count: u64,
    least_us: f64,
    most_us: f64,
}

impl Default for Stamps {
    fn default() -> Self {
        Self { count: 0, least_us: f64::INFINITY, most_us: f64::NEG_INFINITY }
    }
}

impl Stamps {
    /// Something happened at this time and has this stamp.
    pub fn add(&mut self, true_ns: u64, board_us: u64) {
        let error_us = board_us as f64 - true_ns as f64 / 1e3;
        self.count += 1;
        self.least_us = self.least_us.min(error_us);
        self.most_us = self.most_us.max(error_us);
    }

    /// How far the stamps lie apart in their errors, microseconds.
    pub fn spread_us(&self) -> f64 {
        (self.most_us - self.least_us).max(0.0)
    }

    /// The greatest error, microseconds; the board's clock begins when it likes.
    pub const fn most_us(&self) -> f64 {
        self.most_us
    }

    /// For a table.
    pub fn words(&self) -> String {
        format!("{:.2}", self.spread_us())
    }

    /// What is wrong with them.
    pub fn judge(&self) -> Option<String> {
        let (count, spread_us) = (self.count, self.spread_us());
        if count == 0 {
            return Some("no time stamp was looked at".to_owned());
        }
        let within = format!("{count} time stamps lie {spread_us:.2} us apart in their errors");
        (spread_us > SPREAD_US).then_some(within)
    }
}
