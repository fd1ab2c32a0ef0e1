//! The sheet of settings as a page.

use super::{RIG, SHEETS};
use trundle_show::html::settings::page;
use trundle_show::text::settings::render;
use trundle_tests::pages::{check_shape, tags};
use trundle_tests::sheets::{SheetSample, sheet, with};

fn sample(name: &str) -> &'static SheetSample {
    SHEETS.iter().find(|one| one.name == name).unwrap()
}

#[test]
fn the_page_is_sound_loads_nothing_and_shows_harm_without_doing_any() {
    for one in SHEETS.iter() {
        let (name, html) = (one.name, page(&one.sheet, one.paper));
        check_shape(name, &html);
        let (tags, text) = tags(&html);
        for tag in &tags {
            let idle = ["script", "link", "img", "iframe", "object", "embed", "form", "a"];
            assert!(!idle.contains(&tag.name.as_str()), "{name}: <{}>", tag.name);
            for key in tag.attributes.keys() {
                let acts = ["src", "href", "style", "action"].contains(&key.as_str());
                assert!(!acts && !key.starts_with("on"), "{name}: {key}");
            }
        }
        for c in html.chars() {
            let turns = matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200f}');
            assert!(!turns && (c == '\n' || !c.is_control()), "{name}: {c:?}");
        }
        assert_eq!(html.matches("<style>").count(), 1, "{name}");
        assert!(html.contains(&format!("content: \"Sheet {}\"", one.sheet.id)), "{name}");
        let stale = one.sheet.state == "out_of_date";
        assert_eq!(text.contains("OUT OF DATE"), stale, "{name}");
        for line in render(&one.sheet).lines().filter(|_| !name.ends_with("long")) {
            assert!(name.ends_with("nasty") || line.chars().count() <= 100, "{name}: {line}");
        }
    }
}

#[test]
fn the_page_shows_every_number_with_where_it_comes_from_and_the_drawing_its_sign() {
    let one = sample("sheet-whole");
    let html = page(&one.sheet, one.paper);
    let text = tags(&html).1.replace('\u{a0}', " ");
    for setting in &one.sheet.settings {
        let number = setting.to_enter.unwrap().abs();
        assert!(text.contains(&number.to_string()), "{}: {number}", setting.key);
        let record = setting.record.as_ref();
        assert!(record.is_none_or(|id| text.contains(&format!("record {id}"))), "{setting:?}");
        assert!(setting.signs.as_ref().is_none_or(|signs| text.contains(signs)), "{setting:?}");
    }
    for word in ["+ right", "\u{2212} left", "+ ahead", "\u{2212} behind", "coupling point"] {
        assert!(text.contains(word), "{word}");
    }
    assert!(text.contains("in force") && text.contains("not in force"));
    // An antenna on the other side is drawn on the other side.
    let at = |right: f64, ahead: f64| {
        let rig = with(with(RIG.clone(), "antenna_right", right), "antenna_ahead", ahead);
        let html = page(&sheet(&rig, &[]), one.paper);
        let circle = tags(&html)
            .0
            .into_iter()
            .find(|tag| tag.attributes.get("class").is_some_and(|class| class == "antenna"));
        let circle = circle.unwrap().attributes;
        let number = |key: &str| circle[key].parse::<f64>().unwrap();
        (number("cx"), number("cy"))
    };
    let (right, left) = (at(0.3, 1.5), at(-0.3, -0.5));
    assert!(right.0 > left.0 && right.1 < left.1, "{right:?} {left:?}");
}
