//! A rig as a file: out to another computer, and in from one.

use super::{digest, lines, said};
use crate::shell::exit::{OK, Trouble};
use crate::shell::files;
use crate::stations::form::{Sent, shown};
use crate::stations::house::{Acted, House, Refused, say_refused};
use crate::stations::keys::Done;
use crate::web::stations::{Reply, Visit, value};
use std::path::PathBuf;
use trundle_show::stations::form::{Field, Form, Kind};
use trundle_show::stations::{Markup, parts};
use trundle_show::words::station::Station;
use trundle_show::words::stations_rig as words;

/// Where a pasted text lies in the data folder, for the command to read.
const PASTED: &str = "pasted-rig.toml";
const PATH: &str = "/rig/import";
/// Characters of a file's name.
const NAME_MOST: usize = 40;

/// The rig as a file: what `trundle rig export` prints.
pub fn export(house: &House, visit: &Visit) -> Reply {
    let name = visit.asked("name");
    let mut argv = vec!["rig".to_owned(), "export".to_owned()];
    if !name.is_empty() {
        argv.extend(["--".to_owned(), name.to_owned()]);
    }
    match house.run(&argv) {
        Ok(ran) => Reply::File { name: file_name(name), bytes: ran.out },
        Err(Refused::Trouble(trouble)) => page(house, visit, 404, said(&trouble)),
        Err(Refused::Misread(wrong)) => page(house, visit, 404, parts::sentences(&[wrong.words])),
    }
}

/// A name that every system takes.
fn file_name(name: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    let name: String = name.chars().take(NAME_MOST).map(plain).collect();
    let words: Vec<&str> = name.split('-').filter(|word| !word.is_empty()).collect();
    format!("rig-{}.toml", words.join("-")).replace("rig-.toml", "rig.toml")
}

fn page(house: &House, visit: &Visit, status: u16, main: Markup) -> Reply {
    house.page_named(Station::Rig, Some(words::IMPORT), visit, status, main)
}

/// Show the form.
pub fn look(house: &House, visit: &Visit) -> Reply {
    page(house, visit, 200, form(house, &[]).markup())
}

fn form(house: &House, sent: &Sent) -> Form {
    let mut path = Field::text("path", words::FILE, value(sent, "path"));
    path.hint = words::FILE_HINT.to_owned();
    let mut text = Field::text("text", words::TEXT, value(sent, "text"));
    text.kind = Kind::Long;
    Form {
        action: PATH.to_owned(),
        about: vec![words::IMPORT_ABOUT.to_owned()],
        fields: vec![path, text],
        button: words::SHOW_FIRST.to_owned(),
        key: house.key(PATH),
        ..Form::default()
    }
}

/// Show what a file would change; when that was shown, do it.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let wrong = |status: u16, fault: &[String]| {
        let form = Form { fault: fault.to_vec(), ..form(house, sent) };
        page(house, visit, status, form.markup())
    };
    let refused = |refused: &Refused| {
        let mut form = form(house, sent);
        say_refused(&mut form, refused);
        Acted::Refused(page(house, visit, 422, form.markup()))
    };
    house.once(
        visit,
        sent,
        |fault| wrong(409, fault),
        || {
            let (file, text) = match file(house, sent) {
                Ok(file) => file,
                Err(fault) => return Acted::Refused(wrong(422, &fault)),
            };
            let argv = ["rig", "import", "--", &file.display().to_string()].map(str::to_owned);
            let same = value(sent, "seen") == digest(&text);
            if !value(sent, "seen").is_empty() && same {
                return match house.run(&argv) {
                    Err(why) => refused(&why),
                    Ok(ran) => Acted::Done(Done {
                        path: "/rig".to_owned(),
                        lines: ran.lines(),
                        good: ran.code == OK,
                        command: shown(&argv),
                    }),
                };
            }
            let mut dry = argv.to_vec();
            dry.insert(2, "--dry-run".to_owned());
            match house.run(&dry) {
                Err(why) => refused(&why),
                Ok(ran) => {
                    let changed = !value(sent, "seen").is_empty();
                    let ask = confirm(house, sent, &digest(&text), changed);
                    let main = [parts::said(words::WOULD, &ran.lines()), ask.markup()];
                    Acted::Refused(page(house, visit, 200, parts::all(&main)))
                }
            }
        },
    )
}

/// The form that says: do what was shown.
fn confirm(house: &House, sent: &Sent, seen: &str, changed: bool) -> Form {
    let hidden = [("path", value(sent, "path")), ("text", value(sent, "text")), ("seen", seen)];
    let fault = if changed { words::FILE_CHANGED.map(str::to_owned).to_vec() } else { Vec::new() };
    Form {
        action: PATH.to_owned(),
        hidden: hidden.map(|(name, value)| (name.to_owned(), value.to_owned())).to_vec(),
        button: words::TAKE_OVER.to_owned(),
        key: house.key(PATH),
        fault,
        ..Form::default()
    }
}

/// The file that is meant, and what it says; a pasted text is put into one.
fn file(house: &House, sent: &Sent) -> Result<(PathBuf, String), Vec<String>> {
    let path = value(sent, "path").trim();
    let text = value(sent, "text").trim();
    let told = |trouble: Trouble| lines(&trouble);
    match (path.is_empty(), text.is_empty()) {
        (true, true) => Err(words::NO_FILE.map(str::to_owned).to_vec()),
        (false, false) => Err(words::BOTH_FILES.map(str::to_owned).to_vec()),
        (false, true) => {
            let path = PathBuf::from(path);
            let text = files::read_text(&path).map_err(told)?;
            Ok((path, text))
        }
        (true, false) => {
            house.place.make().map_err(told)?;
            let path = house.place.folder().join(PASTED);
            let text = format!("{}\n", text.replace("\r\n", "\n"));
            files::replace_text(&path, &text).map_err(told)?;
            Ok((path, text))
        }
    }
}

#[test]
fn the_name_of_a_file_is_plain() {
    assert_eq!(file_name("Big one, \"wide\"\u{202e}/../x"), "rig-Big-one-wide-x.toml");
    assert_eq!(file_name(""), "rig.toml");
    assert_eq!(file_name("\u{fc}"), "rig.toml");
}
