//! A whole job by presses on the page: each is recorded once, however often it is sent.

use super::client::{Served, press, raw};
use crate::support::{
    self, LIMIT,
    job::{kept_up, patient},
    json,
};
use std::io::Read;
use std::time::{Duration, Instant};

/// The same press from three places at once, as after lost answers.
fn three_times(served: &Served, body: &str) -> Vec<String> {
    let (at, cookie) = (served.at, served.cookie());
    let one = || {
        let (cookie, body) = (cookie.clone(), body.to_owned());
        std::thread::spawn(move || {
            let since = Instant::now();
            loop {
                let told = press(at, &cookie, "/mark", &body).unwrap();
                assert_eq!(told.status, 200, "{told:?}");
                let answer = told.json()["answer"].as_str().unwrap().to_owned();
                assert!(since.elapsed() < LIMIT, "no answer: {told:?}");
                if answer != "waiting" {
                    return answer;
                }
            }
        })
    };
    let threads = [one(), one(), one()];
    threads.map(|thread| thread.join().unwrap()).to_vec()
}

/// A few hundred requests with one thing wrong in each.
fn try_in_vain(served: &Served) -> usize {
    let at = served.at;
    let host = format!("Host: {at}");
    let origin = format!("Origin: http://{at}");
    let cookie = format!("Cookie: {}", served.cookie());
    let right = [
        host.as_str(),
        &origin,
        "X-Requested-By: trundle",
        "Content-Type: application/json",
        &cookie,
    ];
    let wrong = [
        ["Host: localhost.example", "Host: 127.0.0.1", "Host: example:80"],
        ["Origin: null", "Origin: http://example", "Origin: https://127.0.0.1"],
        ["X-Requested-By: other", "X-Other: 1", "X-Requested-By:"],
        ["Content-Type: text/plain", "X-Other: 1", "Content-Type: multipart/form-data"],
        ["X-Other: 1", "Cookie: trundle=1", "Cookie: other=1; another=2"],
    ];
    let mut tried = 0;
    for path in ["/mark", "/undo", "/note", "/reject", "/result", "/end"] {
        for (n, replacements) in wrong.iter().enumerate() {
            for replacement in replacements {
                for method in ["POST", "GET", "PUT"] {
                    let mut lines = right;
                    lines[n] = replacement;
                    let body = r#"{"key":"77","number":1,"end":"start","text":"in vain"}"#;
                    let request = format!(
                        "{method} {path} HTTP/1.1\r\n{}\r\nContent-Length: {}\r\n\
                         Connection: close\r\n\r\n{body}",
                        lines.join("\r\n"),
                        body.len()
                    );
                    let answer = raw(at, request.as_bytes()).unwrap();
                    let refused = (400..500).contains(&answer.status);
                    assert!(refused, "{request}: {answer:?}");
                    tried += 1;
                }
            }
        }
        let options = format!("OPTIONS {path} HTTP/1.1\r\n{host}\r\nConnection: close\r\n\r\n");
        assert_eq!(served.raw(options.as_bytes()).unwrap().status, 403);
    }
    tried
}

/// What a listening page is told when the job is over.
pub fn until_over(stream: &mut impl Read) -> String {
    let (since, mut text, mut bytes) = (Instant::now(), String::new(), [0; 16 * 1024]);
    loop {
        let count = stream.read(&mut bytes).unwrap();
        assert!(count > 0 && since.elapsed() < LIMIT, "the stream ended without a word: {text}");
        text.push_str(&String::from_utf8_lossy(&bytes[..count]));
        while let Some((block, rest)) = text.split_once("\n\n") {
            let json = block.split_once("data: ").unwrap().1;
            let over = serde_json::from_str::<serde_json::Value>(json).unwrap()["over"].clone();
            text = rest.to_owned();
            if let Some(over) = over.as_str() {
                return over.to_owned();
            }
        }
    }
}

/// One page listens, finishes the job, and takes the last result with it.
fn finish_by(served: &Served) {
    let mut stream = served.listen("last");
    let told = served.press("/end", r#"{"key":"a2"}"#);
    assert_eq!(told.json()["stands"], true, "{told:?}");
    let said = until_over(&mut stream);
    let page = served.get("/result");
    assert!(page.status == 200 && page.body.contains("The recording has ended"), "{page:?}");
    assert!(said.contains(&served.capture), "{said}");
}

#[test]
fn presses_on_the_page_are_marks_once_each() {
    kept_up(4.0, presses);
}

fn presses(pace: f64) -> Option<()> {
    let mut scenario = patient("corrected", 2);
    scenario.button = false;
    scenario.lead_in_s = 160.0;
    // Time enough for a loaded machine to press while the tractor stands.
    scenario.mark_at_share = 0.3;
    let served = Served::start(&scenario, pace);
    let ready = |served: &Served| served.shown()["start"]["on"] == true;
    let since = Instant::now();
    while !ready(&served) {
        assert!(since.elapsed() < LIMIT, "{}", served.shown());
    }
    assert!(try_in_vain(&served) >= 200);
    let mut at = 0;
    let mut keys = 0;
    loop {
        let since = Instant::now();
        while served.tractor.activities().len() <= at {
            assert!(since.elapsed() < LIMIT, "the tractor stands still");
            std::thread::sleep(Duration::from_millis(5));
        }
        let doing = served.tractor.activities()[at].clone();
        at += 1;
        if doing.starts_with("the job is done") {
            break;
        }
        if !doing.contains("mark now") {
            continue;
        }
        let number: u32 = doing.split(' ').nth(1).unwrap().parse().unwrap();
        let end = if doing.contains("start peg") { "start" } else { "finish" };
        keys += 1;
        let body = format!(r#"{{"key":"{keys:x}","number":{number},"end":"{end}"}}"#);
        let answers = three_times(&served, &body);
        assert_eq!(answers, ["done"; 3], "{doing}: {}", served.shown());
        // Another device that presses for the same peg a moment later marks nothing.
        let other = format!(r#"{{"key":"{:x}","number":{number},"end":"{end}"}}"#, keys + 100);
        let told = served.press("/mark", &other).json();
        assert_eq!(told["answer"], "already", "{told}");
    }
    let note = served.press("/note", r#"{"key":"a0","text":"wet <b>grass</b>"}"#);
    assert_eq!(note.json()["stands"], true);
    let worked = served.press("/result", r#"{"key":"a1"}"#);
    assert_eq!(worked.json()["stands"], true, "{worked:?}");
    let page = served.get("/result");
    assert!(page.status == 200 && page.body.contains("wet &lt;b&gt;grass&lt;/b&gt;"));
    let policy = page.header("content-security-policy").unwrap();
    assert!(policy.contains("style-src 'sha256-") && !policy.contains("unsafe"), "{policy}");
    finish_by(&served);
    let Served { program, capture, tractor, folder, .. } = served;
    program.finish();
    let again = support::trundle(&["work", &capture, "--json"]);
    let result = json(&again.stdout);
    let passes: Vec<u64> = result["channels"]["wheel"]["passes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|pass| pass["number"].as_u64().unwrap())
        .collect();
    assert_eq!(passes, [1, 2]);
    let truth = tractor.stop();
    let (wheel, radar) = (truth.wheel_impulses_per_100m, truth.radar_impulses_per_100m);
    support::assert_honest(&result, again.code, wheel, radar);
    let page = folder.file("page.html");
    support::trundle(&["work", &capture, "--report", &page]);
    let page = std::fs::read_to_string(page).unwrap();
    assert!(!page.contains("in vain"));
    Some(())
}
