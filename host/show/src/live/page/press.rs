//! What a press on the page asks, and the response to it.

use crate::words as texts;
use crate::words::page as words;
use serde::{Deserialize, Serialize};
use trundle_core::session::presses::{Answer, Due, End, Wish};

/// Longest text of a note or reason, characters; what the capture keeps of it.
const TEXT_MAX: usize = 500;

/// What came with a press. All of it is checked again when it is judged.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PressRequest {
    /// Up to sixteen hexadecimal digits; sent again, it is the same press.
    pub key: String,
    /// The pass it means.
    #[serde(default)]
    pub number: Option<u32>,
    /// The end of it.
    #[serde(default)]
    pub end: Option<String>,
    /// A note, or the reason.
    #[serde(default)]
    pub text: Option<String>,
}

/// A line as it would be typed in the terminal.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LineRequest {
    /// As that of a [`PressRequest`].
    pub key: String,
    /// The line.
    pub text: String,
}

impl LineRequest {
    /// Its key; `None` when it has none.
    #[must_use]
    pub fn key(&self) -> Option<u64> {
        key(&self.key)
    }

    /// The line, cut and without characters that steer; `None` for an empty one.
    #[must_use]
    pub fn line(&self) -> Option<String> {
        tidy(&self.text)
    }
}

fn key(key: &str) -> Option<u64> {
    let digits = key.bytes().all(|byte| byte.is_ascii_hexdigit());
    digits.then(|| u64::from_str_radix(key, 16).ok()).flatten()
}

fn tidy(text: &str) -> Option<String> {
    let clean = |c: char| if c.is_control() { ' ' } else { c };
    let text: String = text.chars().take(TEXT_MAX).map(clean).collect();
    let text = text.trim().to_owned();
    (!text.is_empty()).then_some(text)
}

/// What kind of press.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PressKind {
    /// A mark of start or end.
    Mark,
    /// A mark undone.
    Undo,
    /// A note to be saved.
    Note,
    /// A pass rejected.
    Reject,
}

impl PressRequest {
    /// Its key; `None` when it has none.
    #[must_use]
    pub fn key(&self) -> Option<u64> {
        key(&self.key)
    }

    /// What it asks; `None` when something is missing.
    #[must_use]
    pub fn wish(&self, kind: PressKind) -> Option<Wish> {
        let due = || {
            let end = match self.end.as_deref()? {
                "start" => End::Start,
                "finish" => End::Finish,
                _ => return None,
            };
            Some(Due { number: self.number?, end })
        };
        let text = || tidy(self.text.as_deref()?);
        Some(match kind {
            PressKind::Mark => Wish::Mark(due()?),
            PressKind::Undo => Wish::Undo(due()?),
            PressKind::Note => Wish::Note(text()?),
            PressKind::Reject => Wish::Reject(self.number?, text()?),
        })
    }
}

/// The response to a press.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PressResponse {
    /// What became of it.
    #[serde(flatten)]
    pub answer: Answer,
    /// It was done, now or before.
    pub stands: bool,
    /// The same in words for people.
    pub words: String,
}

impl PressResponse {
    /// Done, in these words.
    #[must_use]
    pub fn plain(words: &str) -> Self {
        Self { answer: Answer::Done { mark: None }, stands: true, words: words.to_owned() }
    }
}

/// The response to a press with this answer; `at` gives the time of day of a host time, `now` is
/// the present one.
#[must_use]
pub fn response(answer: &Answer, now: &str, at: impl Fn(u64) -> String) -> PressResponse {
    let words = match answer {
        Answer::Waiting => words::WAITS.to_owned(),
        Answer::Done { mark } => words::confirmed(now, *mark),
        other => texts::answer(other, at).join(" "),
    };
    let stands = matches!(answer, Answer::Done { .. } | Answer::Already(_));
    PressResponse { answer: answer.clone(), stands, words }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn request(text: &str) -> PressRequest {
        serde_json::from_str(text).unwrap()
    }

    #[test]
    fn a_press_asks_what_it_says_and_nothing_when_half_of_it_is_missing() {
        let mark = request(r#"{"key":"00ff","number":2,"end":"finish"}"#);
        assert_eq!(mark.key(), Some(255));
        let due = Due { number: 2, end: End::Finish };
        assert_eq!(mark.wish(PressKind::Mark), Some(Wish::Mark(due)));
        assert_eq!(mark.wish(PressKind::Note), None);
        assert_eq!(request(r#"{"key":"1","text":" \n "}"#).wish(PressKind::Note), None);
        assert_eq!(request(r#"{"key":"1","end":"start"}"#).wish(PressKind::Mark), None);
        let note = request(r#"{"key":"1","text":"dry\u001b[2J"}"#).wish(PressKind::Note);
        assert_eq!(note, Some(Wish::Note("dry [2J".to_owned())));
        for key in ["", "+1", "-1", "0x1", "11111111111111111", "g"] {
            assert_eq!(PressRequest { key: key.to_owned(), ..mark.clone() }.key(), None, "{key}");
        }
        assert!(serde_json::from_str::<PressRequest>(r#"{"key":"1","more":1}"#).is_err());
    }
}
