//! Wrong tokens, by who showed them. The same wrong one again is no new guess: an old page that
//! asks again and again must lock nobody out.

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
    until_s: f64,
}

/// Who guessed how often.
#[derive(Debug, Default)]
pub struct Guesses(BTreeMap<IpAddr, Sender>);

impl Guesses {
    /// `sender` showed a token that is none, at `now_s`.
    pub fn wrong(&mut self, sender: IpAddr, shown: &str, now_s: f64) {
        if self.0.len() >= SENDERS && !self.0.contains_key(&sender) {
            self.0.retain(|_, known| known.until_s > now_s);
        }
        let known = self.0.entry(sender).or_default();
        known.shown.insert(Sha256::digest(shown.as_bytes()).into());
        if known.shown.len() >= MOST {
            known.shown.clear();
            known.until_s = now_s + LOCK_S;
        }
    }

    /// `sender` may show no token at `now_s`.
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
}
