//! The page of whoever is not let in: what happened, what it means, what to do; and what was typed.

use crate::html::head::head;
use crate::phrases::plain::{block, line};
use crate::words::book;
use crate::words::opening as words;
use maud::{DOCTYPE, Markup, html};

/// What was sent with the request.
#[derive(Clone, Copy, Debug)]
pub enum Sent<'a> {
    /// Nothing.
    Nothing,
    /// Something that is not given back.
    Lost,
    /// A form to this path, with this in it.
    Form(&'a str, &'a [(String, String)]),
}

/// Fields that nobody types.
const UNSEEN: [&str; 4] = ["key", "seen", "press", "deed"];

/// The page. `said`: why, what it means, what to do next, in the words of the guard; `inside`: on
/// the computer itself; `sent`: what came with the request.
#[must_use]
pub fn page(said: &[String], inside: bool, sent: Sent<'_>) -> String {
    let next = if inside { words::REFUSED_INSIDE } else { words::REFUSED_OUTSIDE };
    let whole = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("{} - Trundle", words::REFUSED), None))
            body .station {
                header {
                    p .maker { "Trundle" }
                    h1 { (words::REFUSED) }
                }
                main {
                    div .fault role="alert" { @for words in said { p { (words) } } }
                    h2 { (words::WHAT_NOW) }
                    ul {
                        @for words in next { li { (words) } }
                        @match sent {
                            Sent::Nothing => {},
                            Sent::Lost => li { (words::REFUSED_TYPED) },
                            Sent::Form(..) => li { (words::REFUSED_KEPT) },
                        }
                    }
                    @if let Sent::Form(path, pairs) = sent { (again(path, pairs)) }
                    @if inside {
                        a .wide href="/" { (words::TO_START) }
                        a .wide href=(book::PATH) { (book::HANDBOOK) }
                    }
                }
            }
        }
    };
    whole.into_string()
}

/// What was typed, to be read, and to be sent again once the browser has joined.
fn again(path: &str, pairs: &[(String, String)]) -> Markup {
    let typed = |(name, value): &&(String, String)| {
        !UNSEEN.contains(&name.as_str()) && !value.trim().is_empty()
    };
    html! {
        form .sheet method="post" action=(path) accept-charset="utf-8" {
            h2 { (words::TYPED) }
            dl .lines {
                @for (name, value) in pairs.iter().filter(typed) {
                    div { dt { (line(&name.replace('-', " "))) } dd { (block(value)) } }
                }
            }
            @for (name, value) in pairs { input type="hidden" name=(name) value=(value); }
            button .wide type="submit" { (words::SEND_AGAIN) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_is_told_what_helps_where_it_is() {
        let said = ["a<b".to_owned()];
        let (inside, outside) = (page(&said, true, Sent::Nothing), page(&said, false, Sent::Lost));
        assert!(inside.contains("a&lt;b") && outside.contains("a&lt;b"));
        assert!(inside.contains(words::REFUSED_INSIDE[0]));
        assert!(outside.contains(words::REFUSED_OUTSIDE[0]));
        assert!(!inside.contains(words::REFUSED_TYPED) && outside.contains(words::REFUSED_TYPED));
        assert!(!inside.contains("<form") && !outside.contains("<form"));
    }

    #[test]
    fn what_was_typed_is_given_back_whole_and_harmless() {
        let pair = |name: &str, value: &str| (name.to_owned(), value.to_owned());
        let typed = [pair("key", "00ff"), pair("serial-no", "\"><b>\u{202e}1"), pair("note", "")];
        let shown = page(&[], true, Sent::Form("/rig/tractor", &typed));
        assert!(shown.contains("action=\"/rig/tractor\""), "{shown}");
        assert!(shown.contains(words::REFUSED_KEPT) && shown.contains(words::SEND_AGAIN));
        assert!(!shown.contains("<b>") && shown.contains("&gt;&lt;b&gt;[U+202E]1</dd>"), "{shown}");
        for (name, _) in &typed {
            assert!(shown.contains(&format!("name=\"{name}\"")), "{name}: {shown}");
        }
        assert!(shown.contains("<dt>serial no</dt>") && !shown.contains("<dt>key"), "{shown}");
    }
}
