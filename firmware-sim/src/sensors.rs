//! Impulse sensors: a ring of teeth that turns past a probe, and what spoils its edges.

use crate::faults::Fault;
use crate::prng::Prng;
use trundle_protocol::units::Channel;

/// A contact that bounces does so within this time.
const BOUNCE_US: f64 = 150.0;

/// A false edge comes this long after a tooth's, microseconds: later than a board takes for
/// bounce.
const FALSE_US: (f64, f64) = (400.0, 1_900.0);

/// What an edge of a sensor is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Edge {
    /// A tooth passed and the board saw it.
    Seen,
    /// A tooth passed and the sensor missed it.
    Missed,
    /// The contact bounced: no tooth belongs to it.
    Bounce,
}

/// The shape of a ring.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Shape {
    /// Pitches round the ring.
    pub(crate) teeth: u32,
    /// Standard deviation of each tooth's place, pitches.
    pub(crate) error: f64,
    pub(crate) missing: Option<u32>,
    pub(crate) extra: Option<u32>,
}

/// One impulse input with its ring.
#[derive(Clone, Debug)]
pub(crate) struct Input {
    /// Places of the teeth in one turn, pitches, ascending.
    teeth: Vec<f64>,
    pitches: f64,
    /// Pitches turned in this turn of the ring.
    phase: f64,
    next: usize,
    bounce: f64,
    dropped: f64,
    /// Probability for each edge that the contact breaks, and for how long, microseconds.
    breaks: (f64, f64),
    broken_until_us: f64,
    /// Spells: from, to, probability of missed edges, of false ones.
    spells: Vec<[f64; 4]>,
    random: Prng,
}

impl Input {
    pub(crate) fn new(channel: Channel, shape: Shape, faults: &[Fault], seed: u64) -> Self {
        let mut random = Prng::new(seed, channel.name());
        let pitches = shape.teeth.max(1);
        let mut teeth = Vec::new();
        for tooth in 0..pitches {
            // Bounded, so that teeth keep their order and stay inside the turn.
            let place = f64::from(tooth) + 0.5 + (shape.error * random.normal()).clamp(-0.2, 0.2);
            if shape.missing != Some(tooth) {
                teeth.push(place);
            }
            if shape.extra == Some(tooth) {
                teeth.push(place + 0.5);
            }
        }
        let (mut bounce, mut dropped, mut breaks) = (0.0, 0.0, (0.0, 0.0));
        let mut spells = Vec::new();
        for fault in faults {
            match *fault {
                Fault::EdgeSpell { channel: on, from_s, to_s, missed, false_after }
                    if on == channel =>
                {
                    spells.push([from_s * 1e6, to_s * 1e6, missed, false_after]);
                }
                Fault::Bounce { channel: on, probability } if on == channel => {
                    bounce = probability;
                }
                Fault::DroppedEdges { channel: on, probability } if on == channel => {
                    dropped = probability;
                }
                Fault::BreakingContact { channel: on, probability, lasts_s } if on == channel => {
                    breaks = (probability, lasts_s * 1e6);
                }
                _ => {}
            }
        }
        teeth.sort_by(f64::total_cmp);
        let phase = random.unit() * f64::from(pitches);
        let next = teeth.partition_point(|&place| place <= phase);
        let pitches = f64::from(pitches);
        Self {
            teeth,
            pitches,
            phase,
            next,
            bounce,
            dropped,
            breaks,
            broken_until_us: 0.0,
            spells,
            random,
        }
    }

    /// Impulses for each pitch: not 1 when a tooth is missing or there is one too many.
    pub(crate) fn impulses_per_pitch(&self) -> f64 {
        self.teeth.len() as f64 / self.pitches
    }

    /// Turns the ring on by `pitches` between two times and reports each edge.
    pub(crate) fn turn(
        &mut self,
        pitches: f64,
        from_us: f64,
        span_us: f64,
        tell: &mut impl FnMut(f64, Edge),
    ) {
        if pitches <= 0.0 {
            return;
        }
        let start = self.phase;
        let mut end = start + pitches;
        // Turned back by whole turns as the teeth are used up.
        let mut turned = 0.0;
        loop {
            let Some(&place) = self.teeth.get(self.next) else {
                if end < self.pitches {
                    break;
                }
                end -= self.pitches;
                turned += self.pitches;
                self.next = 0;
                continue;
            };
            if place > end {
                break;
            }
            self.next += 1;
            let at_us = from_us + span_us * (place + turned - start) / pitches;
            self.edge(at_us, tell);
        }
        self.phase = end;
    }

    /// An edge that no tooth made.
    pub(crate) fn stray(&mut self, at_us: f64, tell: &mut impl FnMut(f64, Edge)) {
        self.edge(at_us, tell);
    }

    fn edge(&mut self, at_us: f64, tell: &mut impl FnMut(f64, Edge)) {
        if self.random.chance(self.breaks.0) {
            self.broken_until_us = at_us + self.breaks.1;
        }
        let spell = self.spells.iter().find(|spell| (spell[0]..spell[1]).contains(&at_us));
        let [_, _, missed, false_after] = spell.copied().unwrap_or_default();
        if self.random.chance(self.dropped)
            || self.random.chance(missed)
            || at_us < self.broken_until_us
        {
            tell(at_us, Edge::Missed);
            return;
        }
        tell(at_us, Edge::Seen);
        if self.random.chance(false_after) {
            let (least, most) = FALSE_US;
            tell(at_us + least + self.random.unit() * (most - least), Edge::Bounce);
        }
        if self.random.chance(self.bounce) {
            tell(at_us + 2.0 + self.random.unit() * (BOUNCE_US - 2.0), Edge::Bounce);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Edge, Input, Shape};
    use trundle_protocol::units::Channel;

    fn count(shape: Shape, pitches: f64) -> (usize, f64) {
        let mut input = Input::new(Channel::Wheel, shape, &[], 5);
        let mut times = Vec::new();
        for step in 0..1000 {
            let from = f64::from(step) * 2000.0;
            input.turn(pitches / 1000.0, from, 2000.0, &mut |at, edge| {
                assert_eq!(edge, Edge::Seen);
                times.push(at);
            });
        }
        assert!(times.is_sorted());
        (times.len(), input.impulses_per_pitch())
    }

    #[test]
    fn a_ring_gives_one_impulse_a_tooth() {
        let even = Shape { teeth: 60, error: 0.03, ..Shape::default() };
        let (edges, per_pitch) = count(even, 6000.0);
        assert!(edges.abs_diff(6000) <= 1 && (per_pitch - 1.0).abs() < 1e-12, "{edges}");
        let (edges, per_pitch) = count(Shape { missing: Some(3), ..even }, 6000.0);
        assert!(edges.abs_diff(5900) <= 1 && (per_pitch - 59.0 / 60.0).abs() < 1e-12, "{edges}");
        let (edges, _) = count(Shape { extra: Some(59), ..even }, 6000.0);
        assert!(edges.abs_diff(6100) <= 1, "{edges}");
        let (edges, _) = count(Shape { teeth: 1, ..Shape::default() }, 2500.0);
        assert!(edges.abs_diff(2500) <= 1, "{edges}");
    }
}
