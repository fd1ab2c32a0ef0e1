//! Wrong tokens, by who showed them. The same wrong one again is no new guess: an old page that
//! asks again and again is no attack. A lock only shortens the answer to the next wrong one; a
//! right token holds all the while, since 128 bits are not found by guessing and an address may be
//! shared by many.

use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::net::IpAddr;

/// So many wrong tokens lock their sender out.
pub const MOST: usize = 10;
/// For so long, seconds.
pub const LOCK_S: f64 = 60.0;
/// Senders remembered; a farm's network has no more devices.
const SENDERS: usize = 256;

#[derive(Debug, Default)]
struct Sender {
    shown: BTreeSet<[u8; 32]>,
    /// When the last one came, seconds.
    last_s: f64,
    until_s: f64,
}

/// Who guessed how often.
#[derive(Debug, Default)]
pub struct Guesses(BTreeMap<IpAddr, Sender>);

impl Guesses {
    /// `sender` showed a token that is none, at `now_s`.
    pub fn wrong(&mut self, sender: IpAddr, shown: &str, now_s: f64) {
        if self.0.len() >= SENDERS && !self.0.contains_key(&sender) {
            self.forget_one(now_s);
        }
        let known = self.0.entry(sender).or_default();
        known.last_s = now_s;
        known.shown.insert(Sha256::digest(shown.as_bytes()).into());
        if known.shown.len() >= MOST {
            known.shown.clear();
            known.until_s = now_s + LOCK_S;
        }
    }

    /// Forget whoever was quiet longest, of those not locked if there are any.
    fn forget_one(&mut self, now_s: f64) {
        let quiet = |a: &Sender, b: &Sender| {
            let locked = |known: &Sender| known.until_s > now_s;
            locked(a).cmp(&locked(b)).then(a.last_s.total_cmp(&b.last_s))
        };
        let least = self.0.iter().min_by(|(_, a), (_, b)| quiet(a, b)).map(|(sender, _)| *sender);
        least.map(|sender| self.0.remove(&sender));
    }

    /// A wrong token of `sender` is not looked at any further at `now_s`.
    #[must_use]
    pub fn locked(&self, sender: IpAddr, now_s: f64) -> bool {
        self.0.get(&sender).is_some_and(|known| now_s < known.until_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ten_wrong_ones_lock_their_sender_alone_for_a_minute() {
        let (one, other) = (IpAddr::from([192, 0, 2, 1]), IpAddr::from([192, 0, 2, 2]));
        let mut guesses = Guesses::default();
        for _ in 0..100 {
            guesses.wrong(one, "the same old cookie", 0.0);
        }
        assert!(!guesses.locked(one, 0.0));
        for n in 1..MOST {
            assert!(!guesses.locked(one, 1.0));
            guesses.wrong(one, &n.to_string(), 1.0);
        }
        assert!(guesses.locked(one, 1.0) && guesses.locked(one, 60.9));
        assert!(!guesses.locked(other, 1.0) && !guesses.locked(one, 61.1));
    }

    #[test]
    fn a_crowd_neither_clears_the_counts_of_others_nor_grows_without_limit() {
        let sender = |n: u16| IpAddr::from([198, 51, (n >> 8) as u8, n as u8]);
        let mut guesses = Guesses::default();
        // One that guesses slowly, in a crowd of which each guesses once.
        let slow = IpAddr::from([192, 0, 2, 1]);
        for n in 0..MOST as u16 {
            guesses.wrong(slow, &n.to_string(), f64::from(n));
            for m in 0..200 {
                guesses.wrong(sender(200 * n + m), "x", f64::from(n));
            }
        }
        assert!(guesses.locked(slow, 10.0) && guesses.0.len() == SENDERS);
        for n in 0..2_000 {
            for guess in 0..MOST {
                guesses.wrong(sender(n), &guess.to_string(), 11.0);
            }
        }
        assert_eq!(guesses.0.len(), SENDERS);
        assert!(guesses.locked(sender(1_999), 11.0));
    }
}
