//! `trundle` without a command: one program for one data folder, its port, its browser, its end,
//! and what a killed one leaves behind.

use super::client::{Answer, raw};
use crate::support::tractor::Tractor;
use crate::support::{Program, TempDir, trundle};
use std::net::{SocketAddr, TcpListener};
use std::path::Path;
use trundle_sim::Scenario;

/// Bytes of a capture that records.
const RECORDS: u64 = 5_000;

/// A program that serves the stations, and a browser that has joined.
struct Opened {
    program: Program,
    at: SocketAddr,
    cookie: String,
}

fn start(data: &str, more: &[&str], variables: &[(&str, &str)]) -> Program {
    let variables = [&[("TRUNDLE_DATA", data)], variables].concat();
    Program::start(more, &variables)
}

/// Address and token of the link that stands behind these words.
fn link(said: &str, words: &str) -> (SocketAddr, String) {
    let link = said.split_once(words).unwrap().1.split_once("http://").unwrap().1;
    let (at, token) = link.lines().next().unwrap().split_once("/join/").unwrap();
    (at.parse().unwrap(), token.trim().to_owned())
}

fn get(at: SocketAddr, cookie: &str, path: &str) -> Answer {
    let request = format!(
        "GET {path} HTTP/1.1\r\nHost: {at}\r\nAccept: text/html\r\nCookie: {cookie}\r\n\
         Connection: close\r\n\r\n"
    );
    raw(at, request.as_bytes()).unwrap()
}

/// The cookie that a link gives.
fn join(at: SocketAddr, token: &str) -> Option<String> {
    let answer = get(at, "", &format!("/join/{token}"));
    (answer.status == 303)
        .then(|| answer.header("set-cookie").unwrap().split(';').next().unwrap().to_owned())
}

impl Opened {
    fn start(data: &str, variables: &[(&str, &str)]) -> Self {
        let mut program = start(data, &["--port", "0", "--no-browser"], variables);
        assert!(program.until("the page", |p| p.stdout().contains("It goes on")));
        let (at, token) = link(&program.stdout(), "The job is on this page");
        let cookie = join(at, &token).unwrap();
        Self { program, at, cookie }
    }

    fn get(&self, path: &str) -> Answer {
        get(self.at, &self.cookie, path)
    }

    /// Send the form at `path` whose button sends this, as a browser does.
    fn send(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let page = self.get(path).body;
        let key = page.split("name=\"key\" value=\"").nth(1).unwrap().split('"').next().unwrap();
        let pair = |(name, value): &(&str, &str)| format!("&{name}={}", value.replace(' ', "+"));
        let fields: String = fields.iter().map(pair).collect();
        let body = format!("key={key}{fields}");
        let request = format!(
            "POST {path} HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nCookie: {}\r\n\
             Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\
             Connection: close\r\n\r\n{body}",
            self.cookie,
            body.len(),
            at = self.at,
        );
        raw(self.at, request.as_bytes()).unwrap()
    }
}

/// Programs that open what they are given by writing it down.
fn browser(folder: &TempDir) -> (String, String) {
    use std::os::unix::fs::PermissionsExt;
    let seen = folder.file("seen");
    let script = format!("#!/bin/sh\nprintf '%s\\n' \"$1\" >> '{seen}'\n");
    let path = folder.write("xdg-open", script.as_bytes());
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o755)).unwrap();
    let path = format!("{}:{}", folder.path().display(), std::env::var("PATH").unwrap());
    (path, seen)
}

#[test]
fn a_second_start_finds_the_first_and_lets_a_browser_join_once() {
    let (folder, tools) = (TempDir::new(), TempDir::new());
    let data = folder.file("data");
    let mut first = Opened::start(&data, &[]);
    let (path, seen) = browser(&tools);
    let screen = [("DISPLAY", ":99"), ("PATH", path.as_str())];
    let second = start(&data, &[], &screen).finish();
    assert_eq!(second.code, Some(0), "{second:?}");
    let (at, token) = link(&second.stdout, "runs already");
    assert_eq!(at, first.at);
    // The browser was given the same, and it holds once.
    assert!(std::fs::read_to_string(&seen).unwrap().contains(&token));
    let cookie = join(at, &token).unwrap();
    assert_eq!(get(at, &cookie, "/settings").status, 200);
    let again = get(at, "", &format!("/join/{token}"));
    assert_eq!(again.status, 403);
    assert!(again.body.contains("<html") && again.body.contains("Start the program again"));
    // Another folder is another program.
    let other = Opened::start(&folder.file("other"), &[]);
    assert_ne!(other.at, first.at);
    assert_eq!(get(other.at, &cookie, "/settings").status, 403);
    // Nobody else is told that it is ours.
    assert_eq!(get(first.at, "", "/alive/0123456789abcdef0123456789abcdef").status, 403);
    // Whatever a killed one left, the next start begins, and the cookie of before only looks.
    drop(first.program);
    first = Opened::start(&data, &[]);
    let stale = get(first.at, &cookie, "/");
    assert!(stale.status == 200 && stale.body.contains("may only look"), "{stale:?}");
}

