//! Backup and restore, the bin, and recordings made elsewhere.

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests;

use super::form::{Of, Sent, shown};
use super::house::{Acted, House, Ran, Refused, say_refused};
use super::keys::Done;
use super::records::paper::{LONGEST, file_name, whole};
use super::records::{lines, refused};
use super::twice::Twice;
use crate::commands::args::Command;
use crate::commands::keep::restore_into;
use crate::recorder::capture_file::new_name;
use crate::shell::clock::wall_rfc3339;
use crate::shell::exit::{self, OK, Trouble};
use crate::shell::files;
use crate::store::backup;
use crate::store::place::DataFolder;
use crate::store::register::Register;
use crate::web::stations::{Reply, Visit, value};
use std::path::{Path, PathBuf};
use trundle_show::stations::form::{Field, Form};
use trundle_show::stations::records::section;
use trundle_show::stations::{Markup, parts};
use trundle_show::words::records as words;
use trundle_show::words::station::Station;

/// Paths of this file.
const BACKUP: &str = "/backup";
const RESTORE: &str = "/restore";
const BIN: &str = "/bin";
const BACK: &str = "/bin/back";
const IMPORT: &str = "/import";

/// Show how to back up, and the way to restoring.
pub fn look_backup(house: &House, visit: &Visit) -> Reply {
    let name = backup_name();
    let folder = house.place.folder().parent().unwrap_or(Path::new("")).join(&name);
    let file = folder.display().to_string();
    show_backup(house, visit, 200, &backup_form(house, &file))
}

/// A name that says what it is and when it was made.
fn backup_name() -> String {
    let day: String = wall_rfc3339().chars().take(10).collect();
    file_name(&format!("trundle-backup-{day}.db"))
}

fn backup_form(house: &House, file: &str) -> Form {
    let of = Of::new(&["backup"], &[("file", words::FIELD_BACKUP)]);
    house.form(&of, BACKUP, words::BACKUP_WRITE, &|_| file.to_owned())
}

fn show_backup(house: &House, visit: &Visit, status: u16, form: &Form) -> Reply {
    let main = [
        section("", words::BACKUP_IS, &[form.markup()]),
        parts::go("/backup/download", words::BACKUP_DOWNLOAD),
        section(words::RESTORE, words::RESTORE_IS, &[parts::go(RESTORE, words::RESTORE_LOOK)]),
    ];
    house.page_named(Station::Records, Some(words::BACKUP), visit, status, parts::all(&main))
}

/// Write a backup.
pub fn act_backup(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let of = Of::new(&["backup"], &[("file", words::FIELD_BACKUP)]);
    let form = || backup_form(house, value(sent, "file"));
    let show = |status, form: &Form| show_backup(house, visit, status, form);
    plain(house, visit, sent, &of, BACKUP, form, show)
}

/// A command that is done when its form is sent.
fn plain(
    house: &House,
    visit: &Visit,
    sent: &Sent,
    of: &Of,
    path: &str,
    form: impl Fn() -> Form,
    show: impl Fn(u16, &Form) -> Reply,
) -> Reply {
    let again = |fault: &[String]| show(409, &Form { fault: fault.to_vec(), ..form() });
    house.once(visit, sent, again, || {
        let argv = of.argv(sent);
        match house.run(&argv) {
            Ok(ran) => Acted::Done(Done {
                path: path.to_owned(),
                good: ran.code == OK,
                lines: ran.lines(),
                command: shown(&argv),
            }),
            Err(why) => {
                let mut form = form();
                say_refused(&mut form, &why);
                Acted::Refused(show(422, &form))
            }
        }
    })
}

/// Hand a backup out by the browser.
pub fn download(house: &House, visit: &Visit) -> Reply {
    let given = house_backup(house);
    match given {
        Ok(bytes) => Reply::File { name: backup_name(), bytes },
        Err(trouble) => refused(house, visit, 422, &Refused::Trouble(trouble)),
    }
}

