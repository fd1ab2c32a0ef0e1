//! The page of a result: harmless whatever stands in it, sound as a document, readable.
//!
//! Outside sources: WCAG 2.2 (W3C, 2023-10-05) for the contrast ratio and relative luminance;
//! the HTML standard (WHATWG) for void elements, unique ids and table scopes.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;
use trundle_core::result::work_v1::WorkV1;
use trundle_core::stats::budget::rounding::round_pair;
use trundle_show::html::work::{Facts, STYLE, page};
use trundle_sim::{Fault, Scenario};
use trundle_tests::pages::{NASTY, check_shape, contrast, tags};
use trundle_tests::{plain_course, replay, simulated_work, work_session};

fn job(scenario: &Scenario, course_m: f64) -> WorkV1 {
    WorkV1::of(&simulated_work(scenario, 21, &plain_course(course_m)).0)
}

static CLEAN: LazyLock<WorkV1> = LazyLock::new(|| job(&Scenario::default(), 100.0));

/// Pages of unlike jobs, by name.
static PAGES: LazyLock<Vec<(&str, String)>> = LazyLock::new(|| {
    let silent = Scenario {
        faults: vec![Fault::ReceiverSilent { from_s: 0.0, to_s: 1e6 }],
        ..Scenario::default()
    };
    let reset = Scenario::named("board-reset").unwrap();
    let rolling = Scenario::named("rolling-button").unwrap();
    let plain = facts();
    vec![
        ("clean", page(&CLEAN, &plain)),
        ("contradicting", page(&job(&Scenario::default(), 101.0), &plain)),
        ("no receiver", page(&job(&silent, 100.0), &plain)),
        ("refused pass", page(&job(&reset, 100.0), &plain)),
        ("on the move", page(&job(&rolling, 100.0), &plain)),
        ("nothing driven", page(&WorkV1::of(&work_session(&replay(&[]), None)), &Facts::default())),
        ("hostile", page(&CLEAN, &hostile())),
    ]
});

fn facts() -> Facts {
    Facts {
        capture_name: "six-passes.trundle".to_owned(),
        capture_digest: "9f2c41d07ab3e855".repeat(4),
        started_utc: "2026-05-01T08:00:00.000Z".to_owned(),
        software: "0.1.0".to_owned(),
        practice: true,
        course_text: Some("[course]\nnominal_m = 100\n".to_owned()),
        notes: vec!["Stubble, dry.".to_owned()],
    }
}

fn hostile() -> Facts {
    let text = NASTY.to_owned();
    let long = NASTY.repeat(10_000 / NASTY.len() + 1);
    Facts {
        capture_name: text.clone(),
        capture_digest: text.clone(),
        started_utc: text.clone(),
        software: text.clone(),
        practice: false,
        course_text: Some(long.clone()),
        notes: vec![text, long, "x".repeat(10_000), String::new()],
    }
}

#[test]
fn tags_are_balanced_and_ids_unique() {
    for (name, page) in PAGES.iter() {
        check_shape(name, page);
    }
}

#[test]
fn nothing_is_loaded_and_nothing_runs() {
    for (name, page) in PAGES.iter() {
        let (tags, _) = tags(page);
        for tag in &tags {
            let idle = ["script", "link", "img", "iframe", "object", "embed", "base", "form", "a"];
            assert!(!idle.contains(&tag.name.as_str()), "{name}: <{}>", tag.name);
            for (key, value) in &tag.attributes {
                let acts = ["src", "href", "style", "srcdoc", "action", "data"];
                assert!(!acts.contains(&key.as_str()), "{name}: {key}={value}");
                assert!(!key.starts_with("on") && !value.contains("//"), "{name}: {key}={value}");
            }
        }
        let from = page.find("<style>").unwrap();
        let style = &page[from..page.find("</style>").unwrap()];
        for word in ["url(", "@import", "//", "http", "expression", "@font-face"] {
            assert!(!style.contains(word), "{name}: {word} in the style sheet");
        }
        assert!(page.contains("content=\"default-src 'none'; style-src 'unsafe-inline'\""));
        if *name != "hostile" {
            assert!(!page.contains("//") && !page.contains("http:") && !page.contains("https:"));
        }
    }
}

