//! Paper of signed-off records: harmless whatever stands in it, complete, and true to the JSON.
//!
//! Outside sources: ISO/IEC 17025:2017, 7.8.2.1 a to p as read in a stored copy, 7.8.4.1 a to e as
//! read in a translation (GOST ISO/IEC 17025-2019); 7.8.2.2, 7.8.4.1 f, 7.8.4.3 and 7.8.8 from
//! summaries, not read; JCGM 100:2008, 7.2.6, for the two digits of an uncertainty.

mod numbers;
mod reading;
mod short;

use std::sync::LazyLock;
use trundle_core::result::sign_off::left_in_terminal;
use trundle_core::result::work_v1::{FigureV1, WorkV1};
use trundle_show::html::record::STYLE;
use trundle_show::html::{record as record_html, record_short as record_short_html};
use trundle_show::text::record as record_text;
use trundle_tests::pages::{check_shape, tags};
use trundle_tests::papers::{Sample, samples};

struct Printed {
    sample: Sample,
    /// Of its course, where it holds one.
    course: Option<WorkV1>,
    long: String,
    short: String,
    text: String,
}

impl Printed {
    fn work(&self) -> &WorkV1 {
        self.course.as_ref().unwrap()
    }
}

/// Those with a course.
fn of_courses() -> impl Iterator<Item = &'static Printed> {
    PRINTED.iter().filter(|one| one.course.is_some())
}

/// The value to enter, as text.
fn entered(one: &Printed) -> String {
    one.sample.record.to_enter.unwrap().to_string()
}

static PRINTED: LazyLock<Vec<Printed>> = LazyLock::new(|| {
    samples()
        .into_iter()
        .map(|sample| {
            let (record, facts) = (&sample.record, &sample.facts);
            let course = record.worked().unwrap();
            let long = record_html::page(record, course.as_ref(), facts);
            let short = record_short_html::page(record, course.as_ref(), facts);
            let text = record_text::render(record, course.as_ref(), facts);
            Printed { sample, course, long, short, text }
        })
        .collect()
});

fn printed(name: &str) -> &'static Printed {
    PRINTED.iter().find(|one| one.sample.name == name).unwrap()
}

/// What a reader sees, entities undone, every run of space as one.
fn seen(page: &str) -> String {
    let (_, text) = tags(page);
    let text = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"");
    text.replace("&amp;", "&").replace('\u{a0}', " ")
}

fn pages() -> impl Iterator<Item = (String, &'static str)> {
    PRINTED.iter().flat_map(|one| {
        let name = one.sample.name;
        [(name.to_owned(), one.long.as_str()), (format!("{name}, short"), one.short.as_str())]
    })
}

#[test]
fn tags_are_balanced_and_ids_unique() {
    for (name, page) in pages() {
        check_shape(&name, page);
    }
}

#[test]
fn nothing_is_loaded_and_nothing_runs() {
    for (name, page) in pages() {
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
        let style = &page[page.find("<style>").unwrap()..page.find("</style>").unwrap()];
        for word in ["url(", "@import", "//", "http", "expression", "@font-face"] {
            assert!(!style.contains(word), "{name}: {word} in the style sheet");
        }
        assert!(page.contains("content=\"default-src 'none'; style-src 'unsafe-inline'\""));
        assert!(name.starts_with("nasty") || !page.contains("//"), "{name}: an address");
    }
}

#[test]
fn hostile_text_is_shown_and_does_nothing() {
    let one = printed("nasty");
    for page in [&one.long, &one.short] {
        assert_eq!(page.matches("<style>").count(), 1);
        assert_eq!(page.matches("</style>").count(), 1);
        for c in page.chars() {
            let turns = matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}'
                | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
            assert!(!turns && (c == '\n' || !c.is_control()), "{c:?} reached the page");
        }
        let margin = page.split("content: \"Record ").nth(1).unwrap().split('"').next().unwrap();
        assert_eq!(margin, one.sample.record.id, "the margin holds a sealed identity as it is");
        let above = page.split("Superseded by record ").nth(1).unwrap();
        let above = above.split('"').next().unwrap();
        let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
        assert!(above.chars().all(plain), "{above:?} reached the style sheet");
    }
    let (_, text) = tags(&one.long);
    assert!(text.matches("&lt;script&gt;alert(1)&lt;/script&gt;").count() > 40);
    assert!(text.contains("[U+202E]desrever[U+2066][U+2069]"));
    let steers = |c: char| trundle_core::rig::steers(c) && c != '\n';
    assert!(!one.text.contains(steers), "a terminal would be steered");
}

