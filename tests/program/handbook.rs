//! The handbook: everything has its place, every link leads somewhere, the page reads strictly.

use std::collections::BTreeSet;
use trundle::commands::book;
use trundle_core::flags::Code;
use trundle_core::survey::slip::SectionFlag;
use trundle_show::book::{Chapter, option_places, place, served, slip_flag};
use trundle_show::live::troubles::TroubleKind;
use trundle_show::text::speeds;
use trundle_show::tongue::Tongue;
use trundle_show::words::book::{anchor, flag, trouble};
use trundle_show::words::station::Station;
use trundle_tests::pages::{check_shape, tags};

/// The whole page, bytes: an old tablet opens it at once.
const MOST: usize = 240_000;

fn ids(page: &str) -> BTreeSet<String> {
    tags(page).0.iter().filter_map(|tag| tag.attributes.get("id").cloned()).collect()
}

#[test]
fn flags_troubles_commands_options_and_stations_have_their_place() {
    let page = book::whole(Tongue::English);
    let ids = ids(page);
    let has = |id: String| assert!(ids.contains(&id), "{id} has no place in the book");
    Code::ALL.iter().for_each(|code| has(flag(code.word())));
    for word in SectionFlag::ALL.map(SectionFlag::word) {
        has(flag(word));
        has(slip_flag(word));
    }
    speeds::KNOWN.iter().for_each(|one| has(flag(one.code)));
    TroubleKind::ALL.iter().for_each(|kind| {
        has(trouble(kind.word()));
        assert!(!kind.says().is_empty(), "{kind:?} says nothing");
    });
    for station in Station::ALL {
        has(anchor("station", station.word()));
        has(place(station).strip_prefix("/handbook#").unwrap().to_owned());
    }
    let commands = book::commands();
    for name in ["trundle", "trundle drive", "trundle record verify", "trundle handbook"] {
        assert!(commands.iter().any(|command| command.name == name), "{name}");
    }
    for (command, places) in commands.iter().zip(option_places(&commands)) {
        let start = anchor("command", &command.name);
        has(start.clone());
        let (_, said) = page.split_once(&format!("id=\"{start}\"")).unwrap();
        let said = said.split("<h3 ").next().unwrap();
        assert_eq!(places.len(), command.options.len());
        for (option, place) in command.options.iter().zip(places) {
            has(place);
            assert!(!option.about.is_empty(), "{} {}", command.name, option.shown);
            let shown = option.shown.replace('<', "&lt;").replace('>', "&gt;");
            let name = shown.split([' ', '=']).next().unwrap();
            assert!(said.contains(name), "{} does not name {name}", command.name);
        }
    }
    let drive = commands.iter().find(|command| command.name == "trundle drive").unwrap();
    assert!(drive.options.iter().any(|option| option.shown.starts_with("--course")));
}

/// The strict reader knows no tag that is not closed but that of the head: pictures are looked at
/// by themselves.
fn without_pictures(page: &str) -> String {
    let mut parts = page.split("<img ");
    let first = parts.next().unwrap().to_owned();
    first + &parts.map(|part| part.split_once('>').unwrap().1).collect::<String>()
}

#[test]
fn the_book_reads_strictly_and_loads_nothing() {
    for tongue in Tongue::ALL {
        reads_strictly(tongue);
    }
}

fn reads_strictly(tongue: Tongue) {
    let page = book::whole(tongue);
    assert!(page.len() < MOST, "{} bytes", page.len());
    check_shape("handbook", &without_pictures(page));
    let ids = ids(page);
    for tag in &tags(page).0 {
        assert!(!["script", "link", "form", "iframe"].contains(&tag.name.as_str()), "{tag:?}");
        if let Some(from) = tag.attributes.get("src") {
            assert!(from.starts_with("data:image/svg+xml,%3Csvg"), "{from:.60}");
            assert!(tag.attributes.get("alt").is_some_and(|alt| alt.len() > 20), "{tag:.300?}");
        }
        let Some(to) = tag.attributes.get("href") else { continue };
        let to = to.strip_prefix('#').unwrap_or_else(|| panic!("{to} leads out of the book"));
        assert!(ids.contains(to), "#{to} leads nowhere");
    }
    // Served, it has one way more: back to the job.
    let served = served(page, tongue);
    check_shape("served", &without_pictures(&served));
    assert!(served.contains("<a href=\"/\">"));
}

#[test]
fn the_first_chapter_is_told_in_german_and_the_others_say_that_they_are_not() {
    let [english, german] = Tongue::ALL.map(book::whole);
    // The same places in both: a link of the program leads into either.
    let missing: Vec<_> = ids(german).symmetric_difference(&ids(english)).cloned().collect();
    assert!(missing.is_empty(), "{missing:?}");
    let parts = |page: &str| page.matches("lang=\"en\" translate=\"no\"").count();
    assert_eq!((parts(english), parts(german)), (0, Chapter::ALL.len() - 1));
}
