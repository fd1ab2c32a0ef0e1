//! The page of slip and its map: harmless, whole, readable.

use super::SLIPS;
use std::collections::BTreeSet;
use std::sync::LazyLock;
use trundle_core::survey::slip::Slip;
use trundle_core::survey::slip::compare::Difference;
use trundle_show::html::slip::{STYLE, page};
use trundle_show::html::work::Facts;
use trundle_tests::pages::{NASTY, check_shape, tags};

fn facts() -> Facts {
    Facts {
        capture_name: "wet-headland.capture".to_owned(),
        capture_digest: "9f2c41d07ab3e855".repeat(4),
        started_utc: "2026-05-01T08:00:00.000Z".to_owned(),
        software: "0.1.0".to_owned(),
        practice: true,
        ..Facts::default()
    }
}

fn before(name: &str) -> (String, Difference) {
    let less = Difference {
        difference: -0.021,
        standard_uncertainty: 0.004,
        expanded_uncertainty: 0.009,
        first: 0.11,
        second: 0.089,
        pairs: 61,
        distance_m: 912.0,
    };
    (name.to_owned(), less)
}

fn hostile() -> Facts {
    let text = NASTY.to_owned();
    Facts {
        capture_name: text.clone(),
        capture_digest: text.clone(),
        started_utc: text.clone(),
        software: text,
        practice: false,
        ..Facts::default()
    }
}

static PAGES: LazyLock<Vec<(&str, String)>> = LazyLock::new(|| {
    let mut out: Vec<(&str, String)> = SLIPS
        .iter()
        .map(|(name, slip)| (*name, page(slip, &facts(), Some(&before("before.capture")))))
        .collect();
    out.push(("hostile", page(&SLIPS[0].1, &hostile(), Some(&before(NASTY)))));
    out
});

fn field() -> (&'static Slip, &'static str) {
    (&SLIPS[1].1, &PAGES[1].1)
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
            let idle = ["script", "link", "img", "image", "iframe", "object", "embed", "base", "a"];
            assert!(!idle.contains(&tag.name.as_str()), "{name}: <{}>", tag.name);
            for (key, value) in &tag.attributes {
                let acts = ["src", "style", "srcdoc", "action", "data"];
                assert!(!acts.contains(&key.as_str()), "{name}: {key}={value}");
                assert!(!key.starts_with("on") && !value.contains("//"), "{name}: {key}={value}");
                assert!(key != "href" || value.starts_with('#'), "{name}: {key}={value}");
                assert!(!value.contains("url(") || value.starts_with("url(#"), "{name}: {value}");
            }
        }
        let style = page.split("<style>").nth(1).unwrap().split("</style>").next().unwrap();
        for word in ["url(", "@import", "//", "http", "@font-face"] {
            assert!(!style.contains(word), "{name}: {word} in the style sheet");
        }
        assert!(page.contains("content=\"default-src 'none'; style-src 'unsafe-inline'\""));
        if *name != "hostile" {
            assert!(!page.contains("//") && !page.contains("http:") && !page.contains("https:"));
        }
    }
}

#[test]
fn hostile_names_are_shown_and_do_nothing() {
    let page = &PAGES[2].1;
    let (_, text) = tags(page);
    assert!(text.contains("&lt;script&gt;alert(1)&lt;/script&gt;"));
    assert!(text.contains("[U+0000][U+0007][U+001B][31m[U+009B]"));
    assert_eq!(page.matches("</style>").count(), 1);
    for c in page.chars() {
        let direction = matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
        assert!(!direction && (c == '\n' || !c.is_control()), "{c:?} reached the page");
    }
    let foot = page.split("content: \"Capture ").nth(1).unwrap().split('"').next().unwrap();
    assert!(foot.chars().all(|c| c.is_ascii_hexdigit()), "{foot}");
}

