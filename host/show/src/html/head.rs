//! The head of every page that is served: what it is called, and what it loads from us.

use maud::{Markup, html};

/// The head. Who a request is from is said to a browser by the server, with each answer.
pub(crate) fn head(title: &str, script: Option<&str>) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            title { (title) }
            link rel="icon" href="data:,";
            link rel="stylesheet" href="/page.css";
            @if let Some(script) = script { script src=(script) defer {} }
        }
    }
}
