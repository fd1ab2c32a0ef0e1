//! Tables for other programs, saved by the browser.

use super::form::Sent;
use super::house::{House, Ran};
use super::records::paper::file_name;
use super::records::{refused, rig_field};
use super::sign::of_job;
use crate::shell::files;
use crate::web::stations::{Reply, Visit};
use std::path::PathBuf;
use trundle_show::export::Format;
use trundle_show::stations::form::{Field, Kind};
use trundle_show::stations::records::{ask, asking, section};
use trundle_show::stations::{Markup, parts};
use trundle_show::words::records as words;
use trundle_show::words::station::Station;

/// The tables: the word of the command, and the heading.
const TABLES: [(&str, &str); 4] = [
    ("records", words::TABLE_RECORDS),
    ("passes", words::TABLE_PASSES),
    ("speeds", words::TABLE_SPEEDS),
    ("slip", words::TABLE_SLIP),
];
/// Captures are chosen by their place among those of the job; this stands for all of them.
const ALL: &str = "all";

/// Show the tables that can be had.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let sections = TABLES.map(|(table, heading)| section(heading, "", &[form(house, table)]));
    let main = parts::all(&sections);
    house.page_named(Station::Records, Some(words::EXPORTS), visit, 200, main)
}

fn form(house: &House, table: &str) -> Markup {
    let action = format!("/exports/{table}");
    let mut fields = Vec::new();
    if of_captures(table) {
        let all = captures(house, table);
        if all.is_empty() {
            return parts::sentences(&[words::NO_CAPTURES.to_owned()]);
        }
        let one = |(n, path): (usize, &PathBuf)| (n.to_string(), files::name(path));
        let mut choices: Vec<(String, String)> = all.iter().enumerate().map(one).collect();
        choices.push((ALL.to_owned(), words::ALL_CAPTURES.to_owned()));
        fields.push(choice("which", words::FIELD_WHICH, choices, "0"));
    } else {
        let text = Field::text("words", words::FIELD_WORDS, "");
        fields.push(Field { hint: words::HINT_WORDS.to_owned(), ..text });
        fields.push(rig_field(house, ""));
    }
    // Only tables of places have a place on a map.
    let formats = Format::ALL.iter().filter(|format| match format {
        Format::Parquet => cfg!(feature = "parquet"),
        Format::GeoJson | Format::Gpx => table == "slip",
        Format::Csv | Format::Json => true,
    });
    let formats = formats.map(|format| (format.word().to_owned(), format.word().to_owned()));
    fields.push(choice("format", words::FIELD_FORMAT, formats.collect(), Format::Csv.word()));
    let raw = Field::text("raw", words::FIELD_RAW, "");
    fields.push(Field { kind: Kind::Tick, hint: words::HINT_RAW.to_owned(), ..raw });
    ask(&action, &[], &fields, words::DOWNLOAD)
}

fn choice(name: &str, label: &str, choices: Vec<(String, String)>, value: &str) -> Field {
    Field { kind: Kind::Choice(choices), needed: true, ..Field::text(name, label, value) }
}

fn of_captures(table: &str) -> bool {
    matches!(table, "speeds" | "slip")
}

/// Captures of the job that such a table can be made of, the newest first.
fn captures(house: &House, table: &str) -> Vec<PathBuf> {
    let own = if table == "slip" { Station::Slip } else { Station::Speeds };
    [own, Station::Drive].into_iter().flat_map(|station| of_job(house, station)).collect()
}

/// The command that makes a table.
fn argv(house: &House, table: &str, asked: &Sent) -> Vec<String> {
    let asked = |name: &str| crate::web::stations::value(asked, name).trim().to_owned();
    let mut argv = vec!["export".to_owned(), table.to_owned()];
    argv.push(format!("--format={}", asked("format")));
    if !asked("raw").is_empty() {
        argv.push("--raw".to_owned());
    }
    if !of_captures(table) && !asked("rig").is_empty() {
        argv.push(format!("--rig={}", asked("rig")));
    }
    argv.push("--".to_owned());
    if of_captures(table) {
        let (all, which) = (captures(house, table), asked("which"));
        let chosen = |n: usize| which == ALL || which == n.to_string();
        let chosen = all.into_iter().enumerate().filter(|(n, _)| chosen(*n));
        argv.extend(chosen.map(|(_, path)| path.display().to_string()));
    } else {
        argv.extend(asked("words").split_whitespace().map(str::to_owned));
    }
    argv
}

/// Hand a table out.
pub fn file(house: &House, visit: &Visit) -> Reply {
    let table = visit.name();
    let Some((table, _)) = TABLES.iter().find(|(word, _)| *word == table) else {
        return Reply::See("/exports".to_owned());
    };
    let argv = argv(house, table, &visit.query);
    match house.run(&argv) {
        Ok(ran) => given(house, visit, table, ran),
        Err(why) => refused(house, visit, 422, &why),
    }
}

/// The file; where something was said beside it, that is read first.
fn given(house: &House, visit: &Visit, table: &str, ran: Ran) -> Reply {
    if ran.out.is_empty() || (!ran.err.is_empty() && visit.asked("anyway").is_empty()) {
        let said: Vec<String> = ran.err.lines().map(str::to_owned).collect();
        let mut main = vec![parts::sentences(&said)];
        if !ran.out.is_empty() {
            let pairs = visit.query.iter().map(|(name, value)| (name.as_str(), value.as_str()));
            let pairs: Vec<(&str, &str)> = pairs.chain([("anyway", "yes")]).collect();
            main.push(parts::go(&asking(&visit.path, &pairs), words::ANYWAY));
        }
        main.push(parts::go("/exports", words::EXPORTS));
        let main = parts::all(&main);
        return house.page_named(Station::Records, Some(words::EXPORTS), visit, 200, main);
    }
    let name = file_name(&format!("trundle-{table}.{}", visit.asked("format")));
    Reply::File { name, bytes: ran.out }
}
