//! The stations in another language: every page is said whole, and the numbers stay.

use super::forms::Page;
use super::house::House;
use crate::support::{TempDir, in_tree, trundle_in};
use std::collections::BTreeSet;
use trundle::commands::book::commands;
use trundle::stations::table;
use trundle_show::tongue::{Kind, Tongue, tried};

/// What people typed, names, and what is the same in both languages.
const NAMES: [&str; 18] = [
    "Big one",
    "Big one, wide",
    "Wide",
    "wide",
    "A. Driver",
    "Field works",
    "Own build",
    "km/h",
    "mph",
    "bar",
    "psi",
    "trundle",
    "1.2 bar",
    "1.20 bar)",
    "csv",
    "json",
    "parquet",
    "iii",
];

/// Every page that a browser comes to from the first one, without those that are files.
fn pages(house: &House) -> Vec<(String, String)> {
    let mut waiting: Vec<String> =
        table::paths().iter().map(|row| row.path.to_owned()).filter(|p| !p.contains('*')).collect();
    waiting.push("/".to_owned());
    let (mut seen, mut all) = (BTreeSet::new(), Vec::new());
    while let Some(path) = waiting.pop() {
        // The handbook has a language in each of its parts.
        if !seen.insert(path.clone()) || path.starts_with("/handbook") || all.len() > 150 {
            continue;
        }
        let answer = house.get(&path);
        if !answer.head.contains("text/html") {
            continue;
        }
        let links = Page::read(&answer.body).links.into_iter();
        let links = links.map(|link| link.split('#').next().unwrap().to_owned());
        waiting.extend(links.filter(|link| link.starts_with('/') && !link.starts_with("/join")));
        all.push((path, answer.body));
    }
    all
}

#[test]
fn every_page_is_said_whole_in_each_language() {
    let house = House::start();
    house.fill();
    let pages = pages(&house);
    assert!(pages.len() > 40, "only {} pages", pages.len());
    let mut left = BTreeSet::new();
    for (path, page) in &pages {
        let said = tried(None, Kind::Markup, page);
        left.extend(said.left.into_iter().map(|words| format!("{words:?} at {path}")));
        assert_eq!(numbers(&said.text), numbers(page), "{path}");
    }
    left.retain(|words| !NAMES.iter().any(|name| words.starts_with(&format!("\"{name}"))));
    assert!(left.is_empty(), "{} pieces have no German:\n{left:#?}", left.len());
}

#[test]
fn the_browser_and_the_settings_choose_and_no_value_changes() {
    let house = House::start();
    house.fill();
    let list = house.get("/records").body;
    let id = list.split("/records/").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let path = format!("/paper/{id}?form=short&sheet=a4");
    let asked = |language: &'static str| {
        let mut ask = house.ask("GET", &path, &house.full);
        ask.more.push(language);
        house.send(&ask).body
    };
    let english = asked("Accept-Language: en-GB,en");
    let german = asked("Accept-Language: de-AT,de;q=0.8,en;q=0.5");
    assert!(english.contains("<html lang=\"en\"") && german.contains("<html lang=\"de\""));
    assert_eq!(numbers(&german), numbers(&english));
    assert!(german.contains("Impulse je 100"), "{german}");
    // What is chosen in the settings holds against what the browser would like.
    let form = house.form("/settings", "/settings");
    assert!(house.post("/settings", &form.with(&[("language", "de")])).status < 400);
    assert_eq!(asked("Accept-Language: en-GB,en"), german);
}

#[test]
fn what_was_typed_keeps_its_points() {
    let house = House::start();
    house.typed(&["tractor", "add", "Trac 6.140"]);
    house.typed(&["tyres", "add", "Set 16.9", "--size", "16.9 R34", "--circumference", "4.85"]);
    let rig = ["rig", "add", "Field 7.5", "--tractor", "Trac 6.140", "--tyres", "Set 16.9"];
    house.typed(&[&rig[..], &["--source", "wheel"]].concat());
    let capture = in_tree("logs/simulated-rtk.capture").canonicalize().unwrap();
    house.typed(&["sign", &capture.display().to_string()]);
    let german = |path: &str| {
        let mut ask = house.ask("GET", path, &house.full);
        ask.more.push("Accept-Language: de");
        house.send(&ask).body
    };
    let list = german("/records");
    let id = list.split("/records/").nth(1).unwrap().split('"').next().unwrap();
    let paper = format!("/paper/{id}?form=full&sheet=a4");
    for path in [&paper, "/", "/rig", "/records", "/sheet?show=yes", "/history?show=yes"] {
        let page = german(path);
        assert!(page.contains("Field 7.5"), "{path}: {page}");
        for name in ["Field 7,5", "Trac 6,140", "Set 16,9", "16,9 R34"] {
            assert!(!page.contains(name), "{name} at {path}");
        }
    }
    let page = german(&paper);
    for words in ["Trac 6.140", "Set 16.9", "16.9 R34", "4,85 m"] {
        assert!(page.contains(words), "{words}: {page}");
    }
}

