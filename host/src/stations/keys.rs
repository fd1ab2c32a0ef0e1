//! Keys of forms: they show that a form is one of ours, and which; what was sent twice is done
//! once.

use sha2::{Digest as _, Sha256};
use std::collections::VecDeque;
use trundle_core::units::hex;

/// Bytes of the part that differs from form to form, and of the part that only we can make.
const HALF: usize = 16;
/// Forms that are remembered once they were done: more than a day's work has.
const DONE_MAX: usize = 4096;

/// Makes keys and knows which were used.
pub struct Keys {
    secret: [u8; 32],
    done: VecDeque<(String, Done)>,
}

/// What became of a form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Done {
    /// Where its person was sent.
    pub path: String,
    /// What was said.
    pub lines: Vec<String>,
    /// Nothing is wrong.
    pub good: bool,
    /// The command that did it.
    pub command: String,
}

/// What a key says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Ruling {
    /// One of ours, for the first time.
    Fresh,
    /// One of ours that was done already.
    Again(Done),
    /// Not ours, or that of a program that has ended.
    Foreign,
}

impl Keys {
    /// Begin; keys of an earlier program hold no more.
    ///
    /// # Errors
    /// The system gives no random numbers.
    pub fn new() -> std::io::Result<Self> {
        let mut secret = [0; 32];
        getrandom::fill(&mut secret).map_err(|error| std::io::Error::other(error.to_string()))?;
        Ok(Self { secret, done: VecDeque::new() })
    }

    /// A key for a form that is sent to `path`.
    ///
    /// # Errors
    /// The system gives no random numbers any more.
    pub fn key(&self, path: &str) -> std::io::Result<String> {
        let mut own = [0; HALF];
        getrandom::fill(&mut own).map_err(|error| std::io::Error::other(error.to_string()))?;
        let own = hex(&own);
        Ok(format!("{own}{}", self.seal(&own, path)))
    }

    /// What the key of a form that came to `path` says.
    #[must_use]
    pub fn ruling(&self, key: &str, path: &str) -> Ruling {
        let sealed = key.is_ascii() && key.len() == 4 * HALF && {
            let (own, seal) = key.split_at(2 * HALF);
            self.seal(own, path) == seal
        };
        if !sealed {
            return Ruling::Foreign;
        }
        match self.done(key) {
            Some(done) => Ruling::Again(done),
            None => Ruling::Fresh,
        }
    }

    /// What became of the form with this key.
    #[must_use]
    pub fn done(&self, key: &str) -> Option<Done> {
        self.done.iter().find(|(other, _)| other == key).map(|(_, done)| done.clone())
    }

    /// The form with this key is done.
    pub fn note(&mut self, key: &str, done: Done) {
        self.done.push_back((key.to_owned(), done));
        self.done.drain(..self.done.len().saturating_sub(DONE_MAX));
    }

    /// Only who has the secret can make it (FIPS 180-4's SHA-256 over secret, length and text; the
    /// secret stands first and all parts have one length but the last, which is ours).
    fn seal(&self, own: &str, path: &str) -> String {
        let mut hash = Sha256::new();
        hash.update(self.secret);
        hash.update(own.as_bytes());
        hash.update(path.as_bytes());
        hash.update(self.secret);
        hex(&hash.finalize()[..HALF])
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_form_counts_once_and_only_where_and_when_it_was_made() {
        let mut keys = Keys::new().unwrap();
        let key = keys.key("/rig").unwrap();
        assert_eq!(keys.ruling(&key, "/rig"), Ruling::Fresh);
        assert_eq!(keys.ruling(&key, "/sign"), Ruling::Foreign);
        assert_eq!(Keys::new().unwrap().ruling(&key, "/rig"), Ruling::Foreign);
        for wrong in ["", &key[1..], &format!("{key}0"), &"\u{fc}".repeat(32), &"0".repeat(64)] {
            assert_eq!(keys.ruling(wrong, "/rig"), Ruling::Foreign, "{wrong}");
        }
        let path = "/rig".to_owned();
        let done = Done { path, lines: Vec::new(), good: true, command: String::new() };
        keys.note(&key, done.clone());
        assert_eq!(keys.ruling(&key, "/rig"), Ruling::Again(done));
        assert_eq!(keys.ruling(&keys.key("/rig").unwrap(), "/rig"), Ruling::Fresh);
    }
}
