//! Counts at any instant, from absolute samples and the edge times they carry.

use super::knots::{Around, Knots, seconds};
use crate::wire::board::CountSample;

/// Standard uncertainty of a difference of two whole counts whose phases are independent:
/// triangular with half-width 1, JCGM 100, 4.3.9.
pub const WHOLE_COUNT_U: f64 = 0.408_248_290_463_863;

/// One channel's running count as a function of board time, by knots of known count.
///
/// Where the board shows the time of the last edge, the knots are those edges: the count is then
/// exact at the knot, and between two knots the sensor is taken to turn evenly. Where it does not
/// (imported tables), the knots are the instants at which the sampled count changed, which is
/// late by up to one sampling interval.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CountCurve {
    /// Board seconds and running count, both rising.
    knots: Knots,
    /// First and last sample, board seconds: the span in which anything is known.
    span_s: Option<(f64, f64)>,
    /// Times came from edges.
    exact: bool,
}

impl CountCurve {
    /// Build from samples of one boot. `origin_us` is board time 0 of the curve.
    #[must_use]
    pub fn new(samples: &[CountSample], channel: usize, origin_us: u64) -> Self {
        Self::of(samples.iter().copied(), channel, origin_us)
    }

    /// The same, from samples that are read out one after the other.
    #[must_use]
    pub fn of(
        samples: impl Iterator<Item = CountSample> + Clone,
        channel: usize,
        origin_us: u64,
    ) -> Self {
        let seconds = |us: u64| seconds(us, origin_us);
        let mut curve = Self {
            knots: Knots::new(origin_us),
            span_s: None,
            exact: samples.clone().any(|s| s.last_edge_us[channel].is_some()),
        };
        let mut before_us = None;
        // The last knot, and its count.
        let (mut last, mut flat): (Option<(f64, f64)>, _) = (None, 0);
        for sample in samples {
            let at_s = seconds(sample.board_us);
            let first_s = curve.span_s.map_or(at_s, |span| span.0);
            curve.span_s = Some((first_s, at_s));
            let count = sample.impulses[channel] as f64;
            if let Some(knot) = last {
                if knot.1 >= count {
                    before_us = Some(sample.board_us);
                    continue;
                }
                // Without edge times the last sample before the rise ends the flat span: else
                // a rest would look like slow turning from its beginning to its end.
                if let Some(before_us) = before_us.take()
                    && !curve.exact
                    && seconds(before_us) > knot.0
                {
                    curve.knots.push((before_us, flat));
                    last = Some((seconds(before_us), flat as f64));
                }
            }
            // With no edge yet the count is zero since boot; the sample's own time serves.
            let knot_us = sample.last_edge_us[channel].unwrap_or(sample.board_us);
            let knot_s = seconds(knot_us);
            if last.is_none_or(|knot| knot.0 < knot_s) {
                curve.knots.push((knot_us, sample.impulses[channel]));
                last = Some((knot_s, count));
                flat = sample.impulses[channel];
            }
        }
        curve.knots.shrink_to_fit();
        curve
    }

    /// True when the knots are edges, so that a fraction of a count means something.
    #[must_use]
    pub const fn is_exact(&self) -> bool {
        self.exact
    }

    /// First and last instant at which the count is known, board seconds.
    #[must_use]
    pub const fn span_s(&self) -> Option<(f64, f64)> {
        self.span_s
    }

    /// The knots: board seconds and running count.
    #[must_use]
    pub const fn knots(&self) -> &Knots {
        &self.knots
    }

    /// Mean rise from knot to knot: impulses per sample where the knots are samples.
    #[must_use]
    pub fn mean_step(&self) -> f64 {
        match (self.knots.first(), self.knots.last()) {
            (Some(first), Some(last)) if self.knots.len() > 1 => {
                (last.1 - first.1) / (self.knots.len() - 1) as f64
            }
            _ => 0.0,
        }
    }

