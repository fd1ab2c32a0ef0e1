//! A result as a page that shows the lines of the terminal: for results without tables of their
//! own.

use super::page::{Page, document, header, section};
use maud::html;

/// The page: `text` as the terminal shows it.
#[must_use]
pub fn page(title: &str, text: &str, practice: bool) -> String {
    let lines: Vec<&str> = text.trim_end().lines().collect();
    let body = html! { pre { @for line in &lines { (crate::phrases::plain::line(line)) "\n" } } };
    document(&Page {
        title,
        digest: "",
        style: STYLE,
        practice: practice.then_some("act on none of it"),
        header: header(title, &html! {}),
        main: section("lines", "In words", &body),
    })
}

/// Long lines of a terminal are broken, not cut off.
const STYLE: &str = "pre { white-space: pre-wrap; font: inherit; }\n";

#[cfg(test)]
mod tests {
    #[test]
    fn lines_stay_lines_and_say_nothing_to_the_browser() {
        let page = super::page("Check", "a <b>\n  c\u{202e}\n", true);
        assert!(page.contains("a &lt;b&gt;\n  c"), "{page}");
        assert!(!page.contains('\u{202e}') && page.contains("simulator"), "{page}");
    }
}