#[test]
fn the_browser_is_opened_once_the_port_is_there_and_else_it_is_said_what_to_do() {
    let (folder, tools) = (TempDir::new(), TempDir::new());
    let (path, seen) = browser(&tools);
    let screen = [("DISPLAY", ":99"), ("PATH", path.as_str())];
    let mut with = start(&folder.file("a"), &["--port", "0"], &screen);
    assert!(with.until("the browser", |p| p.stdout().contains("It opens in the browser")));
    let (at, token) = link(&std::fs::read_to_string(&seen).unwrap(), "");
    assert!(join(at, &token).is_some() && join(at, &token).is_none(), "the link holds once");
    let blind = [("DISPLAY", ""), ("WAYLAND_DISPLAY", ""), ("BROWSER", ""), ("PATH", &path)];
    let mut without = start(&folder.file("b"), &["--port", "0"], &blind);
    assert!(without.until("the words", |p| p.stdout().contains("It goes on")));
    assert!(without.stdout().contains("No browser could be opened"), "{}", without.stdout());
    assert_eq!(std::fs::read_to_string(&seen).unwrap().lines().count(), 1);
}

#[test]
fn a_port_that_another_program_has_is_gone_around_or_said() {
    let folder = TempDir::new();
    let held = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = held.local_addr().unwrap().port().to_string();
    let (path, seen) = browser(&folder);
    let screen = [("DISPLAY", ":99"), ("PATH", path.as_str())];
    let refused = start(&folder.file("a"), &["--port", &port], &screen).finish();
    assert_eq!(refused.code, Some(2), "{refused:?}");
    assert!(refused.stderr.contains("--port") && refused.stderr.contains(&port), "{refused:?}");
    assert!(!Path::new(&seen).exists(), "a browser was opened");
    // Held by this test, or by a program that was there before.
    let _usual = TcpListener::bind("127.0.0.1:49100");
    let mut moved = start(&folder.file("b"), &["--no-browser"], &[]);
    assert!(moved.until("the page", |p| p.stdout().contains("It goes on")));
    assert!(moved.stdout().contains("Another program has port 49100"), "{}", moved.stdout());
    let (at, token) = link(&moved.stdout(), "The job is on this page");
    assert!((49_101..=49_109).contains(&at.port()), "{at}");
    let page = get(at, &join(at, &token).unwrap(), "/").body;
    assert!(page.contains("Another program has port 49100"), "{page}");
}

#[test]
fn the_program_is_closed_from_the_page() {
    let folder = TempDir::new();
    let mut opened = Opened::start(&folder.file("data"), &[]);
    assert_eq!(get(opened.at, "", "/close").status, 403);
    let closed = opened.send("/close", &[]);
    assert!(closed.status == 200 && closed.body.contains("The program is closed"), "{closed:?}");
    assert_eq!(get(opened.at, "", "/page.css").status, 200, "the last page has its style");
    opened.program.until("the end", |_| false);
    assert_eq!(opened.program.finish().code, Some(0));
    assert!(!Path::new(&folder.file("data/page.json")).exists());
}

#[test]
fn a_killed_recording_is_offered_and_can_be_used() {
    let mut scenario = Scenario::named("plain").unwrap();
    scenario.lead_in_s = 3600.0;
    let tractor = Tractor::start(&scenario, 1, 1.0, None);
    let folder = TempDir::new();
    let data = folder.file("data");
    let ports = format!("board = \"{}\"\nreceiver = \"{}\"\n", tractor.board(), tractor.receiver());
    let settings = folder.write("settings.toml", ports.as_bytes());
    let settings = [("TRUNDLE_SETTINGS", settings.as_str())];
    let mut opened = Opened::start(&data, &settings);
    let begun = opened.send("/drive", &[("length", "100 m")]);
    assert_eq!(begun.status, 303, "{begun:?}");
    let captures = folder.path().join("data/recordings");
    let capture = || {
        let mut files = std::fs::read_dir(&captures).ok()?.flatten().map(|file| file.path());
        // Beside it stands for a moment what tries whether there is room for it.
        files.find(|path| path.extension().is_some_and(|end| end == "capture"))
    };
    let records = |_: &Program| {
        capture().and_then(|path| path.metadata().ok()).is_some_and(|found| found.len() > RECORDS)
    };
    assert!(opened.program.until("the recording", records));
    // It is not ended by a slip of a finger, nor is its job cleared.
    assert_eq!(opened.send("/close", &[]).status, 409);
    assert_eq!(opened.send("/", &[("do", "new-job"), ("sure", "yes")]).status, 409);
    assert!(opened.get("/plugged").body.contains("left in peace"));
    drop(opened.program);
    opened = Opened::start(&data, &settings);
    let page = opened.get("/").body;
    let path = capture().unwrap().display().to_string();
    assert!(page.contains("was cut off") && page.contains(&path), "{page}");
    let used = opened.send("/", &[("do", "use-capture")]);
    assert_eq!(used.status, 303, "{used:?}");
    assert!(used.header("location").unwrap().starts_with("/value?did="), "{used:?}");
    let page = opened.get("/").body;
    assert!(!page.contains("was cut off") && page.contains(&path), "{page}");
    // What was typed is there, and nothing was recorded twice.
    assert!(opened.get("/drive").body.contains("value=\"100 m\""));
    assert_eq!(std::fs::read_dir(&captures).unwrap().count(), 1);
    let worked = trundle(&["work", &path, "--json"]);
    assert!(worked.stdout.contains("\"format\""), "{worked:?}");
    // The job is cleared only where that is said.
    assert_eq!(opened.send("/", &[("do", "new-job")]).status, 422);
    assert_eq!(opened.send("/", &[("do", "new-job"), ("sure", "yes")]).status, 303);
    assert!(!opened.get("/").body.contains(&path) && Path::new(&path).exists());
}
