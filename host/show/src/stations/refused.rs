//! The page of whoever is not let in: what happened, what it means, what to do.

use crate::words::opening as words;
use maud::{DOCTYPE, html};

/// The page. `said`: why, what it means, what to do next, in the words of the guard; `inside`: on
/// the computer itself; `typed`: a form was sent.
#[must_use]
pub fn page(said: &[String], inside: bool, typed: bool) -> String {
    let next = if inside { words::REFUSED_INSIDE } else { words::REFUSED_OUTSIDE };
    let whole = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (words::REFUSED) " - Trundle" }
                link rel="icon" href="data:,";
                link rel="stylesheet" href="/page.css";
            }
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
                        @if typed { li { (words::REFUSED_TYPED) } }
                    }
                    @if inside { a .wide href="/" { (words::TO_START) } }
                }
            }
        }
    };
    whole.into_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_is_told_what_helps_where_it_is() {
        let said = ["a<b".to_owned()];
        let (inside, outside) = (page(&said, true, false), page(&said, false, true));
        assert!(inside.contains("a&lt;b") && outside.contains("a&lt;b"));
        assert!(inside.contains(words::REFUSED_INSIDE[0]));
        assert!(outside.contains(words::REFUSED_OUTSIDE[0]));
        assert!(!inside.contains(words::REFUSED_TYPED) && outside.contains(words::REFUSED_TYPED));
    }
}