    /// Whole impulses counted up to `at_s`, the count a display would have shown.
    #[must_use]
    pub fn whole(&self, at_s: f64) -> Option<f64> {
        let after = self.knots.partition_point(|knot| knot.0 <= at_s);
        Some(self.knots.get(after.checked_sub(1)?)?.1)
    }

    /// Count at `at_s` with its fraction, even turning taken between knots; held flat outside.
    #[must_use]
    pub fn at(&self, at_s: f64) -> Option<f64> {
        self.counts().at(at_s)
    }

    /// The same for one instant after the other.
    #[must_use]
    pub const fn counts(&self) -> Counts<'_> {
        Counts { around: Around::new(&self.knots) }
    }

    /// The span without an impulse around `at_s`: times of the edge before and after, or the
    /// ends of what is known.
    #[must_use]
    pub fn quiet_around(&self, at_s: f64) -> Option<(f64, f64)> {
        let (first_s, last_s) = self.span_s?;
        let after = self.knots.partition_point(|knot| knot.0 <= at_s);
        let before = after.checked_sub(1).and_then(|before| self.knots.get(before));
        let from_s = before.map_or(first_s, |knot| knot.0.max(first_s));
        let to_s = self.knots.get(after).map_or(last_s, |knot| knot.0);
        Some((from_s, to_s))
    }

    /// All spans without an impulse that touch the time from `from_s` to `to_s`: begin and end,
    /// board seconds, and the count then; rising in time.
    #[must_use]
    pub fn quiet_spans(&self, from_s: f64, to_s: f64) -> Vec<(f64, f64, f64)> {
        let Some((_, last_s)) = self.span_s else { return Vec::new() };
        let first = self.knots.partition_point(|knot| knot.0 <= from_s).saturating_sub(1);
        let next = self.knots.from(first).skip(1).map(|knot| knot.0).chain([last_s]);
        let inside = self.knots.from(first).zip(next);
        inside
            .take_while(|(knot, _)| knot.0 < to_s)
            .map(|(knot, next_s)| (knot.0, next_s, knot.1))
            .collect()
    }

    /// Mean rate in impulses per second over a window centred on `at_s`.
    #[must_use]
    pub fn rate(&self, at_s: f64, half_width_s: f64) -> Option<f64> {
        self.rates(half_width_s).at(at_s)
    }

    /// The same for one instant after the other.
    #[must_use]
    pub const fn rates(&self, half_width_s: f64) -> Rates<'_> {
        let (from, to) = (self.counts(), self.counts());
        Rates { span_s: self.span_s, half_width_s, from, to }
    }
}

/// Reads the count of a [`CountCurve`] at one instant after the other: at any, and at rising ones
/// in a few steps each.
#[derive(Clone, Debug)]
pub struct Counts<'a> {
    around: Around<'a>,
}

impl Counts<'_> {
    /// What [`CountCurve::at`] is.
    #[inline]
    pub fn at(&mut self, at_s: f64) -> Option<f64> {
        self.around.go(at_s);
        match (self.around.before, self.around.next) {
            (Some(a), Some(b)) => Some(a.1 + (b.1 - a.1) * (at_s - a.0) / (b.0 - a.0)),
            (Some(held), None) | (None, Some(held)) => Some(held.1),
            (None, None) => None,
        }
    }
}

/// Reads rates over windows of one width as [`Counts`] reads counts.
#[derive(Clone, Debug)]
pub struct Rates<'a> {
    span_s: Option<(f64, f64)>,
    half_width_s: f64,
    from: Counts<'a>,
    to: Counts<'a>,
}

impl Rates<'_> {
    /// What [`CountCurve::rate`] is.
    #[inline]
    pub fn at(&mut self, at_s: f64) -> Option<f64> {
        let (first_s, last_s) = self.span_s?;
        let half_width_s = self.half_width_s;
        if at_s - half_width_s < first_s || at_s + half_width_s > last_s {
            return None;
        }
        let rise = self.to.at(at_s + half_width_s)? - self.from.at(at_s - half_width_s)?;
        Some(rise / (2.0 * half_width_s))
    }
}
