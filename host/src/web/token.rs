//! 128 random bits as 32 hexadecimal digits.

use std::fmt;

/// Bytes of a token.
pub const BYTES: usize = 16;

/// A token. Its bits are given out by [`Token::link`] alone, never by a message.
#[derive(Clone, PartialEq, Eq)]
pub struct Token([u8; BYTES]);

impl Token {
    /// A token of 128 bits.
    #[must_use]
    pub const fn new(bits: [u8; BYTES]) -> Self {
        Self(bits)
    }

    /// 128 bits nobody can guess.
    ///
    /// # Errors
    /// The system gives none.
    pub fn random() -> std::io::Result<Self> {
        let mut bits = [0; BYTES];
        getrandom::fill(&mut bits).map_err(|error| std::io::Error::other(error.to_string()))?;
        Ok(Self(bits))
    }

    /// For links and cookies.
    #[must_use]
    pub fn link(&self) -> String {
        trundle_core::units::hex(&self.0)
    }

    /// Is this it? The time taken does not show how much of it is right.
    #[must_use]
    pub fn is(&self, shown: &str) -> bool {
        let own = self.link();
        let same = |a: &[u8], b: &[u8]| a.iter().zip(b).fold(0, |all, (a, b)| all | (a ^ b));
        shown.len() == own.len()
            && std::hint::black_box(same(shown.as_bytes(), own.as_bytes())) == 0
    }
}

impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Token")
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn only_the_whole_token_is_it() {
        let token = Token::random().unwrap();
        let link = token.link();
        assert_eq!(link.len(), 32);
        assert!(token.is(&link));
        assert_ne!(link, Token::random().unwrap().link());
        for wrong in ["", &link[1..], &format!("{link}0"), &link.replace(&link[..1], "g")] {
            assert!(!token.is(wrong), "{wrong}");
        }
        assert_eq!(format!("{token:?}"), "Token");
    }
}
