//! Knots of a count curve in little memory: a day of them is read again and again, and at any
//! place.

/// Knots in a block.
const BLOCK: usize = 32;
/// So many blocks ahead are looked through one by one before the search begins anew.
const AHEAD: usize = 3;
/// Bits for both offsets of a knot.
const BITS: u32 = 32;

/// Board microseconds and running count.
type Whole = (u64, u64);

/// Times and running counts, both rising: each a double of board seconds, and of impulses.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Knots {
    /// Board time 0, microseconds: as the double it is taken off as.
    origin_us: f64,
    length: usize,
    blocks: Vec<Block>,
    /// Those of narrow blocks, by how much they are beyond the first of their block: the count in
    /// the lowest bits, the time above.
    offsets: Vec<u32>,
    /// Those of blocks that are too long for that.
    wide: Vec<Whole>,
    /// Not in a block yet.
    open: Vec<Whole>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Block {
    first: Whole,
    /// The same in board seconds and impulses, for the search.
    begin: (f64, f64),
    /// Where its knots begin, in `offsets` or in `wide`.
    at: u32,
    /// Bits of the count's offset; `None`: it is wide.
    count_bits: Option<u8>,
}

impl Block {
    #[inline]
    fn beyond(&self, offset: u32, count_bits: u8) -> Whole {
        let count = u64::from(offset) & ((1 << count_bits) - 1);
        (self.first.0 + u64::from(offset >> count_bits), self.first.1 + count)
    }
}

impl Knots {
    /// None yet. `origin_us` is board time 0.
    pub(super) fn new(origin_us: u64) -> Self {
        Self { origin_us: origin_us as f64, ..Self::default() }
    }

    /// Take one more; it must lie behind the last.
    pub(super) fn push(&mut self, knot: Whole) {
        if self.open.len() == BLOCK {
            self.close();
        }
        self.open.push(knot);
        self.length += 1;
    }

    /// No more will come.
    pub(super) fn shrink_to_fit(&mut self) {
        self.blocks.shrink_to_fit();
        self.offsets.shrink_to_fit();
        self.wide.shrink_to_fit();
    }

    fn close(&mut self) {
        let (Some(&first), Some(&last)) = (self.open.first(), self.open.last()) else { return };
        let beyond =
            |knot: &Whole| (knot.0.saturating_sub(first.0), knot.1.saturating_sub(first.1));
        let bits = |value: u64| u64::BITS - value.leading_zeros();
        let (time, count) = beyond(&last);
        let count_bits = bits(count).min(BITS - 1);
        let signed = last.0.max(last.1) <= i64::MAX as u64;
        let narrow = signed && bits(time) + bits(count) <= BITS && count_bits == bits(count);
        let at = if narrow { self.offsets.len() } else { self.wide.len() } as u32;
        let count_bits = narrow.then_some(count_bits as u8);
        self.blocks.push(Block { first, begin: self.knot(first), at, count_bits });
        match count_bits {
            Some(count_bits) => self.offsets.extend(self.open.iter().map(|knot| {
                let (time, count) = beyond(knot);
                (time << count_bits | count) as u32
            })),
            None => self.wide.extend(&self.open),
        }
        self.open.clear();
    }

    /// How many there are.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.length
    }

    /// True when there are none.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.length == 0
    }

    /// Number `at`, counted from 0: board seconds and running count.
    #[inline]
    #[must_use]
    pub fn get(&self, at: usize) -> Option<(f64, f64)> {
        let (number, inside) = (at / BLOCK, at % BLOCK);
        let Some(block) = self.blocks.get(number) else {
            return self.open.get(at - BLOCK * self.blocks.len()).map(|&knot| self.knot(knot));
        };
        let place = block.at as usize + inside;
        match block.count_bits {
            Some(bits) => Some(self.near(block.beyond(*self.offsets.get(place)?, bits))),
            None => self.wide.get(place).map(|&knot| self.knot(knot)),
        }
    }

    /// The first.
    #[must_use]
    pub fn first(&self) -> Option<(f64, f64)> {
        self.get(0)
    }

    /// The last.
    #[must_use]
    pub fn last(&self) -> Option<(f64, f64)> {
        self.get(self.length.checked_sub(1)?)
    }

    /// Those from number `at` on.
    pub fn from(&self, at: usize) -> impl Iterator<Item = (f64, f64)> + Clone + '_ {
        (at..self.length).map_while(|at| self.get(at))
    }

    /// How many come before the first for which `early` does not hold, where it holds for none
    /// after that one.
    pub fn partition_point(&self, early: impl Fn((f64, f64)) -> bool) -> usize {
        let blocks = self.blocks.partition_point(|block| early(block.begin));
        if blocks == self.blocks.len()
            && self.open.first().is_some_and(|&first| early(self.knot(first)))
        {
            return BLOCK * blocks + self.open.partition_point(|&knot| early(self.knot(knot)));
        }
        let Some((before, block)) = blocks.checked_sub(1).map(|at| (at, &self.blocks[at])) else {
            return 0;
        };
        let place = block.at as usize..block.at as usize + BLOCK;
        let inside = match block.count_bits {
            Some(bits) => self.offsets[place]
                .partition_point(|&offset| early(self.near(block.beyond(offset, bits)))),
            None => self.wide[place].partition_point(|&knot| early(self.knot(knot))),
        };
        BLOCK * before + inside
    }

    #[inline]
    fn knot(&self, (us, count): Whole) -> (f64, f64) {
        ((us as f64 - self.origin_us) * 1e-6, count as f64)
    }

    /// The same of a narrow block: signed on the way, one instruction where the unsigned takes
    /// several.
    #[inline]
    fn near(&self, (us, count): Whole) -> (f64, f64) {
        ((us as i64 as f64 - self.origin_us) * 1e-6, count as i64 as f64)
    }
}