/// Every content that the standard asks for, and where it is met: the clause, what is looked for.
const CONTENTS: &[(&str, &[&str])] = &[
    ("7.8.2.1 a, title", &["Calibration record: impulses per 100 m"]),
    (
        "b, name and address",
        &["Measured byNameA. Measurer", "Measurer & Daughter", "1 Example Lane"],
    ),
    ("c, where", &["PlaceHeadland of the long field, by the weighbridge"]),
    ("d, identification and end", &["Record20260501-", "End of record 20260501-"]),
    ("e, customer and contact", &["CustomerNameB. Grower", "grower@farm.example"]),
    ("f, method", &["measured-course, version 1"]),
    (
        "g, item",
        &["INV-004512", "480/70 R 38", "120 kPa", "30 %", "3c5f-0081-77aa", "implement speed from"],
    ),
    ("h, receipt", &["Date of receiptnone: measured where it stood"]),
    ("i, dates of performance", &["Passes driven2026-05-01 08:00:"]),
    ("j, date of issue", &["Issued2026-05-01 09:12:30 UTC"]),
    ("k, sampling", &["Every pass driven is listed", "rejected: the board restarted"]),
    ("l, only the item", &["results relate only to the item described here"]),
    ("m, results with units", &["impulses per 100 m", "By satellite, m", "Per 100 m, tape"]),
    ("n, deviations", &["Additions, deviations and exclusions", "Pass 2 rejected", "Assumed"]),
    ("o, who authorised", &["Signed off by A. Measurer", "Signature", "Place and date"]),
    ("p, external providers", &["come from the satellite receiver and its services"]),
    ("7.8.2.2, told by customer", &["INV-004512 (stated by the customer)", "was not checked"]),
    ("7.8.4.1 a, uncertainty", &["Coverage factor k", "Effective degrees of freedom", "Share, %"]),
    (
        "b, conditions",
        &["GroundStubble, dry, firm", "118 kPa", "17.5 °C", "LoadTank half full", "GearC2"],
    ),
    (
        "c, traceability",
        &["its certificate: K 2025-118", "No metrological traceability is claimed"],
    ),
    ("d, before and after", &["As found in the terminal13020", "As left in the terminal13325"]),
    ("e, conformity", &["no statement of conformity"]),
    ("f and 7.8.7, opinions", &["Opinion of the signer: The front tyres"]),
    ("7.8.4.3, no interval", &["Nothing is said about when to measure again"]),
];

#[test]
fn conditions_stand_on_both_papers_and_in_the_terminal() {
    let one = printed("refused-pass");
    for form in [&seen(&one.long), &seen(&one.short), &one.text] {
        let form = form.to_lowercase().split_whitespace().collect::<Vec<_>>().join(" ");
        for said in [
            "stubble, dry, firm",
            "140 kpa",
            "118 kpa",
            "tank half full",
            "c2",
            "the red sprayer",
            "the grey box by the seat",
            "17.5 °c",
        ] {
            assert!(form.contains(said), "no {said:?} in {form}");
        }
    }
    let stated = "Conditions (stated by the customer): implement: The red sprayer.";
    assert!(seen(&one.short).contains(stated));
    let text = seen(&one.long);
    assert!(text.contains("ImplementThe red sprayer (stated by the customer)"), "{text}");
    assert!(text.contains("Four-wheel driveon") && text.contains("Differential lockoff"), "{text}");
    assert!(!text.contains("InflationStated") && !text.contains("Also stated by the customer"));
    let none = printed("nothing-told");
    assert!(seen(&none.long).contains("Four-wheel drivenot given"));
    assert!(!seen(&none.short).contains("Conditions:") && !none.text.contains("that day"));
}

