//! Values of one sender, believed when a neighbour bears them out.
//!
//! The adapter's lines carry no checksum, so a damaged one can be a sound line with another
//! number. A value is handed on when the next one follows from it; one that follows from nothing
//! before and nothing after is dropped; one that begins anew, as after the ignition was switched
//! on, has its successor to bear it out.

/// A value with the host time of its arrival.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen<T> {
    pub host_ns: u64,
    pub value: T,
}

/// What can follow from a value before it.
pub trait Follows: Copy {
    /// True when this can be `after_s` seconds after `before`.
    fn follows(&self, before: &Self, after_s: f64) -> bool;
}

/// Holds back the newest value until it is borne out.
#[derive(Clone, Debug)]
pub struct Steady<T> {
    /// Handed on last.
    base: Option<Seen<T>>,
    /// Fits what was before it; not handed on yet.
    waiting: Option<Seen<T>>,
    /// Fits nothing so far.
    doubted: Option<Seen<T>>,
    dropped: u64,
}

impl<T> Default for Steady<T> {
    fn default() -> Self {
        Self { base: None, waiting: None, doubted: None, dropped: 0 }
    }
}

impl<T: Follows> Steady<T> {
    /// Values that fitted nothing.
    pub const fn dropped(&self) -> u64 {
        self.dropped
    }

    /// True once a value was handed on.
    pub const fn is_known(&self) -> bool {
        self.base.is_some()
    }

    /// Host time of the newest value, nanoseconds.
    pub fn newest_ns(&self) -> u64 {
        [self.doubted, self.waiting].iter().flatten().map(|seen| seen.host_ns).max().unwrap_or(0)
    }

    /// Take the next value and hand on what it bears out.
    pub fn take(&mut self, now: Seen<T>, mut hand_on: impl FnMut(Seen<T>)) {
        let Some(waiting) = self.waiting else {
            self.waiting = Some(now);
            return;
        };
        if fits(&waiting, &now) {
            self.dropped += u64::from(self.doubted.take().is_some());
        } else if self.base.is_some_and(|base| fits(&base, &now)) {
            // The one that waited was damaged.
            self.dropped += 1 + u64::from(self.doubted.take().is_some());
            self.waiting = Some(now);
            return;
        } else if let Some(doubted) = self.doubted.filter(|doubted| fits(doubted, &now)) {
            // It begins anew. What waited had fitted what was before it, or had nothing before.
            self.doubted = None;
            match self.base {
                Some(_) => hand_on(waiting),
                None => self.dropped += 1,
            }
            self.base = Some(doubted);
            self.waiting = Some(now);
            return hand_on(doubted);
        } else {
            self.dropped += u64::from(self.doubted.replace(now).is_some());
            return;
        }
        self.base = Some(waiting);
        self.waiting = Some(now);
        hand_on(waiting);
    }
}

fn fits<T: Follows>(before: &Seen<T>, now: &Seen<T>) -> bool {
    let after_s = now.host_ns.saturating_sub(before.host_ns) as f64 * 1e-9;
    now.value.follows(&before.value, after_s)
}