#[test]
fn hostile_text_is_shown_and_does_nothing() {
    let page = page(&CLEAN, &hostile());
    let (_, text) = tags(&page);
    assert_eq!(page.matches("<style>").count(), 1);
    assert_eq!(page.matches("</style>").count(), 1);
    assert!(text.contains("&lt;script&gt;alert(1)&lt;/script&gt;"));
    assert!(text.contains("[U+202E]desrever[U+2066][U+2069][U+200F][U+FEFF][U+2028][U+E0041]"));
    assert!(text.contains("[U+0000][U+0007][U+001B][31m[U+009B]"));
    assert!(text.contains(&"x".repeat(10_000)), "a long note is cut");
    for c in page.chars() {
        let direction = matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}'
            | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
        assert!(!direction && (c == '\n' || !c.is_control()), "{c:?} reached the page");
    }
    // The digest reaches the style sheet: only hexadecimal digits of it may.
    let foot = page.split("content: \"Capture ").nth(1).unwrap();
    let shown = foot.split('"').next().unwrap();
    assert!(shown.chars().all(|c| c.is_ascii_hexdigit()), "{shown}");
}

#[test]
fn the_document_is_readable_by_machines_for_people() {
    for (name, page) in PAGES.iter() {
        assert!(page.contains("<html lang=\"en\">") && page.contains("<title>"), "{name}");
        let (tags, _) = tags(page);
        let mut level = 0;
        for tag in tags.iter().filter(|t| !t.closes) {
            if let Some(digit) = tag.name.strip_prefix('h').and_then(|d| d.parse::<u32>().ok()) {
                assert!(digit <= level + 1, "{name}: h{digit} after h{level}");
                assert!(digit > 1 || level == 0, "{name}: a second h1");
                level = digit;
            }
            if tag.name == "th" {
                let scope = &tag.attributes["scope"];
                assert!(scope == "col" || scope == "row", "{name}: scope {scope}");
            }
        }
        let count = |wanted: &str| tags.iter().filter(|t| !t.closes && t.name == wanted).count();
        assert_eq!(count("table"), count("caption"), "{name}: a table without a caption");
        assert_eq!(count("main"), 1, "{name}");
    }
}

#[test]
fn every_drawing_has_title_and_description_or_is_hidden() {
    let mut drawings = 0;
    for (name, page) in PAGES.iter() {
        for part in page.split("<svg ").skip(1) {
            let head = part.split('>').next().unwrap();
            if head.contains("role=\"img\"") {
                drawings += 1;
                let body = part.split_once('>').unwrap().1;
                assert!(body.starts_with("<title id="), "{name}: {body:.80}");
                assert!(body.contains("</title><desc id="), "{name}: {body:.80}");
                assert!(body.contains("impulses per 100 m"), "{name}: no unit along the axis");
                continue;
            }
            // Marks inside a drawing are nested drawings placed by x and y.
            let nested = head.contains("overflow=\"visible\"");
            assert!(nested || head.contains("aria-hidden=\"true\""), "{name}: {head}");
        }
    }
    assert!(drawings >= 8, "only {drawings} drawings in all pages");
}

#[test]
fn shapes_differ_where_colours_do() {
    let page = &PAGES[0].1;
    let shape = |series: &str| {
        let class = format!("class=\"mark {series}\" d=\"");
        page.split(class.as_str()).nth(1).unwrap().split('"').next().unwrap().to_owned()
    };
    let shapes = BTreeSet::from([shape("tape"), shape("satellite"), shape("combined")]);
    assert_eq!(shapes.len(), 3);
}

/// The themes of the style sheet: variables with a plain colour, by name.
fn themes() -> Vec<BTreeMap<String, String>> {
    let blocks = STYLE.split(":root {").skip(1).map(|b| b.split('}').next().unwrap());
    let read = |block: &str| {
        block
            .split(';')
            .filter_map(|line| line.trim().strip_prefix("--")?.split_once(": "))
            .filter(|(_, value)| value.starts_with('#'))
            .map(|(key, value)| (key.to_owned(), value.trim().to_owned()))
            .collect::<BTreeMap<_, _>>()
    };
    blocks.map(read).filter(|theme| !theme.is_empty()).collect()
}