#[test]
fn the_contents_of_the_standard_are_all_there() {
    let text = seen(&printed("refused-pass").long).to_lowercase();
    for (clause, wanted) in CONTENTS {
        for wanted in *wanted {
            assert!(text.contains(&wanted.to_lowercase()), "{clause}: no {wanted:?} in {text}");
        }
    }
    assert!(text.contains("long-field.capture") && text.contains(&"9f2c41d07ab3e855".repeat(4)));
    assert!(text.contains("five sound passes are enough"), "why it was signed off");
    assert!(!text.contains("accredited") && text.contains("no accreditation is claimed"));
    for (name, page) in pages() {
        let title = page.split("<h1>").nth(1).unwrap().split('<').next().unwrap();
        let of = if name.starts_with("parts-alone") { "" } else { ": impulses per 100 m" };
        assert_eq!(title, format!("Calibration record{of}"), "{name}");
    }
}

#[test]
fn amendments_name_each_other() {
    let amending = seen(&printed("amending").long);
    assert!(amending.contains("replaces record 20260501-abcdef0123"));
    assert!(amending.contains("The serial number of the tractor was wrong."));
    assert!(
        amending.contains("left in the terminal, 12700, is not 12713 and lies outside the 95 %")
    );
    let superseded = printed("superseded");
    assert_eq!(superseded.sample.record.id, printed("plain").sample.record.id);
    for page in [&superseded.long, &superseded.short] {
        assert!(page.contains("content: \"Superseded by record 20260502-0123456789\""));
        assert!(seen(page).contains("Superseded by record 20260502-0123456789."));
    }
    assert!(superseded.text.contains("SUPERSEDED by record 20260502-0123456789"));
}

/// Judged by the 95 % interval of the value measured, and by what it costs: the implement holds its
/// rate for the speed it believes, so a value e too high applies e/(1 + e) too little.
#[test]
fn what_is_left_in_the_terminal_is_judged_by_its_uncertainty_and_its_cost() {
    let mut record = printed("plain").sample.record.clone();
    let worked = record.worked().unwrap().unwrap();
    let best = record.best_of(&worked).unwrap();
    let (value, half) = (best.impulses_per_100m, best.expanded_uncertainty);
    assert!(half > 1.0 && half < 100.0, "{half}");
    let mut said = |left: Option<f64>| {
        record.as_left = left;
        left_in_terminal(&record, &worked)
    };
    assert_eq!(said(None), None);
    assert_eq!(said(Some(value.round())), None);
    let beside = said(Some(value.round() + 1.0)).unwrap();
    assert!(beside.contains("within the 95 % interval") && beside.contains("leave it"), "{beside}");
    let high = said(Some((1.02 * value).round())).unwrap();
    assert!(high.contains("drives 2.0 % slower") && high.contains("2.0 % too little"), "{high}");
    let low = said(Some((0.95 * value).round())).unwrap();
    assert!(low.contains("drives 5.3 % faster") && low.contains("5.3 % too much"), "{low}");
}

#[test]
fn practice_stands_across_every_page_and_only_then() {
    for one in PRINTED.iter() {
        for page in [&one.long, &one.short] {
            let across = page.contains("class=\"across\" aria-hidden=\"true\">PRACTICE<");
            let margin = page.contains("@top-right { content: \"PRACTICE: no measurement\"; }");
            let banner = page.contains("class=\"practice\"");
            let practice = one.sample.record.practice;
            assert_eq!([across, margin, banner], [practice; 3], "{}", one.sample.name);
        }
        assert_eq!(one.text.starts_with("PRACTICE"), one.sample.record.practice);
    }
}

#[test]
fn the_sheet_is_the_one_asked_for() {
    assert!(printed("plain").long.contains("@page { size: A4;"));
    assert!(printed("letter").short.contains("@page { size: letter;"));
    assert!(printed("plain").long.contains("\"Page \" counter(page) \"/\" counter(pages)"));
}

/// Two significant digits, as JCGM 100:2008, 7.2.6, has them; rounded here anew.
fn two_digits(value: f64) -> String {
    let places = (1 - value.abs().log10().floor() as i32).max(0);
    format!("{value:.*}", usize::try_from(places).unwrap())
}

