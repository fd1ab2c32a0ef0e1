//! Files under hostile names: pipes and devices where files should be, links where a file is being
//! written, and what a killed program left behind.

use std::fs::{read, write};
use std::io::ErrorKind;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, SystemTime};
use tempfile::TempDir;
use trundle::packed::plain;
use trundle::shell::exit;
use trundle::shell::files;
use trundle::store::backup;
use trundle::store::place::DataFolder;
use trundle::store::register::Register;

/// A pipe that nobody writes to.
fn pipe(path: &Path) {
    assert!(Command::new("mkfifo").arg(path).status().unwrap().success());
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = folder
        .read_dir()
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn only_ordinary_files_are_opened() {
    let folder = TempDir::new().unwrap();
    let at = |name: &str| folder.path().join(name);
    pipe(&at("pipe"));
    write(at("file"), "four").unwrap();
    symlink(at("file"), at("link")).unwrap();
    symlink(at("pipe"), at("link to a pipe")).unwrap();
    let _socket = std::os::unix::net::UnixListener::bind(at("socket")).unwrap();
    for (path, what) in [
        (at("pipe"), "pipe"),
        (at("link to a pipe"), "pipe"),
        (at("socket"), "pipe"),
        ("/dev/zero".into(), "device"),
        ("/dev/tty".into(), "device"),
        (folder.path().to_owned(), "folder"),
    ] {
        let error = files::open(&path).unwrap_err();
        assert_eq!(error.kind(), ErrorKind::InvalidInput, "{}: {error}", path.display());
        assert!(error.to_string().contains(what), "{}: {error}", path.display());
        let trouble = files::read_text(&path).unwrap_err();
        assert!(trouble.code == exit::INPUT && trouble.what.contains(what), "{trouble}");
        assert!(plain::name(&path).unwrap_err().what.contains(what));
        let trouble = files::replace(&path, b"new").unwrap_err();
        assert!(trouble.code == exit::STORAGE && trouble.what.contains(what), "{trouble}");
    }
    assert_eq!(files::read(&at("link"), 4).unwrap().unwrap(), b"four");
    assert_eq!(files::read(&at("link"), 3).unwrap(), None, "longer than asked for");
}

#[test]
fn nothing_is_written_through_a_link_or_over_a_file_of_another() {
    let folder = TempDir::new().unwrap();
    let at = |name: &str| folder.path().join(name);
    write(at("victim"), "precious").unwrap();
    for name in ["result.new", "result.trial", ".result.new"] {
        symlink(at("victim"), at(name)).unwrap();
    }
    let before = names(folder.path());
    files::replace(&at("result"), b"first").unwrap();
    files::replace(&at("result"), b"second").unwrap();
    assert_eq!(read(at("result")).unwrap(), b"second");
    assert_eq!(read(at("victim")).unwrap(), b"precious");
    let now: Vec<_> = names(folder.path()).into_iter().filter(|name| name != "result").collect();
    assert_eq!(now, before, "the links are as they were, and nothing else is left");
    // A name that is a link itself is given to the new file.
    symlink(at("victim"), at("report")).unwrap();
    files::replace(&at("report"), b"new").unwrap();
    assert_eq!(
        (read(at("report")).unwrap(), read(at("victim")).unwrap()),
        (b"new".to_vec(), b"precious".to_vec())
    );
}

#[test]
fn only_what_a_killed_program_left_long_ago_is_cleared_away() {
    let folder = TempDir::new().unwrap();
    let at = |name: &str| folder.path().join(name);
    let long_ago = SystemTime::now() - Duration::from_secs(3 * 24 * 3600);
    let chance = "0123456789abcdef0123456789abcdef";
    let left = format!(".trundle-{chance}.new");
    let at_work = format!(".trundle-{}.new", chance.replace('0', "1"));
    let others = [format!(".trundle-{chance}.old"), ".trundle-notes.new".into(), "a.new".into()];
    for name in [&left, &at_work].into_iter().chain(&others) {
        write(at(name), "half").unwrap();
        let file = std::fs::File::options().write(true).open(at(name)).unwrap();
        if *name != at_work {
            file.set_modified(long_ago).unwrap();
        }
    }
    files::replace(&at("result"), b"whole").unwrap();
    let now = names(folder.path());
    assert!(!now.contains(&left), "{now:?}");
    for name in [&at_work, &"result".to_owned()].into_iter().chain(&others) {
        assert!(now.contains(name), "{name} is gone: {now:?}");
    }
}

#[test]
fn a_lock_that_leads_to_another_file_is_refused_with_a_word() {
    let folder = TempDir::new().unwrap();
    let at = |name: &str| folder.path().join(name);
    let place = DataFolder::at(&at("data"));
    drop(Register::write(&place).unwrap());
    write(at("victim"), "precious").unwrap();
    let put: [(&str, &dyn Fn(PathBuf)); 4] = [
        ("link", &|lock| symlink(at("victim"), lock).unwrap()),
        ("link", &|lock| symlink(at("nowhere"), lock).unwrap()),
        ("second name", &|lock| std::fs::hard_link(at("victim"), lock).unwrap()),
        ("pipe", &|lock| pipe(&lock)),
    ];
    for (word, put) in put {
        std::fs::remove_file(place.lock()).unwrap();
        put(place.lock());
        let trouble = Register::write(&place).unwrap_err();
        assert!(trouble.what.contains(word), "{word}: {trouble}");
        assert_eq!(read(at("victim")).unwrap(), b"precious", "{word}");
        assert!(!at("nowhere").exists(), "a file was made through the link");
    }
    std::fs::remove_file(place.lock()).unwrap();
    Register::write(&place).unwrap();
}

#[test]
fn a_backup_takes_no_name_that_is_taken() {
    let folder = TempDir::new().unwrap();
    let at = |name: &str| folder.path().join(name);
    let place = DataFolder::at(&at("data"));
    drop(Register::write(&place).unwrap());
    write(at("day.new"), "precious").unwrap();
    backup::write(&place, &at("day")).unwrap();
    assert_eq!(read(at("day.new")).unwrap(), b"precious");
    symlink(at("nowhere"), at("gone")).unwrap();
    let trouble = backup::write(&place, &at("gone")).unwrap_err();
    assert!(trouble.code == exit::USAGE && trouble.what.contains("exists"), "{trouble}");
    assert!(at("gone").is_symlink() && !at("nowhere").exists());
    assert_eq!(names(folder.path()), ["data", "day", "day.new", "gone"]);
}
