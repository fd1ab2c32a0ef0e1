//! Records: found, shown, compared, verified, amended, printed and handed on.

pub mod amend;
pub mod paper;
pub mod verify;

use super::house::{House, Refused};
use crate::commands::record::shown;
use crate::shell::exit::{OK, Trouble};
use crate::shell::out::heard_whole;
use crate::store::register::{Register, Wanted};
use crate::web::stations::{Reply, Visit};
use trundle_core::result::part_v1::title;
use trundle_core::result::records_v1::{DAMAGED, RecordRow};
use trundle_core::rig::Thing;
use trundle_show::stations::form::{Field, Kind};
use trundle_show::stations::records::{
    ask, asking, beside, list, of_record, pager, path_part, section, warnings, ways,
};
use trundle_show::stations::{Markup, parts};
use trundle_show::words::records as words;
use trundle_show::words::station::Station;

/// Records on a page: each of them is held against its text, which takes its time.
const ON_PAGE: usize = 25;
/// Records to compare one with; others are found and named by hand.
const TO_COMPARE: usize = 12;

/// Show the list.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let (text, rig) = (visit.asked("words"), visit.asked("rig"));
    let from: usize = visit.asked("from").parse().unwrap_or(0);
    let wanted = Wanted {
        rig: (!rig.is_empty()).then(|| rig.to_owned()),
        words: text.split_whitespace().map(str::to_owned).collect(),
        skip: from,
        most: Some(ON_PAGE),
    };
    let register = Register::read(&house.place);
    let found = register.as_ref().map_err(Trouble::clone).and_then(|one| one.listed(&wanted));
    let (rows, older) = match found {
        Ok(found) => found,
        Err(trouble) => return refused(house, visit, 500, &Refused::Trouble(trouble)),
    };
    let fields = [
        Field {
            hint: words::HINT_WORDS.to_owned(),
            ..Field::text("words", words::FIELD_WORDS, text)
        },
        rig_field(house, rig),
    ];
    let at = |from: usize| {
        let from = if from == 0 { String::new() } else { from.to_string() };
        asking("/records", &[("words", text), ("rig", rig), ("from", &from)])
    };
    let newer = (from > 0).then(|| at(from.saturating_sub(ON_PAGE)));
    let next = (older > 0).then(|| at(from + ON_PAGE));
    let found = match rows.len() {
        0 => parts::sentences(&[words::NO_RECORD.to_owned()]),
        shown => {
            let said = words::shown_of(from + 1, from + shown, from + shown + older);
            parts::all(&[parts::sentences(&[said]), list(&rows)])
        }
    };
    let main = [
        parts::about(Station::Records),
        all_records(),
        section(words::FIND, "", &[ask("/records", &[], &fields, words::LOOK)]),
        found,
        pager(newer.as_deref(), next.as_deref()),
    ];
    house.page(Station::Records, visit, 200, parts::all(&main))
}

/// What can be done with all of them.
fn all_records() -> Markup {
    let all = [
        ("/sheet", words::SHEET),
        ("/history", words::HISTORY),
        ("/exports", words::EXPORTS),
        ("/verify", words::VERIFY_ALL),
        ("/backup", words::BACKUP),
        ("/bin", words::BIN),
        ("/import", words::IMPORT),
    ];
    let all = all.map(|(path, words)| (path.to_owned(), words.to_owned()));
    beside(&all)
}

/// The choice of a rig; one that is chosen and not there stays to be seen.
pub(super) fn rig_field(house: &House, chosen: &str) -> Field {
    let rigs = Register::read(&house.place).and_then(|register| register.list(Thing::Rig));
    let rigs = rigs.unwrap_or_default().into_iter().map(|rig| rig.entry.name);
    let kind = Kind::Choice(rigs.map(|rig| (rig.clone(), rig)).collect());
    Field { kind, ..Field::text("rig", words::FIELD_RIG, chosen) }
}

/// Show one.
pub fn look_one(house: &House, visit: &Visit) -> Reply {
    let name = visit.name();
    let (shown, heard) = heard_whole(|| one(house, &name));
    match shown {
        Ok(main) => {
            let said = String::from_utf8_lossy(&heard.err).lines().map(str::to_owned).collect();
            let said: Vec<String> = said;
            let main = parts::all(&[warnings(&said), main]);
            let heading = words::record(&name);
            house.page_named(Station::Records, Some(&heading), visit, 200, main)
        }
        Err(trouble) => refused(house, visit, 404, &Refused::Trouble(trouble)),
    }
}