#[test]
fn figures_with_their_doubt_stand_as_in_the_json() {
    for one in of_courses() {
        let (name, text) = (one.sample.name, seen(&one.long));
        let channel = &one.work().channels["wheel"];
        for figure in channel.sides().into_iter().filter_map(|(_, side)| side) {
            let &FigureV1 { impulses_per_100m, expanded_uncertainty: u, .. } = figure;
            let factor = format!("<span>{:.2}</span>", figure.coverage_factor);
            assert!(one.long.contains(&factor), "{name}: k {factor}");
            // The place of the last digit is that of the uncertainty's second.
            let places = two_digits(u).split_once('.').map_or(0, |(_, after)| after.len());
            let value = format!("{impulses_per_100m:.places$}");
            assert!(one.long.contains(&format!("<span>{value}</span>")), "{name}: {value}");
        }
        if let Some(best) = channel.best() {
            let share = 100.0 * best.expanded_uncertainty / best.impulses_per_100m;
            let wanted = format!("±{} %", two_digits(share));
            for form in [&text, &seen(&one.short), &one.text] {
                assert!(form.contains(&wanted), "{name}: no {wanted}");
            }
        }
        for form in [&text, &seen(&one.short), &one.text] {
            assert!(form.contains(&entered(one)), "{name}: no figure");
            assert!(form.contains(&one.sample.record.id), "{name}: no identity");
        }
    }
}

#[test]
fn drawings_are_named_and_told_apart_by_shape() {
    for one in PRINTED.iter() {
        let name = one.sample.name;
        for part in one.long.split("<svg ").skip(1) {
            let head = part.split('>').next().unwrap();
            if head.contains("role=\"img\"") {
                let body = part.split_once('>').unwrap().1;
                assert!(body.starts_with("<title id=") && body.contains("</title><desc id="));
                assert!(body.contains("impulses per 100 m"), "{name}: no unit along the axis");
            } else {
                let idle = head.contains("overflow=\"visible\"") || head.contains("aria-hidden");
                assert!(idle, "{name}: {head}");
            }
        }
    }
    let both = &printed("plain").long;
    for id in ["chart-0-title", "residuals-0-tape-title", "residuals-0-satellite-title"] {
        assert!(both.contains(&format!("id=\"{id}\"")), "no drawing {id}");
    }
    assert!(!printed("tape-alone").long.contains("residuals-0-satellite"));
}

#[test]
fn what_is_not_known_is_not_made_up() {
    let text = seen(&printed("nothing-told").long);
    assert!(text.contains("the tape is not named, so no traceability is claimed"));
    assert!(text.contains("As found in the terminalnot given"));
    let contradicting = printed("contradicting");
    assert!(seen(&contradicting.long).contains("contradict each other"));
    assert!(seen(&contradicting.long).contains("was set by the signer; the result gives none"));
    assert!(
        seen(&printed("satellite-alone").long).contains("Tape: no value by tape was calculated")
    );
}

#[test]
fn no_colour_is_set_past_the_variables() {
    let literal = |after: &str| {
        let word: String = after.chars().take_while(char::is_ascii_alphanumeric).collect();
        matches!(word.len(), 3 | 6 | 8) && word.chars().all(|c| c.is_ascii_hexdigit())
    };
    assert!(!STYLE.split('#').skip(1).any(literal) && !STYLE.contains("rgb"));
}

#[test]
fn the_terminal_gets_the_answer_first_in_lines_that_fit() {
    let breakable = |name: &str| name != "nasty" && !name.starts_with("long");
    for one in of_courses().filter(|one| breakable(one.sample.name)) {
        let first = one.text.lines().next().unwrap();
        assert!(first.contains(&format!("wheel: {}", entered(one))), "{first}");
        let last = one.text.lines().last().unwrap();
        assert_eq!(last, format!("End of record {}", one.sample.record.id));
        for line in one.text.lines() {
            assert!(line.chars().count() <= 100, "{}: {line}", one.sample.name);
        }
    }
}

#[test]
fn the_same_record_gives_the_same_bytes() {
    let one = printed("plain");
    let again = trundle_core::result::record_v1::RecordV1::from_json(&one.sample.record.to_json());
    let again = again.unwrap();
    let work = again.worked().unwrap();
    assert_eq!(record_html::page(&again, work.as_ref(), &one.sample.facts), one.long);
    assert_eq!(record_short_html::page(&again, work.as_ref(), &one.sample.facts), one.short);
}
