//! The board's counts over a whole capture, at the times that lines were typed.

use crate::session::trail::{Spell, Trail};
use crate::timeline::counts::CountCurve;
use trundle_protocol::message::CHANNELS;
use trundle_protocol::units::Channel;

/// Knots a curve must have before it shows motion.
const KNOTS_MIN: usize = 10;

/// One spell of counts.
pub(super) struct Board<'a> {
    pub spell: &'a Spell,
    pub curves: [CountCurve; CHANNELS],
    origin_us: u64,
}

/// All spells that have counts.
pub(super) struct Boards<'a>(pub Vec<Board<'a>>);

impl<'a> Boards<'a> {
    pub fn of(trail: &'a Trail) -> Self {
        let of = |spell: &'a Spell| {
            let origin_us = spell.counts.first()?.board_us;
            let curve = |channel| CountCurve::of(spell.counts.iter(), channel, origin_us);
            Some(Board { spell, curves: std::array::from_fn(curve), origin_us })
        };
        Self(trail.spells.iter().filter_map(of).collect())
    }

    /// Number of the spell at a host time, and seconds of its curves.
    pub fn at(&self, host_ns: u64) -> Option<(usize, f64)> {
        let began =
            |board: &Board<'_>| board.spell.counts.first().is_some_and(|c| c.host_ns <= host_ns);
        let number = self.0.iter().rposition(began)?;
        let board = &self.0[number];
        let clock_s = board.spell.board_clock?.source_s(host_ns as f64 * 1e-9);
        Some((number, clock_s - board.origin_us as f64 * 1e-6))
    }
}

impl Board<'_> {
    /// The channel that shows motion.
    pub fn motion(&self) -> Option<Channel> {
        let moves = |c: &Channel| self.curves[c.index()].knots().len() > KNOTS_MIN;
        [Channel::Wheel, Channel::Radar].into_iter().find(moves)
    }
}