/// Numbers of a page in their order, with points; what is markup is none.
fn numbers(page: &str) -> Vec<String> {
    let text: String =
        page.split('<').filter_map(|part| part.split_once('>')).map(|(_, text)| text).collect();
    let mut all: Vec<String> = text
        .replace(',', ".")
        .split(|c: char| !(c.is_ascii_digit() || c == '.'))
        .map(|number| number.trim_matches('.').to_owned())
        .filter(|number| number.contains(|c: char| c.is_ascii_digit()))
        .collect();
    // A sentence may put its values in another order.
    all.sort();
    all
}

#[test]
fn what_every_command_says_of_every_capture_is_said_whole() {
    let folder = in_tree("logs");
    let captures = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let captures = captures.filter(|path| path.extension().is_some_and(|end| end == "capture"));
    let captures: Vec<_> = captures.collect();
    assert!(captures.len() > 3, "{captures:?}");
    let mut left = BTreeSet::new();
    for capture in captures {
        let capture = capture.display().to_string();
        for command in ["work", "check", "speeds", "slip", "pto", "mount", "proof", "bus"] {
            let end = trundle_in(&[command, &capture], &[]);
            for text in [end.stdout, end.stderr] {
                let said = tried(None, Kind::Lines, &text);
                left.extend(said.left.into_iter().map(|words| format!("{words:?}: {command}")));
                let numbers = |text: &str| numbers(&format!("<p>{text}"));
                assert_eq!(numbers(&said.text), numbers(&text), "{command} {capture}");
            }
        }
    }
    assert!(left.is_empty(), "{} pieces have no German:\n{left:#?}", left.len());
}

#[test]
fn help_is_said_whole() {
    let mut left = BTreeSet::new();
    for command in commands() {
        let options = command.options.iter().map(|option| &option.about);
        for about in options.chain([&command.about]) {
            for paragraph in about.split('\n') {
                let said = tried(None, Kind::Lines, paragraph);
                left.extend(
                    said.left.into_iter().map(|words| format!("{}: {words}", command.name)),
                );
            }
        }
    }
    assert!(left.is_empty(), "{} pieces have no German:\n{left:#?}", left.len());
}

#[test]
fn a_command_speaks_german_and_its_files_do_not() {
    let folder = TempDir::new();
    let capture = in_tree("logs/simulated-rtk.capture").display().to_string();
    let work = |more: &[&str]| trundle_in(&[&["work", &capture], more].concat(), &[]);
    let (english, german) = (work(&[]), work(&["--language", "de"]));
    assert_eq!(english.code, german.code);
    assert!(german.stdout.contains("Impulse je 100 m"), "{}", german.stdout);
    let numbers = |text: &str| numbers(&format!("<p>{text}"));
    assert_eq!(numbers(&german.stdout), numbers(&english.stdout));
    assert_eq!(work(&["--json", "--language=de"]).stdout, work(&["--json"]).stdout);
    let (one, two) = (folder.file("en.html"), folder.file("de.html"));
    assert_eq!(work(&["--report", &one]).code, work(&["--report", &two, "--language", "de"]).code);
    let page = std::fs::read_to_string(two).unwrap();
    assert_eq!(Tongue::German.markup(&std::fs::read_to_string(one).unwrap()), page);
    let wrong = |more: &[&str]| trundle_in(&[&["work", "nowhere.capture"], more].concat(), &[]);
    let (english, german) = (wrong(&[]), wrong(&["--language", "de"]));
    let said = tried(None, Kind::Lines, &english.stderr);
    assert!(said.left.is_empty(), "{:?}", said.left);
    assert_eq!((german.code, german.stderr), (english.code, said.text));
}