#[test]
fn every_text_has_a_contrast_of_seven() {
    // The formula against known values: black on white is 21; #767676 on white is the lightest
    // grey that reaches 4.5 (WCAG 2.2 working group's own example, from memory).
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    assert!(contrast("#767676", "#ffffff") >= 4.5 && contrast("#777777", "#ffffff") < 4.5);
    let themes = themes();
    assert_eq!(themes.len(), 3, "light, dark and paper");
    for theme in &themes {
        for ground in ["paper", "panel", "band"] {
            // Text on the band: none but marks; on paper and panel: all.
            let least = if ground == "band" { 4.5 } else { 7.0 };
            for text in ["ink", "soft", "tape", "satellite", "alarm"] {
                let ratio = contrast(&theme[text], &theme[ground]);
                assert!(ratio >= least, "{text} on {ground}: {ratio:.2} in {theme:?}");
            }
        }
        assert!(contrast(&theme["ink"], &theme["paper"]) >= 10.0, "the large number");
        let rule = contrast(&theme["rule"], &theme["paper"]);
        assert!(rule >= 4.5, "lines that carry meaning: {rule:.2}");
    }
}

#[test]
fn no_colour_is_set_past_the_variables() {
    let after = STYLE.split("box-sizing").nth(1).unwrap();
    assert!(!after.contains('#') || !after.split('#').skip(1).any(is_colour), "a colour literal");
    assert!(!after.contains("rgb"));
}

/// Does what follows a `#` read as a colour rather than as an id?
fn is_colour(after: &str) -> bool {
    let word: String = after.chars().take_while(char::is_ascii_alphanumeric).collect();
    matches!(word.len(), 3 | 6 | 8) && word.chars().all(|c| c.is_ascii_hexdigit())
}

#[test]
fn the_same_work_gives_the_same_bytes() {
    let again = page(&job(&Scenario::default(), 100.0), &facts());
    assert_eq!(PAGES[0].1, again);
}

#[test]
fn the_page_says_what_the_result_says() {
    let clean = &PAGES[0].1;
    for (name, channel) in &CLEAN.channels {
        let digits = channel.value_to_enter.unwrap().to_string();
        let set = format!("<span>{}</span><span>{}</span>", &digits[..2], &digits[2..]);
        assert!(clean.contains(&set), "{digits} is not set large");
        assert!(clean.contains(&format!("{name} {digits}")), "not in the title");
    }
    assert!(clean.contains("Tape and satellite agree"));
    assert!(clean.contains("No warning applies to this result"));
    let contradicting = &PAGES[1].1;
    assert!(contradicting.contains("Do not enter a number from this page"));
    assert!(!contradicting.contains("class=\"number\""), "a figure where none may be");
    let refused = &PAGES[3].1;
    assert!(refused.contains("BOARD_RESET") && refused.contains(">not used</text>"));
    assert!(PAGES[5].1.contains("NO_PASS"));
}

/// Page and result file are two prints of one result: whole columns of them are compared.
#[test]
fn the_page_and_the_result_file_give_the_same_figures() {
    let clean = &PAGES[0].1;
    let result: serde_json::Value = serde_json::from_str(&CLEAN.to_json()).unwrap();
    for name in CLEAN.channels.keys() {
        for side in ["tape", "satellite", "combined"] {
            let figure = &result["channels"][name][side];
            let (value, half) = (
                figure["impulses_per_100m"].as_f64().unwrap(),
                figure["expanded_uncertainty"].as_f64().unwrap(),
            );
            let rounded = round_pair(value, half);
            let places = usize::try_from(rounded.decimals.max(0)).unwrap();
            assert!(clean.contains(&format!("<span>{:.places$}</span>", rounded.value)), "{side}");
            let factor = figure["coverage_factor"].as_f64().unwrap();
            assert!(clean.contains(&format!("<span>{factor:.2}</span>")), "{side}: k {factor}");
            let said = format!("The {side} value is {value:.1} ± {half:.1}.");
            assert!(clean.contains(&said), "{said}");
        }
    }
}

#[test]
fn practice_is_told_and_only_then() {
    let real = Facts { practice: false, ..facts() };
    assert!(PAGES[0].1.contains("class=\"practice\""));
    assert!(!page(&CLEAN, &real).contains("class=\"practice\""));
}
