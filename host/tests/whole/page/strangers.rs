//! What strangers do costs whoever may mark nothing: neither their wrong links nor their pages
//! that only look nor their connections that do nothing.

use super::client::{Answer, Served, raw};
use super::limits::{first, opened};
use crate::support::job::patient;
use std::collections::VecDeque;
use std::io::Write;
use std::net::TcpStream;

/// Connections that do nothing, connections that take no answer, and requests beside them.
const IDLE: usize = 2_000;
const STALLED: usize = 200;
const REQUESTS: usize = 120;
/// So many idle ones come before each request.
const BETWEEN: usize = 10;
/// So many are held open here; those before them the server has closed long ago.
const HELD: usize = 400;

/// Join with this token, with this line more; only a browser sends such a line.
fn join(served: &Served, token: &str, line: &str) -> Answer {
    let head = format!("GET /join/{token} HTTP/1.1\r\nHost: {}\r\n", served.at);
    served.raw(format!("{head}{line}Connection: close\r\n\r\n").as_bytes()).unwrap()
}

/// The wrong links and cookies of one sender, of whom a marker is another page, a program or a
/// person at the same address.
#[test]
fn wrong_links_lock_no_marker_out() {
    let served = Served::start(&patient("corrected", 1), 1.0);
    let note = |n: usize| served.press("/note", &format!(r#"{{"key":"{n:x}","text":"note"}}"#));

    // Any web page can send its browser here; that is no guess, and no answer tells right from
    // wrong.
    let site = "Sec-Fetch-Site: cross-site\r\n";
    let answers = (0..30).map(|n| join(&served, &format!("{n:032x}"), site));
    let answers: Vec<Answer> = answers.chain([join(&served, &served.token, site)]).collect();
    for answer in &answers {
        assert!(answer.status == 403 && answer.body == answers[0].body, "{answer:?}");
        assert!(answer.body.contains("address line") && answer.header("set-cookie").is_none());
    }
    assert_eq!(join(&served, "1", "").status, 403, "counted as a guess");

    // Ten guesses lock guesses, and nothing else.
    for n in 2..11 {
        assert_eq!(join(&served, &n.to_string(), "").status, 403);
    }
    assert_eq!(join(&served, "11", "").status, 429);
    assert_eq!(note(1).status, 200);
    for line in ["", "Sec-Fetch-Site: none\r\n", "Sec-Fetch-Site: same-origin\r\n"] {
        assert_eq!(join(&served, &served.token, line).status, 303, "{line}");
    }
    opened(served.listen_as(&served.cookie(), "marker"));
}

#[test]
fn pages_that_only_look_take_no_place_of_a_marker() {
    let served = Served::start(&patient("corrected", 1), 1.0);
    let mark = served.cookie();
    let looks: Vec<TcpStream> = (0..5).map(|n| opened(served.listen(&format!("{n}")))).collect();
    assert!(first(&mut served.listen("5")).contains(" 503 "));
    let mut marker = opened(served.listen_as(&mark, "marker"));
    // Whoever knows a name takes no place of another role by it.
    assert!(first(&mut served.listen("marker")).contains(" 503 "));
    assert!(first(&mut marker).contains("data: "));

    // A device that comes again under other names takes its oldest place each time, and what was
    // replaced waits for a free one: pages do not take turns.
    let more: Vec<TcpStream> =
        (0..5).map(|n| opened(served.listen_as(&mark, &format!("again{n}")))).collect();
    assert!(first(&mut served.listen_as(&mark, "marker")).contains(" 503 "));
    drop((looks, more));
}

#[test]
fn idle_and_stalled_connections_starve_nobody() {
    let served = Served::start(&patient("corrected", 1), 1.0);
    let mut marker = opened(served.listen_as(&served.cookie(), "marker"));
    let mut held = VecDeque::new();
    let mut idle = |count: usize| {
        for _ in 0..count {
            held.push_back(TcpStream::connect(served.at).unwrap());
            held.drain(..held.len().saturating_sub(HELD));
        }
    };
    idle(IDLE);
    let ask = format!("GET /page.js HTTP/1.1\r\nHost: {}\r\n\r\n", served.at).repeat(200);
    let mut stalled = Vec::new();
    for _ in 0..STALLED {
        let mut reader = TcpStream::connect(served.at).unwrap();
        // The server may have closed it for another.
        let _ = reader.write_all(ask.as_bytes());
        stalled.push(reader);
    }
    let mut answered = 0;
    for n in 0..REQUESTS {
        idle(BETWEEN);
        let body = format!(r#"{{"key":"{n:x}","text":"note"}}"#);
        let answer = match n % 3 {
            0 => Some(served.press("/note", &body)),
            1 => raw(served.at, ask_once(&served, "/").as_bytes()),
            _ => raw(served.at, ask_once(&served, "/page.css").as_bytes()),
        };
        answered += usize::from(answer.is_some_and(|answer| answer.status == 200));
    }
    assert_eq!(answered, REQUESTS);
    // What listened to the job all the while still does.
    for _ in 0..3 {
        assert!(first(&mut marker).contains("data: "));
    }
}

fn ask_once(served: &Served, path: &str) -> String {
    format!("GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", served.at)
}
