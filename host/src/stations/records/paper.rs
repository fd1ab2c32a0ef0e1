//! Papers as they print, and files to be saved.

use super::{argv, refused};
use crate::commands::record::printed;
use crate::packed::plain;
use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use crate::shell::out::heard_whole;
use crate::stations::house::{House, Refused};
use crate::store::register::Register;
use crate::web::stations::{Reply, Visit};
use std::io;
use std::path::Path;
use trundle_core::result::record_v1::RecordV1;
use trundle_show::html::with_way_back;
use trundle_show::stations::records::of_record;

/// Longest capture that the browser is given, bytes: the program holds all of it at once.
pub const LONGEST: u64 = 512 << 20;

/// Show a paper of a record.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let short = visit.asked("form") == "short";
    let page = || {
        let register = Register::read(&house.place)?;
        let record = register.record(&visit.name())?;
        let page = printed(&register, &record, short, visit.asked("sheet"))?;
        Ok(with_way_back(&page, &of_record(&record.id)))
    };
    // What is said beside it stands on the page of the record.
    match heard_whole(page).0 {
        Ok(page) => Reply::Paper(page),
        Err(trouble) => refused(house, visit, 404, &Refused::Trouble(trouble)),
    }
}

/// Hand a file of a record out.
pub fn file(house: &House, visit: &Visit) -> Reply {
    let (name, kind) = (visit.name(), visit.asked("as"));
    let made = match kind {
        "json" => command(house, "record", "json", &argv(&["record", "show", "--json"], &[&name])),
        "csv" => {
            let table = ["export", "records", "--format=csv"];
            command(house, "record", "csv", &argv(&table, &[&name]))
        }
        "passes" => {
            let table = ["export", "passes", "--format=csv"];
            command(house, "passes", "csv", &argv(&table, &[&name]))
        }
        _ => heard_whole(|| of_record_file(house, visit, &name)).0.map_err(Refused::Trouble),
    };
    match made {
        Ok((begin, end, bytes)) => {
            Reply::File { name: file_name(&format!("{begin}-{name}.{end}")), bytes }
        }
        Err(why) => refused(house, visit, 404, &why),
    }
}

/// Begin and end of the name of a file, and what is in it.
type Made = (String, &'static str, Vec<u8>);

fn command(
    house: &House,
    begin: &str,
    end: &'static str,
    argv: &[String],
) -> Result<Made, Refused> {
    let ran = house.run(argv)?;
    if ran.out.is_empty() {
        let what = ran.err.lines().collect::<Vec<_>>().join(" ");
        let none = Trouble::new(exit::FLAGGED, what, "", "");
        return Err(Refused::Trouble(none));
    }
    Ok((begin.to_owned(), end, ran.out))
}

fn of_record_file(house: &House, visit: &Visit, name: &str) -> Result<Made, Trouble> {
    let register = Register::read(&house.place)?;
    let record = register.record(name)?;
    match visit.asked("as") {
        "capture" => capture(&register, &record, visit.asked("part")),
        form => {
            let short = form == "short";
            let page = printed(&register, &record, short, visit.asked("sheet"))?;
            let begin = if short { "record-short" } else { "record" };
            Ok((begin.to_owned(), "html", page.into_bytes()))
        }
    }
}

/// A saved capture, plain, as the record names it; checked against its digest.
fn capture(register: &Register, record: &RecordV1, part: &str) -> Result<Made, Trouble> {
    let (path, begin) = match record.part(part) {
        Some(one) => (register.capture_of_part(record, one)?, one.method.word()),
        None => match register.capture_of(record)? {
            Some(path) => (path, "course"),
            None => {
                let what = format!("Record {} holds no such capture.", record.id);
                let next = "Choose one of those on the page of the record.";
                return Err(Trouble::new(exit::USAGE, what, "Nothing was handed out.", next));
            }
        },
    };
    let plain = given(&path, plain::read(&path, LONGEST))?;
    Ok((begin.to_owned(), "capture", plain))
}

/// A file, whole.
pub(crate) fn whole(path: &Path) -> Result<Vec<u8>, Trouble> {
    given(path, files::read(path, LONGEST))
}

/// What was read of a file to be handed out.
fn given(path: &Path, read: io::Result<Option<Vec<u8>>>) -> Result<Vec<u8>, Trouble> {
    let failed = |why: String| {
        let what = format!("{} cannot be handed out: {why}.", path.display());
        let next = "Copy the file itself, from the folder that it is in.";
        Trouble::new(exit::INPUT, what, "The file is untouched.", next)
    };
    match read {
        Ok(Some(bytes)) => Ok(bytes),
        Ok(None) => Err(failed(format!("it is longer than {} MiB", LONGEST >> 20))),
        Err(error) => Err(failed(error.to_string())),
    }
}

/// A name for a file: only what no system and no header takes for anything else.
pub(crate) fn file_name(name: &str) -> String {
    let safe = |c: char| c.is_ascii_alphanumeric() || "-_.".contains(c);
    let mut out: String = name.chars().map(|c| if safe(c) { c } else { '_' }).collect();
    // Longer ones are cut in front of the ending.
    if out.len() > 100 {
        let end = out.split_off(out.len() - 20);
        out.truncate(80);
        out.push_str(&end);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_files_hold_nothing_that_acts() {
        assert_eq!(file_name("record-20260101-0001.json"), "record-20260101-0001.json");
        assert_eq!(file_name("a/..\\b\"\r\n;\u{202e}c.csv"), "a_.._b_____c.csv");
        let long = file_name(&format!("record-{}.json", "x".repeat(10_000)));
        assert!(long.len() == 100 && long.ends_with(".json"), "{long}");
    }
}