fn house_backup(house: &House) -> Result<Vec<u8>, Trouble> {
    let length = |path: PathBuf| std::fs::metadata(path).map_or(0, |found| found.len());
    let captures = std::fs::read_dir(house.place.captures()).into_iter().flatten().flatten();
    let captures: u64 = captures.map(|one| length(one.path())).sum();
    if captures + length(house.place.register()) > LONGEST {
        let [what, means, next] = words::backup_long(LONGEST >> 20);
        return Err(Trouble::new(exit::USAGE, what, means, next));
    }
    house.place.make()?;
    let failed = |error: std::io::Error| {
        let what = format!("{} cannot be written: {error}.", house.place.folder().display());
        Trouble::new(exit::STORAGE, what, "Nothing was handed out.", "Make room, then try again.")
    };
    // Of a name of chance, and gone when this ends.
    let beside = files::beside(&house.place.folder().join("download.db")).map_err(failed)?;
    let path = beside.with_extension("whole");
    let written = crate::shell::out::heard_whole(|| backup::write(&house.place, &path)).0;
    let bytes = written.and_then(|done| match &done.damaged[..] {
        [] => whole(&path),
        damaged => {
            let [what, means, next] = words::backup_damaged(damaged);
            Err(Trouble::new(exit::FLAGGED, what, means, next))
        }
    });
    // It was a copy; what cannot be removed takes only room.
    let _ = std::fs::remove_file(&path);
    bytes
}