/// The knots around one instant after the other. Those around the last are at hand: where time goes
/// on a little, the next are some steps away, and there is nothing to search.
#[derive(Clone, Debug)]
pub(super) struct Around<'a> {
    knots: &'a Knots,
    /// Number of `next`.
    after: usize,
    /// The last that is not after the instant.
    pub before: Option<(f64, f64)>,
    /// The first after it.
    pub next: Option<(f64, f64)>,
}

impl<'a> Around<'a> {
    /// Around no instant yet.
    pub const fn new(knots: &'a Knots) -> Self {
        Self { knots, after: 0, before: None, next: None }
    }

    /// Go to an instant, board seconds: any, but a later one that is near costs least.
    #[inline]
    pub fn go(&mut self, at_s: f64) {
        if self.before.is_some_and(|knot| knot.0 <= at_s) && self.step(at_s) {
            return;
        }
        self.after = self.knots.partition_point(|knot| knot.0 <= at_s);
        self.before = self.after.checked_sub(1).and_then(|before| self.knots.get(before));
        self.next = self.knots.get(self.after);
    }

    /// Go on to a later instant; false where it is too far away for steps.
    #[inline]
    fn step(&mut self, at_s: f64) -> bool {
        let block = self.after / BLOCK;
        let behind = self.knots.blocks.iter().skip(block + 1).take(AHEAD);
        match behind.take_while(|block| block.begin.0 <= at_s).count() {
            0 => {}
            AHEAD => return false,
            blocks => {
                self.after = BLOCK * (block + blocks);
                self.next = self.knots.get(self.after);
            }
        }
        while let Some(knot) = self.next.filter(|knot| knot.0 <= at_s) {
            self.after += 1;
            (self.before, self.next) = (Some(knot), self.knots.get(self.after));
        }
        true
    }
}

/// Board seconds since board time `origin_us`.
pub(super) fn seconds(us: u64, origin_us: u64) -> f64 {
    (us as f64 - origin_us as f64) * 1e-6
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every place and every search is that of the plain list, for blocks of either kind.
    #[test]
    fn knots_are_those_that_were_taken() {
        const STEPS: [Whole; 5] =
            [(20_000, 5), (80_000, 140), (1, 0), (3_600_000_000, 1), (u64::MAX >> 20, 1 << 40)];
        for length in [0, 1, BLOCK - 1, BLOCK, BLOCK + 1, 2 * BLOCK + 1, 500] {
            let (mut knots, mut plain, mut now) = (Knots::new(7), Vec::new(), (7, 3));
            for n in 0..length {
                let step = STEPS[(n / 40) % STEPS.len()];
                now = (now.0 + step.0 + n as u64 % 3, now.1 + step.1);
                knots.push(now);
                plain.push((seconds(now.0, 7), now.1 as f64));
            }
            assert_eq!(knots.from(0).collect::<Vec<_>>(), plain);
            assert_eq!(
                (knots.first(), knots.last()),
                (plain.first().copied(), plain.last().copied())
            );
            assert_eq!((knots.len(), knots.get(length)), (length, None));
            let ends = plain.iter().flat_map(|knot| [knot.0 - 1e-7, knot.0, knot.0 + 1e-7]);
            let ends: Vec<f64> = [-1.0].into_iter().chain(ends).chain([-1.0, f64::NAN]).collect();
            for apart in [1, 2, 7, 47, 100, 300] {
                let mut around = Around::new(&knots);
                for &at_s in ends.iter().step_by(apart).chain(ends.iter().rev().step_by(apart)) {
                    let place = plain.partition_point(|knot| knot.0 <= at_s);
                    let found = knots.partition_point(|knot| knot.0 <= at_s);
                    assert_eq!(found, place, "{at_s} {length}");
                    around.go(at_s);
                    let before = place.checked_sub(1).map(|before| plain[before]);
                    let next = plain.get(place).copied();
                    assert_eq!((around.before, around.next), (before, next), "{at_s} {apart}");
                }
            }
        }
    }
}
