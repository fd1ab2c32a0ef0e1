//! A secret of one server, which lies in a private file beside its data: whoever can read that
//! may ask whether the server is ours, and make links to join that hold once.

use super::token::Token;
use sha2::{Digest as _, Sha256};
use trundle_core::units::hex;

/// Digits of a question, and of the part of a link that differs from link to link.
const HALF: usize = 32;
/// What a digest is for, so that none can stand for another.
const ALIVE: &[u8] = b"trundle alive";
const JOIN: &[u8] = b"trundle join";

/// The secret.
#[derive(Clone, PartialEq, Eq)]
pub struct Latch(Token);

impl Latch {
    /// One that nobody can guess.
    ///
    /// # Errors
    /// The system gives no random numbers.
    pub fn random() -> std::io::Result<Self> {
        Token::random().map(Self)
    }

    /// One of a token that nobody has seen.
    #[must_use]
    pub const fn new(secret: Token) -> Self {
        Self(secret)
    }

    /// As it stands in the file; `None` for what is none.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let digit = |at: usize| u8::from_str_radix(text.get(at..at + 2)?, 16).ok();
        let mut bits = [0; super::token::BYTES];
        for (n, byte) in bits.iter_mut().enumerate() {
            *byte = digit(2 * n)?;
        }
        is_half(text).then_some(Self(Token::new(bits)))
    }

    /// For the file.
    #[must_use]
    pub fn written(&self) -> String {
        self.0.link()
    }

    /// A question that was never asked before.
    ///
    /// # Errors
    /// The system gives no random numbers.
    pub fn question() -> std::io::Result<String> {
        Ok(Token::random()?.link())
    }

    /// What only a server with this secret answers to a question; `None` for what is no question.
    #[must_use]
    pub fn answer(&self, question: &str) -> Option<String> {
        is_half(question).then(|| self.digest(ALIVE, question))
    }

    /// A link to join, for one use: what stands behind `/join/`.
    ///
    /// # Errors
    /// The system gives no random numbers.
    pub fn once(&self) -> std::io::Result<String> {
        let own = Self::question()?;
        Ok(format!("{own}{}", self.digest(JOIN, &own)))
    }

    /// Was this link made with the secret?
    #[must_use]
    pub fn made(&self, shown: &str) -> bool {
        let Some((own, proof)) = shown.split_at_checked(HALF) else { return false };
        // Of equal length, or unequal at once; the time shows nothing of the digits.
        is_half(own) && Latch::same(&self.digest(JOIN, own), proof)
    }

    fn same(own: &str, shown: &str) -> bool {
        let unlike = |(a, b): (u8, u8)| a ^ b;
        own.len() == shown.len()
            && std::hint::black_box(
                own.bytes().zip(shown.bytes()).map(unlike).fold(0, |a, b| a | b),
            ) == 0
    }

    fn digest(&self, purpose: &[u8], half: &str) -> String {
        let mut sum = Sha256::new();
        for part in [self.0.link().as_bytes(), purpose, half.as_bytes(), self.0.link().as_bytes()] {
            sum.update(part);
        }
        hex(&sum.finalize()[..HALF / 2])
    }
}

impl std::fmt::Debug for Latch {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Latch")
    }
}

fn is_half(text: &str) -> bool {
    text.len() == HALF && text.bytes().all(|digit| matches!(digit, b'0'..=b'9' | b'a'..=b'f'))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn only_the_secret_answers_and_makes_links() {
        let (own, other) = (Latch::random().unwrap(), Latch::random().unwrap());
        assert_eq!(Latch::read(&own.written()), Some(own.clone()));
        let question = Latch::question().unwrap();
        assert_eq!(own.answer(&question), own.clone().answer(&question));
        assert_ne!(own.answer(&question), other.answer(&question));
        let link = own.once().unwrap();
        assert!(own.made(&link) && !other.made(&link));
        assert_ne!(link, own.once().unwrap());
        // An answer that anybody may ask for is no link.
        let answer = own.answer(&question).unwrap();
        assert!(!own.made(&format!("{question}{answer}")));
        for wrong in ["", &link[1..], &link[..HALF], &format!("{link}0"), &link.to_uppercase()] {
            assert!(!own.made(wrong), "{wrong}");
        }
        for wrong in ["", "x", &question[1..], "0123456789abcdef0123456789abcdeG", "\u{fc}"] {
            assert_eq!((own.answer(wrong), Latch::read(wrong)), (None, None), "{wrong}");
        }
        assert_eq!(format!("{own:?}"), "Latch");
    }
}
