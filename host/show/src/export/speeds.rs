//! Speeds, a row a steady, straight run, of one or more captures.

use super::Export;
use super::slip::Origin;
use super::table::{Column, Head, Table, columns};
use trundle_core::stats::fit::line::Estimate;
use trundle_core::survey::speeds::{Speeds, SteadyRun};

/// One row.
struct Row<'a> {
    of: &'a Origin,
    speeds: &'a Speeds,
    steady_run: &'a SteadyRun,
}

impl Row<'_> {
    fn rate(&self, channel: usize) -> Option<Estimate> {
        self.steady_run.rates_hz[channel]
    }

    /// By how much the rate of wheel or radar lies off what its line against the satellite speed
    /// says, as a share of that; only where the line was looked for: on clear steady runs.
    fn deviation(&self, channel: usize) -> Option<f64> {
        let fit = self.speeds.pairs[channel].as_ref().ok()?;
        let said = fit.at(self.steady_run.speed_m_s.value);
        self.steady_run.clear.then_some(self.rate(channel)?.value / said - 1.0)
    }
}

/// The steady runs of all captures, in the order given.
#[must_use]
pub fn export(speeds: &[(Origin, Speeds)]) -> Export {
    let rows: Vec<Row<'_>> = speeds
        .iter()
        .flat_map(|(of, speeds)| {
            speeds.steady_runs.iter().map(move |steady_run| Row { of, speeds, steady_run })
        })
        .collect();
    Export { table: Table::of("speeds", &columns(), &rows), tracks: None }
}

/// What the columns are, in their order.
#[must_use]
pub fn heads() -> Vec<Head> {
    columns().iter().map(|column| column.head).collect()
}

fn columns<'a>() -> Vec<Column<Row<'a>>> {
    columns! { Row<'a>:
        /// Start of the board that it belongs to, from 1.
        ride: Whole = |r| i64::try_from(r.steady_run.ride + 1).ok();
        /// Begin, seconds since the board started.
        board_start_s: Number = |r| Some(r.steady_run.from_s);
        /// End, seconds since the board started.
        board_finish_s: Number = |r| Some(r.steady_run.to_s);
        /// Mean satellite speed, metres per second.
        satellite_speed_m_s: Number = |r| Some(r.steady_run.speed_m_s.value);
        /// Standard uncertainty of the satellite speed, metres per second.
        satellite_speed_standard_uncertainty_m_s: Number =
            |r| Some(r.steady_run.speed_m_s.standard_uncertainty);
        /// The speed is well above the noise of the satellites.
        clear: Truth = |r| Some(r.steady_run.clear);
        /// Impulses of the wheel sensor per second.
        wheel_hz: Number = |r| Some(r.rate(0)?.value);
        /// Standard uncertainty of the wheel's rate, impulses per second.
        wheel_standard_uncertainty_hz: Number = |r| Some(r.rate(0)?.standard_uncertainty);
        /// Of the wheel's rate from its line against the satellite speed, no unit: 0.01 is 1 %.
        wheel_deviation: Number = |r| r.deviation(0);
        /// Impulses of the radar per second.
        radar_hz: Number = |r| Some(r.rate(1)?.value);
        /// Standard uncertainty of the radar's rate, impulses per second.
        radar_standard_uncertainty_hz: Number = |r| Some(r.rate(1)?.standard_uncertainty);
        /// Of the radar's rate from its line against the satellite speed, no unit: 0.01 is 1 %.
        radar_deviation: Number = |r| r.deviation(1);
        /// Name of the capture.
        capture: Text = |r| Some(r.of.capture.clone());
        /// SHA-256 of the capture, hexadecimal.
        capture_sha256: Text = |r| Some(r.of.capture_sha256.clone());
        /// When the capture began, UTC.
        capture_started_utc: Time = |r| r.of.started_us();
        /// From the simulator: nothing was measured.
        practice: Truth = |r| Some(r.of.practice);
    }
}