/// What is in one, and what can be done with it.
fn one(house: &House, name: &str) -> Result<Markup, Trouble> {
    let register = Register::read(&house.place)?;
    let record = register.record(name)?;
    let rig = record.rig.rig.name.clone();
    let wanted = Wanted { rig: Some(rig.clone()), most: Some(TO_COMPARE), ..Wanted::default() };
    let (newer, others) = register.around(&record.id, &wanted)?;
    let mut main = Vec::new();
    if let Some(newer) = &newer {
        main.push(parts::sentences(&[words::superseded(newer)]));
        main.push(parts::go(&of_record(newer), words::GO_BY_THAT));
    }
    let text = shown(&record, newer.clone())?;
    let lines: Vec<String> = text.lines().map(str::to_owned).collect();
    main.push(parts::said(words::IN_WORDS, &lines));
    main.push(section(words::PAPERS, words::HOW_TO_PRINT, &[ways(&papers(&record.id))]));
    let mut files = files(&record.id, record.capture.is_some());
    files.extend(record.parts.iter().map(|part| {
        let word = part.method.word();
        (file(&record.id, "capture", word), words::file_capture(title(word)))
    }));
    main.push(section(words::FILES, "", &[ways(&files)]));
    main.push(more(&record.id, &rig, newer.is_none(), others));
    Ok(parts::all(&main))
}

fn papers(id: &str) -> Vec<(String, String)> {
    let all = [
        ("long", "a4", words::LONG_A4),
        ("short", "a4", words::SHORT_A4),
        ("long", "letter", words::LONG_LETTER),
        ("short", "letter", words::SHORT_LETTER),
    ];
    let path = |form, sheet| {
        let at = format!("/paper/{}", path_part(id));
        asking(&at, &[("form", form), ("sheet", sheet)])
    };
    all.map(|(form, sheet, words)| (path(form, sheet), words.to_owned())).to_vec()
}

fn file(id: &str, kind: &str, part: &str) -> String {
    let at = format!("/file/{}", path_part(id));
    asking(&at, &[("as", kind), ("part", part)])
}

fn files(id: &str, course: bool) -> Vec<(String, String)> {
    let mut all = vec![
        ("json", words::FILE_JSON),
        ("csv", words::FILE_CSV),
        ("long", words::FILE_LONG),
        ("short", words::FILE_SHORT),
    ];
    if course {
        all.extend([("passes", words::FILE_PASSES), ("capture", words::FILE_CAPTURE)]);
    }
    all.into_iter().map(|(kind, words)| (file(id, kind, ""), words.to_owned())).collect()
}

/// What can be done with one: `newest`: no other takes its place.
fn more(id: &str, rig: &str, newest: bool, others: Vec<RecordRow>) -> Markup {
    let others = others.into_iter().filter(|row| row.id != id && row.state != DAMAGED);
    let choice = |row: RecordRow| {
        let day: String = row.issued_utc.chars().take(10).collect();
        (row.id.clone(), format!("{day} {}", row.id))
    };
    let kind = Kind::Choice(others.map(choice).collect());
    let other = Field { kind, ..Field::text("second", words::FIELD_OTHER_RECORD, "") };
    let history = asking("/history", &[("rig", rig), ("show", "yes")]);
    let mut all = vec![(history, words::HISTORY.to_owned())];
    if newest {
        all.push((format!("/amend/{}", path_part(id)), words::AMEND.to_owned()));
    }
    all.push((asking("/verify", &[("records", id)]), words::VERIFY.to_owned()));
    let compare = ask("/compare", &[("first", id)], &[other], words::COMPARE_NOW);
    section(words::MORE, "", &[ways(&all), compare])
}

/// Compare two.
pub fn compare(house: &House, visit: &Visit) -> Reply {
    let [first, second] = ["first", "second"].map(|name| visit.asked(name));
    let fields = [
        Field::text("first", words::FIELD_RECORDS, first),
        Field::text("second", words::FIELD_OTHER_RECORD, second),
    ];
    let form = ask("/compare", &[], &fields, words::COMPARE_NOW);
    let (status, said) = match (first, second) {
        ("", _) | (_, "") => (200, Vec::new()),
        _ => match house.run(&argv(&["record", "compare"], &[first, second])) {
            Ok(ran) => (200, ran.lines()),
            Err(why) => (422, why.lines()),
        },
    };
    let said = if said.is_empty() { parts::all(&[]) } else { parts::said(words::COMPARE, &said) };
    let main = parts::all(&[said, form]);
    house.page_named(Station::Records, Some(words::COMPARE), visit, status, main)
}

/// A page that says why there is nothing to show.
pub(super) fn refused(house: &House, visit: &Visit, status: u16, why: &Refused) -> Reply {
    let main = [
        parts::sentences(&why.lines()),
        parts::go(Station::Records.path(), Station::Records.name()),
    ];
    house.page(Station::Records, visit, status, parts::all(&main))
}

/// A command with words of its own and names from outside, which are never taken for options.
pub(super) fn argv(command: &[&str], names: &[&str]) -> Vec<String> {
    command.iter().chain(&["--"]).chain(names).map(|word| (*word).to_owned()).collect()
}

/// Lines of a command that is run to be shown, and whether nothing is wrong.
pub(super) fn lines(house: &House, argv: &[String]) -> (bool, Vec<String>) {
    match house.run(argv) {
        Ok(ran) => (ran.code == OK, ran.lines()),
        Err(why) => (false, why.lines()),
    }
}