#[test]
fn every_window_is_on_the_map_once_and_its_class_is_hatched() {
    for (name, page) in PAGES.iter().take(2) {
        let slip = &SLIPS.iter().find(|s| s.0 == *name).unwrap().1;
        let bands = |class: usize| {
            let from = format!("<path id=\"bands-{class}\" d=\"");
            let path = page.split(from.as_str()).nth(1).unwrap().split('"').next().unwrap();
            path.matches('Z').count()
        };
        let edges = [-9.0, 0.04, 0.08, 0.12, 0.15, 0.20, 9.0];
        for class in 0..6 {
            let of = |w: &&trundle_core::survey::slip::Section| {
                (edges[class]..edges[class + 1]).contains(&w.slip)
            };
            assert_eq!(bands(class), slip.sections.iter().filter(of).count(), "{name}, {class}");
            assert!(page.contains(&format!("fill=\"url(#hatch-{class})\"")));
            assert!(page.contains(&format!("fill=\"url(#narrow-hatch-{class})\"")));
        }
        let patterns: BTreeSet<&str> = page
            .split("<pattern id=\"hatch-")
            .skip(1)
            .map(|rest| rest.split_once('"').unwrap().1.split("</pattern>").next().unwrap())
            .map(|pattern| pattern.split_once("class=").map_or(pattern, |p| p.0))
            .collect();
        assert_eq!(patterns.len(), 6, "{name}: each class hatched in its own way");
    }
    let (slip, page) = field();
    let flagged = page.split("<path class=\"flagged\" d=\"").nth(1).unwrap();
    let outlines = flagged.split('"').next().unwrap().matches('Z').count();
    assert_eq!(outlines, slip.sections.iter().filter(|w| !w.flags.is_empty()).count());
    assert!(page.contains("warning: see below") && page.contains("out of work"));
    assert!(page.contains("Passes over the same ground are drawn side by side, moved by up to"));
    assert!(!PAGES[0].1.contains("warning: see below"));
}

/// Corners of every band on the map.
fn outlines(page: &str) -> Vec<Vec<(f64, f64)>> {
    let point = |text: &str| {
        let (x, y) = text.split_once(' ').unwrap();
        (x.parse().unwrap(), y.parse().unwrap())
    };
    page.split("<path id=\"bands-")
        .skip(1)
        .flat_map(|rest| rest.split("d=\"").nth(1).unwrap().split('"').next().unwrap().split('Z'))
        .filter(|band| !band.is_empty())
        .map(|band| band.trim_start_matches('M').split('L').map(point).collect())
        .collect()
}

/// Six passes over the same ground, and rows side by side: each has a place of its own. Where a
/// turn crosses its own beginning, bands may meet.
#[test]
fn ways_over_the_same_ground_do_not_hide_each_other() {
    for (name, page) in PAGES.iter().take(2) {
        let bands = outlines(page);
        let middles: Vec<(f64, f64, f64)> = bands
            .iter()
            .map(|band| {
                let n = band.len() as f64;
                let sum = band.iter().fold((0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1));
                let (right, left) = (band[0], band[band.len() - 1]);
                (sum.0 / n, sum.1 / n, (right.0 - left.0).hypot(right.1 - left.1))
            })
            .collect();
        let hidden = middles.iter().enumerate().filter(|(at, a)| {
            middles[at + 1..].iter().any(|b| (a.0 - b.0).hypot(a.1 - b.1) < 0.6 * a.2.min(b.2))
        });
        let hidden = hidden.count();
        assert!(hidden * 20 <= bands.len(), "{name}: {hidden} of {} hidden", bands.len());
    }
}

/// Numbers keep their size in pixels; places are in per cent. At the least width of each of three
/// kinds of page no two may touch.
#[test]
fn numbers_on_the_map_never_overlap() {
    for (name, page) in PAGES.iter().take(2) {
        let height: f64 = page
            .split("viewBox=\"0 0 1000 ")
            .nth(1)
            .and_then(|rest| rest.split('"').next())
            .unwrap()
            .parse()
            .unwrap();
        let plates: Vec<(usize, f64, f64, f64)> = page
            .split("<svg class=\"tier-")
            .skip(1)
            .map(|rest| {
                let value = |key: &str| {
                    let from = rest.split(&format!(" {key}=\"")).nth(1).unwrap();
                    from.split('"').next().unwrap().trim_end_matches('%').parse::<f64>().unwrap()
                };
                (rest[..1].parse().unwrap(), value("x") / 100.0, value("y") / 100.0, value("width"))
            })
            .collect();
        assert!(plates.len() > 10, "{name}: {}", plates.len());
        for (tier, width_px) in [280.0, 440.0, 655.0].into_iter().enumerate() {
            let shown: Vec<_> = plates.iter().filter(|p| p.0 <= tier).collect();
            for (at, a) in shown.iter().enumerate() {
                for b in &shown[at + 1..] {
                    let dx = (a.1 - b.1).abs() * width_px - f64::midpoint(a.3, b.3);
                    let dy = (a.2 - b.2).abs() * width_px * height / 1000.0 - 18.0;
                    assert!(dx > 0.0 || dy > 0.0, "{name}, {width_px}: {a:?} on {b:?}");
                }
            }
        }
    }
}

