//! Knots of a count curve in little memory: a day of them is read again and again, and at any
//! place.

/// Knots in a block.
const BLOCK: usize = 16;
/// Bits for both offsets of a knot.
const BITS: u32 = 32;

/// Board microseconds and running count.
type Whole = (u64, u64);

/// Times and running counts, both rising: each a double of board seconds, and of impulses.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Knots {
    /// Board time 0, microseconds.
    origin_us: u64,
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
        Self { origin_us, ..Self::default() }
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
        Some(self.knot(self.whole(at)?))
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
    fn whole(&self, at: usize) -> Option<Whole> {
        let (number, inside) = (at / BLOCK, at % BLOCK);
        let Some(block) = self.blocks.get(number) else {
            return self.open.get(at - BLOCK * self.blocks.len()).copied();
        };
        let place = block.at as usize + inside;
        match block.count_bits {
            Some(bits) => Some(block.beyond(*self.offsets.get(place)?, bits)),
            None => self.wide.get(place).copied(),
        }
    }

    #[inline]
    fn knot(&self, (us, count): Whole) -> (f64, f64) {
        (seconds(us, self.origin_us), count as f64)
    }

    /// The same of a narrow block: signed on the way, one instruction where the unsigned takes
    /// several.
    #[inline]
    fn near(&self, (us, count): Whole) -> (f64, f64) {
        ((us as i64 as f64 - self.origin_us as f64) * 1e-6, count as i64 as f64)
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
        for length in [0, 1, 15, 16, 17, 33, 500] {
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
            for at_s in ends.chain([-1.0]) {
                let place = plain.partition_point(|knot| knot.0 <= at_s);
                assert_eq!(knots.partition_point(|knot| knot.0 <= at_s), place, "{at_s} {length}");
            }
        }
    }
}
