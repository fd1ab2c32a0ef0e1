//! Lower envelope of a one-sided delay.
//!
//! A byte can come late but never early. So of all points (source time, arrival minus source
//! time) the lowest ones show the offset between the two clocks, and the line that runs along
//! the bottom of the cloud shows their drift. The line taken is the edge of the lower convex
//! hull that spans the middle of the data: of all lines with no point below, it is the one with
//! the least sum of distances (a linear programme whose optimum is that edge).
//!
//! Memory is bounded: points are kept as the minimum of a bucket of source time, and when the
//! buckets run out, neighbours are merged and the bucket grows twice as wide.

use crate::stats::fit::robust::upper_median;
use crate::wire::gate::DRIFT_MAX;

/// Most buckets kept.
const BUCKETS_MAX: usize = 1024;
/// Width of a bucket at first, seconds. Long enough to hold at least one prompt arrival.
const BUCKET_S: f64 = 2.0;
/// Least span of source time before a drift is believed, seconds: below this, the jitter of a
/// prompt arrival (about 1 ms) over the span exceeds the drift of a poor crystal (100 ppm).
const DRIFT_SPAN_S: f64 = 60.0;

/// Host time as a function of a source clock, with the least delay contained in the offset.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockLine {
    /// Source time at which `offset_s` holds, seconds.
    pub origin_s: f64,
    /// Host minus source at the origin, seconds, least delay included.
    pub offset_s: f64,
    /// Growth of the offset per second of the source.
    pub drift: f64,
    /// Median height of the bucket minima above the line, seconds: how well the line is seen.
    pub residual_s: f64,
}

impl ClockLine {
    /// Host time at which a byte of source time `source_s` can at the earliest have come.
    #[must_use]
    pub fn host_s(&self, source_s: f64) -> f64 {
        source_s + self.offset_s + self.drift * (source_s - self.origin_s)
    }

    /// Source time whose earliest arrival is `host_s`.
    #[must_use]
    pub fn source_s(&self, host_s: f64) -> f64 {
        let guess = host_s - self.offset_s;
        self.origin_s + (guess - self.origin_s) / (1.0 + self.drift)
    }
}

/// Streaming estimate of a [`ClockLine`].
#[derive(Clone, Debug)]
pub struct Envelope {
    bucket_s: f64,
    /// Bucket number, source time and delay of the lowest point in it; rising.
    lowest: Vec<(i64, f64, f64)>,
}

impl Default for Envelope {
    fn default() -> Self {
        Self { bucket_s: BUCKET_S, lowest: Vec::new() }
    }
}

impl Envelope {
    /// One arrival: source time and host time, seconds. Both must be small enough that a double
    /// keeps their microseconds (subtract a common origin first).
    pub fn add(&mut self, source_s: f64, host_s: f64) {
        self.put(source_s, host_s - source_s);
        if self.lowest.len() > BUCKETS_MAX {
            self.bucket_s *= 2.0;
            for (_, source_s, delay_s) in std::mem::take(&mut self.lowest) {
                self.put(source_s, delay_s);
            }
        }
    }

    #[inline]
    fn put(&mut self, source_s: f64, delay_s: f64) {
        match self.lowest.last_mut() {
            // The same as a bucket no greater than the last, without rounding down.
            Some(last) if source_s / self.bucket_s < (last.0 + 1) as f64 => {
                // Points come in order but for small steps back, which join the last bucket.
                if delay_s < last.2 {
                    *last = (last.0, source_s, delay_s);
                }
            }
            _ => {
                let bucket = (source_s / self.bucket_s).floor() as i64;
                self.lowest.push((bucket, source_s, delay_s));
            }
        }
    }

    /// Growth of the offset per second of the source, however great it is, with the span of source
    /// time it was seen over and the median height of the bucket minima above that line, seconds
    /// both; `None` over less than a minute. [`Self::line`] does not believe what no crystal does,
    /// this shows it.
    #[must_use]
    pub fn growth(&self) -> Option<(f64, f64, f64)> {
        let span_s = self.lowest.last()?.1 - self.lowest.first()?.1;
        if span_s < DRIFT_SPAN_S {
            return None;
        }
        let ((x, y), drift) = self.edge()?;
        let above = self.lowest.iter().map(|p| p.2 - y - drift * (p.1 - x)).collect();
        Some((drift, span_s, upper_median(above)?))
    }

    /// The edge of the lower hull over the middle of the data: where it begins, and its slope.
    fn edge(&self) -> Option<((f64, f64), f64)> {
        let hull = lower_hull(&self.lowest);
        let mean_s = self.lowest.iter().map(|p| p.1).sum::<f64>() / self.lowest.len() as f64;
        let edge = hull.windows(2).find(|e| e[1].0 >= mean_s)?;
        Some((edge[0], (edge[1].1 - edge[0].1) / (edge[1].0 - edge[0].0)))
    }

    /// The line, or `None` before the first point.
    #[must_use]
    pub fn line(&self) -> Option<ClockLine> {
        let first = self.lowest.first()?;
        let last = self.lowest.last()?;
        let least = self.lowest.iter().map(|p| p.2).fold(f64::INFINITY, f64::min);
        let span_s = last.1 - first.1;
        let mut line =
            ClockLine { origin_s: first.1, offset_s: least, drift: 0.0, residual_s: 0.0 };
        if span_s >= DRIFT_SPAN_S
            && let Some((begin, drift)) = self.edge()
            && drift.abs() <= DRIFT_MAX
        {
            line.drift = drift;
            line.offset_s = begin.1 - drift * (begin.0 - line.origin_s);
        }
        let above = self.lowest.iter().map(|p| p.1 + p.2 - line.host_s(p.1)).collect();
        line.residual_s = upper_median(above)?;
        Some(line)
    }
}

/// Lower convex hull, left to right (Andrew's monotone chain).
fn lower_hull(points: &[(i64, f64, f64)]) -> Vec<(f64, f64)> {
    let mut hull: Vec<(f64, f64)> = Vec::new();
    for &(_, x, y) in points {
        while let [.., a, b] = hull[..] {
            let turn = (b.0 - a.0) * (y - a.1) - (b.1 - a.1) * (x - a.0);
            if turn > 0.0 {
                break;
            }
            hull.pop();
        }
        hull.push((x, y));
    }
    hull
}