#[test]
fn the_page_says_what_the_slip_is() {
    for (name, page) in PAGES.iter().take(2) {
        let slip = &SLIPS.iter().find(|s| s.0 == *name).unwrap().1;
        let (_, text) = tags(page);
        let all = &slip.totals.all;
        // 95 % of a normal: 1.96 standard uncertainties.
        let (value, half) = (100.0 * all.slip, 196.0 * all.standard_uncertainty);
        assert!(page.contains(&format!("{value:.2} ± {half:.2}\u{a0}%")), "{name}: {value} {half}");
        assert!(page.contains(&format!("<p class=\"number\">{value:.2}\u{a0}%</p>")), "{name}");
        assert!(text.contains(&format!("slip over {:.0}\u{a0}m", all.distance_m)));
        for above in &slip.share_above {
            let share = format!("{:.0}\u{a0}% of the distance", 100.0 * above.share_of_distance);
            assert!(text.contains(&share), "{name}: {share}");
        }
        let legs = page.matches("data-label=\"Part\"").count();
        assert_eq!(legs, slip.parts.len(), "{name}");
        assert!(text.contains("Right of the middle counts positive and left negative"));
        assert!(text.contains("15\u{a0}% here are 17.6\u{a0}% there"));
        assert!(text.contains("1.8\u{a0}km/h") && text.contains("15\u{a0}m long"));
        let late = format!("delay is {:.0}\u{a0}ms", 1000.0 * slip.lag_s.value);
        assert!(text.contains(&late) && text.contains("End of the result"));
        let changed = "\u{2212}2.10 ± 0.90\u{a0}%";
        assert!(text.contains(changed) && text.contains("61 pairs"), "{name}");
        assert!(text.contains("Less slip than before; the difference is significant."));
        for caution in trundle_core::cautions::ALL {
            assert!(text.contains(&caution.replace('\'', "&#39;")) || text.contains(caution));
        }
    }
    let (_, page) = field();
    assert!(page.contains("LINK_GAP") && page.contains("FIX_QUALITY_CHANGED"));
    assert!(page.contains("\u{2212}0.40\u{a0}m to the right of the middle"));
}

#[test]
fn drawings_are_told_to_those_who_cannot_see_them() {
    for (name, page) in PAGES.iter() {
        let mut drawings = 0;
        for part in page.split("<svg ").skip(1) {
            let (head, body) = part.split_once('>').unwrap();
            if head.contains("role=\"img\"") {
                drawings += 1;
                assert!(body.starts_with("<title id=") && body.contains("</title><desc id="));
                continue;
            }
            let nested = head.contains("overflow=\"");
            assert!(nested || head.contains("aria-hidden=\"true\""), "{name}: {head}");
        }
        assert_eq!(drawings, 3, "{name}: map, histogram, course");
    }
}

#[test]
fn colours_come_from_the_variables() {
    assert!(!STYLE.contains('#') || !STYLE.contains("rgb"));
    for line in STYLE.lines().filter(|line| !line.trim_start().starts_with("/*")) {
        let literal = line.split(": #").nth(1);
        assert!(literal.is_none(), "{line}");
    }
}

#[test]
fn the_same_slip_gives_the_same_page() {
    assert_eq!(PAGES[1].1, page(&SLIPS[1].1.clone(), &facts(), Some(&before("before.capture"))));
    let real = Facts { practice: false, ..facts() };
    let plain = page(&SLIPS[1].1, &real, None);
    assert!(!plain.contains("class=\"practice\"") && !plain.contains("id=\"comparison\""));
}
