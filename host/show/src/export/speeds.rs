//! Speeds, a row a steady, straight run, of one or more captures.

use super::Export;
use super::slip::Origin;
use super::table::{Column, Get, Table};
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

type C<'a> = Column<Row<'a>>;

/// The steady runs of all captures, in the order given.
#[must_use]
pub fn export(speeds: &[(Origin, Speeds)]) -> Export {
    let rows: Vec<Row<'_>> = speeds
        .iter()
        .flat_map(|(of, speeds)| {
            speeds.steady_runs.iter().map(move |steady_run| Row { of, speeds, steady_run })
        })
        .collect();
    let columns = [steady_run(), sensors(), origin()].into_iter().flatten().collect::<Vec<_>>();
    Export { table: Table::of("speeds", &columns, &rows), tracks: None }
}

fn steady_run<'a>() -> Vec<C<'a>> {
    use Get::{Number, Truth, Whole};
    vec![
        C::new(
            "ride",
            "Start of the board that it belongs to, from 1.",
            Whole(|r| i64::try_from(r.steady_run.ride + 1).ok()),
        ),
        C::new(
            "board_start_s",
            "Begin, seconds since the board started.",
            Number(|r| Some(r.steady_run.from_s)),
        ),
        C::new(
            "board_finish_s",
            "End, seconds since the board started.",
            Number(|r| Some(r.steady_run.to_s)),
        ),
        C::new(
            "satellite_speed_m_s",
            "Mean satellite speed, metres per second.",
            Number(|r| Some(r.steady_run.speed_m_s.value)),
        ),
        C::new(
            "satellite_speed_standard_uncertainty_m_s",
            "Standard uncertainty of the satellite speed, metres per second.",
            Number(|r| Some(r.steady_run.speed_m_s.standard_uncertainty)),
        ),
        C::new(
            "clear",
            "The speed is well above the noise of the satellites.",
            Truth(|r| Some(r.steady_run.clear)),
        ),
    ]
}

fn sensors<'a>() -> Vec<C<'a>> {
    use Get::Number;
    vec![
        C::new(
            "wheel_hz",
            "Impulses of the wheel sensor per second.",
            Number(|r| Some(r.rate(0)?.value)),
        ),
        C::new(
            "wheel_standard_uncertainty_hz",
            "Standard uncertainty of the wheel's rate, impulses per second.",
            Number(|r| Some(r.rate(0)?.standard_uncertainty)),
        ),
        C::new(
            "wheel_deviation",
            "Of the wheel's rate from its line against the satellite speed, no unit: 0.01 is 1 %.",
            Number(|r| r.deviation(0)),
        ),
        C::new("radar_hz", "Impulses of the radar per second.", Number(|r| Some(r.rate(1)?.value))),
        C::new(
            "radar_standard_uncertainty_hz",
            "Standard uncertainty of the radar's rate, impulses per second.",
            Number(|r| Some(r.rate(1)?.standard_uncertainty)),
        ),
        C::new(
            "radar_deviation",
            "Of the radar's rate from its line against the satellite speed, no unit: 0.01 is 1 %.",
            Number(|r| r.deviation(1)),
        ),
    ]
}

fn origin<'a>() -> Vec<C<'a>> {
    use Get::{Text, Time, Truth};
    vec![
        C::new("capture", "Name of the capture.", Text(|r| Some(r.of.capture.clone()))),
        C::new(
            "capture_sha256",
            "SHA-256 of the capture, hexadecimal.",
            Text(|r| Some(r.of.capture_sha256.clone())),
        ),
        C::new("capture_started_utc", "When the capture began, UTC.", Time(|r| r.of.started_us())),
        C::new(
            "practice",
            "From the simulator: nothing was measured.",
            Truth(|r| Some(r.of.practice)),
        ),
    ]
}
