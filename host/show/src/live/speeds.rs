//! Impulses per second of each channel, of the last second of counts.

use std::collections::VecDeque;
use trundle_core::timeline::counts::CountCurve;
use trundle_core::wire::board::CountSample;
use trundle_protocol::message::CHANNELS;

/// Samples kept, board microseconds.
const KEEP_US: u64 = 3_000_000;
/// Half of the time a rate is taken over, seconds: a person reads once a second.
const HALF_S: f64 = 0.5;
/// Without an edge for this long the wheel is taken to slow down, seconds; at the slowest speed
/// worth measuring (0.5 m/s) even five impulses a metre come faster.
const QUIET_S: f64 = 0.5;

/// The newest counts.
#[derive(Clone, Debug, Default)]
pub struct Rates {
    samples: VecDeque<CountSample>,
}

impl Rates {
    /// Take the newest sample; the same one again changes nothing, an earlier board time is
    /// another boot.
    pub fn take(&mut self, sample: CountSample) {
        match self.samples.back() {
            Some(last) if last.board_us == sample.board_us => return,
            Some(last) if last.board_us > sample.board_us => self.samples.clear(),
            _ => {}
        }
        self.samples.push_back(sample);
        let from_us = sample.board_us.saturating_sub(KEEP_US);
        while self.samples.front().is_some_and(|first| first.board_us < from_us) {
            self.samples.pop_front();
        }
    }

    /// Impulses per second; `None` until a second of counts has been seen.
    pub fn impulses_per_s(&mut self) -> [Option<f64>; CHANNELS] {
        let samples: &[CountSample] = self.samples.make_contiguous();
        let Some(first) = samples.first() else { return [None; CHANNELS] };
        std::array::from_fn(|channel| {
            let curve = CountCurve::new(samples, channel, first.board_us);
            let (_, last_s) = curve.span_s()?;
            let edge_s = curve.knots().last().map_or(last_s, |knot| knot.0);
            // Behind the last edge the curve is flat, which is only half an impulse of the truth
            // while the wheel turns.
            let to_s = if last_s - edge_s < QUIET_S { edge_s } else { last_s };
            curve.rate(to_s - HALF_S, HALF_S)
        })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn sample(board_us: u64, hz: f64) -> CountSample {
        let count = (board_us as f64 * 1e-6 * hz).floor();
        CountSample {
            host_ns: board_us * 1000,
            board_us,
            impulses: [count as u64, 0, 0],
            last_edge_us: [Some((count / hz * 1e6) as u64), None, None],
            rejected: [0; 3],
            in_work: false,
            overruns: 0,
        }
    }

    #[test]
    fn a_steady_wheel_gives_its_rate_and_one_that_stops_gives_none() {
        let mut rates = Rates::default();
        assert_eq!(rates.impulses_per_s()[0], None);
        for n in 0..100 {
            rates.take(sample(n * 20_000, 127.0));
        }
        assert!((rates.impulses_per_s()[0].unwrap() - 127.0).abs() < 0.5);
        let stopped = sample(99 * 20_000, 127.0);
        for n in 100..220 {
            rates.take(CountSample { board_us: n * 20_000, ..stopped });
        }
        assert!(rates.impulses_per_s()[0].unwrap() < 1e-9);
        // Another boot begins again.
        rates.take(sample(20_000, 127.0));
        assert_eq!(rates.impulses_per_s()[0], None);
    }
}
