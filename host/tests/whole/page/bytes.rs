//! The bytes of the page: contrast by its tokens, sizes, and no address of anybody else.

use std::collections::BTreeMap;
use trundle_show::live::page::document::{Form, PageField, PageKind, PageLine, document};
use trundle_show::live::page::{SCRIPT, STYLE};
use trundle_show::stations;

/// Relative luminance as in WCAG 2.2, "relative luminance".
fn luminance(colour: &str) -> f64 {
    let channel = |at: usize| {
        let value = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
}

/// Contrast ratio as in WCAG 2.2, "contrast ratio".
fn contrast(a: &str, b: &str) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// Every block of colours of the style sheet.
fn looks() -> Vec<BTreeMap<String, String>> {
    let blocks = STYLE.split('{').skip(1).filter_map(|block| block.split_once('}'));
    let tokens = blocks.map(|(block, _)| {
        let pairs = block.split(';').filter_map(|line| line.trim().split_once(':'));
        let colours =
            pairs.filter(|(name, value)| name.starts_with("--") && value.trim().starts_with('#'));
        colours.map(|(name, value)| (name.to_owned(), value.trim().to_owned())).collect()
    });
    tokens.filter(|look: &BTreeMap<String, String>| !look.is_empty()).collect()
}

#[test]
fn every_look_can_be_read_in_the_sun() {
    // WCAG 2.2: black on white is 21:1.
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    let looks = looks();
    assert_eq!(looks.len(), 7);
    let pairs = [
        ("--text", "--ground", 10.0),
        ("--text", "--plate", 7.0),
        // The main value, when it is old.
        ("--quiet", "--ground", 10.0),
        ("--quiet", "--plate", 7.0),
        ("--warn", "--ground", 7.0),
        ("--warn", "--plate", 7.0),
        ("--warn-text", "--warn", 7.0),
        ("--act-text", "--act", 7.0),
        ("--act", "--ground", 4.5),
        ("--line", "--ground", 4.5),
        ("--line", "--plate", 4.5),
    ];
    for look in &looks {
        assert_eq!(look.len(), 9, "{look:?}");
        for (fore, back, least) in pairs {
            let ratio = contrast(&look[fore], &look[back]);
            assert!(ratio >= least, "{fore} on {back}: {ratio:.2}, least {least}: {look:?}");
        }
    }
    // What the device asks for and what is chosen by hand are the same looks.
    assert_eq!((&looks[0], &looks[1], &looks[4]), (&looks[2], &looks[3], &looks[5]));
    // Colours stand in tokens alone.
    let loose = STYLE.lines().filter(|line| line.contains('#') && !line.trim().starts_with("--"));
    assert_eq!(loose.collect::<Vec<_>>(), Vec::<&str>::new());
}

/// A reading that is typed, and a press.
const LINES: &[PageLine] = &[
    PageLine {
        button: "Save",
        typed: "d ",
        field: Some(PageField { label: "Distance", number: true }),
    },
    PageLine { button: "Reject the last one", typed: "x", field: None },
];

#[test]
fn nothing_is_loaded_from_anywhere_else_and_nothing_runs_inline() {
    let page =
        |marks, kind| document("Job", None, Form { marks, kind, lines: LINES, after: "/result" });
    let (passes, slip) = (PageKind::Passes, PageKind::Slip);
    let pages = [page(true, passes), page(false, passes), page(true, slip), page(false, slip)];
    for text in [STYLE, SCRIPT, stations::STYLE, stations::SCRIPT]
        .into_iter()
        .chain(pages.iter().map(String::as_str))
    {
        for sign in ["://", "\"//", "'//", "(//", "@import", "url(", "eval(", "innerHTML", "style="]
        {
            assert!(!text.contains(sign), "{sign} in {}", &text[..60]);
        }
    }
    for page in &pages {
        assert!(!page.contains("<style") && !page.contains(" on") || !page.contains(" onclick"));
        let scripts: Vec<_> = page.match_indices("<script").collect();
        assert_eq!(scripts.len(), 1);
        assert!(page.contains("<script src=\"/page.js\" defer></script>"));
        assert!(page.starts_with("<!DOCTYPE html><html lang=\"en\">"));
    }
    assert!(pages[0].contains("id=\"start\"") && !pages[1].contains("id=\"start\""));
    assert!(!pages[1].contains("<form") && !pages[3].contains("<form"));
    // A slip log has a map and nothing to mark; whoever may mark may finish it.
    assert!(pages[2].contains("id=\"map\"") && !pages[2].contains("id=\"start\""));
    assert!(pages[2].contains("id=\"end-now\"") && !pages[3].contains("id=\"end-now\""));
}