/// Restoring: first it is said what the backup holds.
fn restoring(house: &House, then: impl FnOnce(&Twice<'_>) -> Reply) -> Reply {
    let of = Of::new(&["restore"], &[("file", words::FIELD_FROM)]);
    let dress = |mut all: Vec<Field>| {
        let folder = Field::text("folder", words::FIELD_FOLDER, "");
        all.push(Field { hint: words::HINT_FOLDER.to_owned(), needed: true, ..folder });
        all
    };
    // The folder is named as it is on the command line, for whoever wants to see the command.
    let argv = |sent: &Sent| {
        let folder = value(sent, "folder").trim();
        let folder = match folder {
            "" => house.place.folder().display().to_string(),
            folder => folder.to_owned(),
        };
        let mut argv = of.argv(sent);
        argv.insert(1, format!("--data={folder}"));
        argv
    };
    then(&Twice {
        station: Station::Records,
        heading: Some(words::RESTORE),
        path: RESTORE,
        of: &of,
        above: parts::sentences(&[words::RESTORE_IS.to_owned()]),
        dress: &dress,
        groups: &[],
        argv: &argv,
        adds: [&["--dry-run"], &[]],
        buttons: [words::RESTORE_LOOK, words::RESTORE_NOW],
        shows: words::AS_IT_WOULD_DO,
        run: &|argv| restored(house, argv),
        seen: &String::new,
        done: &|ran| (BACKUP.to_owned(), ran.lines()),
    })
}

fn restored(house: &House, argv: &[String]) -> Result<Ran, Refused> {
    let command = super::form::read(argv).map_err(Refused::Misread)?;
    let folder = argv.iter().find_map(|word| word.strip_prefix("--data=")).unwrap_or_default();
    let place = DataFolder::at(Path::new(folder));
    match command {
        Command::Restore(args) => house.hear(|| restore_into(&place, &args)),
        _ => house.run(argv),
    }
}

/// Show what is asked for a restore.
pub fn look_restore(house: &House, visit: &Visit) -> Reply {
    restoring(house, |twice| twice.look(house, visit, &|_| String::new()))
}

/// Look into a backup, or restore it.
pub fn act_restore(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    restoring(house, |twice| twice.act(house, visit, sent))
}

/// Emptying the bin: first it is said what would go.
fn emptying(house: &House, then: impl FnOnce(&Twice<'_>) -> Reply) -> Reply {
    let of = Of::new(&["bin", "empty"], &[]);
    then(&Twice {
        station: Station::Records,
        heading: Some(words::BIN),
        path: BIN,
        of: &of,
        above: binned(house),
        dress: &|all| all,
        groups: &[],
        argv: &|sent| of.argv(sent),
        adds: [&["--dry-run"], &["--for-good"]],
        buttons: [words::EMPTY, words::EMPTY_NOW],
        shows: words::AS_IT_WOULD_DO,
        run: &|argv| house.run(argv),
        // What came into the bin after it was shown is not deleted unseen.
        seen: &|| lines(house, &["bin", "list"].map(str::to_owned)).1.join("\n"),
        done: &|ran| (BIN.to_owned(), ran.lines()),
    })
}

/// What is in the bin, each with the way out.
fn binned(house: &House) -> Markup {
    let all = match Register::read(&house.place).and_then(|register| register.bin()) {
        Ok(all) => all,
        Err(trouble) => return parts::sentences(&Refused::Trouble(trouble).lines()),
    };
    let mut main = vec![parts::sentences(&[words::BIN_IS.to_owned()])];
    if all.is_empty() {
        main.push(parts::sentences(&[words::BIN_EMPTY.to_owned()]));
    }
    for one in &all {
        let (word, name) = (one.thing.word(), &one.named.entry.name);
        let form = Form {
            action: BACK.to_owned(),
            about: vec![words::removed(&one.since_utc)],
            hidden: vec![("kind".to_owned(), word.to_owned()), ("name".to_owned(), name.clone())],
            button: words::bring_back(word, name),
            key: house.key(BACK),
            ..Form::default()
        };
        main.push(form.markup());
    }
    parts::all(&main)
}

/// Show the bin.
pub fn look_bin(house: &House, visit: &Visit) -> Reply {
    emptying(house, |twice| twice.look(house, visit, &|_| String::new()))
}

/// Show what emptying would delete, or empty it.
pub fn act_bin(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    emptying(house, |twice| twice.act(house, visit, sent))
}

/// The way to the bin, for whoever reloads after bringing something back.
pub fn look_back(_: &House, _: &Visit) -> Reply {
    Reply::See(BIN.to_owned())
}

/// Bring one back.
pub fn act_back(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let of = Of::new(&["bin", "back"], &[("kind", ""), ("name", "")]);
    let form = || Form {
        action: BACK.to_owned(),
        hidden: ["kind", "name"].map(|name| (name.to_owned(), value(sent, name).to_owned())).into(),
        button: words::bring_back(value(sent, "kind"), value(sent, "name")),
        key: house.key(BACK),
        ..Form::default()
    };
    let show = |status, form: &Form| {
        let main = parts::all(&[form.markup(), parts::go(BIN, words::BIN)]);
        house.page_named(Station::Records, Some(words::BIN), visit, status, main)
    };
    plain(house, visit, sent, &of, BIN, form, show)
}

/// The form for recordings made elsewhere.
fn import() -> Of {
    Of::new(
        &["import"],
        &[
            ("nmea", words::FIELD_NMEA),
            ("counts", words::FIELD_COUNTS),
            ("marks", words::FIELD_MARKS),
            ("course", words::FIELD_COURSE),
            ("bus", words::FIELD_BUS),
            ("out", words::FIELD_OUT),
        ],
    )
}

/// Show it.
pub fn look_import(house: &House, visit: &Visit) -> Reply {
    let out = house.place.folder().join("recordings").join(new_name());
    let typed = |name: &str| match name {
        "out" => out.display().to_string(),
        _ => String::new(),
    };
    let form = house.form(&import(), IMPORT, words::IMPORT_NOW, &typed);
    show_import(house, visit, 200, &form)
}

fn show_import(house: &House, visit: &Visit, status: u16, form: &Form) -> Reply {
    let main = section("", words::IMPORT_IS, &[form.markup()]);
    house.page_named(Station::Records, Some(words::IMPORT), visit, status, main)
}

/// Make the capture; it is one of the job from then on.
pub fn act_import(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let of = import();
    let typed = |name: &str| value(sent, name).to_owned();
    let form = || house.form(&of, IMPORT, words::IMPORT_NOW, &typed);
    let show = |status, form: &Form| show_import(house, visit, status, form);
    let out = PathBuf::from(value(sent, "out").trim());
    let own = |folder: &&Path| folder.starts_with(house.place.folder());
    if let Some(folder) = out.parent().filter(own).filter(|_| house.ours(visit, sent)) {
        // One that cannot be made is refused by the command, in its words.
        let _ = crate::store::place::make_private(folder);
    }
    let there = out.exists();
    let reply = plain(house, visit, sent, &of, Station::Drive.path(), form, show);
    if !there && out.exists() && value(sent, "bus").trim().is_empty() {
        // It can be signed off by its name all the same.
        let _ = house.change(|job| job.recorded(Station::Drive, out));
    }
    reply
}
