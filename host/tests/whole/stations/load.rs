//! Long, slow and half requests at the forms, and a recording that goes on while the page is under
//! reload, stalled readers hang on it and thousands knock: not a byte of it comes later for that.

use super::house::{FORM, House};
use crate::support::job::kept_up;
use crate::support::{codes, json, trundle};
use std::io::{Read, Write};
use std::net::{Shutdown, TcpStream};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use trundle::recorder::capture_read::read_capture;
use trundle::stations::table;
use trundle_core::session::Keeps;

/// What is given up within ten seconds ends within this on a loaded machine.
const GIVEN_UP: Duration = Duration::from_secs(60);
/// How long is recorded in peace, and then in trouble.
const SPELL: Duration = Duration::from_secs(8);
/// Stalled readers, and connections that ask for nothing.
const STALLED: usize = 200;
const CONNECTIONS: usize = 2_000;
/// The page may cost a stamp no more than this, seconds: an impulse is to be painted within 120 ms.
const MAY_COST_S: f64 = 0.050;

fn head(house: &House, path: &str, more: &str) -> Vec<u8> {
    format!(
        "POST {path} HTTP/1.1\r\nHost: {0}\r\nOrigin: http://{0}\r\nContent-Type: {FORM}\r\n\
         Cookie: {1}\r\n{more}\r\n\r\n",
        house.at,
        house.cookie(&house.full)
    )
    .into_bytes()
}

#[test]
fn long_slow_and_half_forms_do_nothing_and_take_no_room() {
    let house = House::start();
    house.fill();
    let before = house.state();
    let acted: Vec<String> = table::paths()
        .iter()
        .filter(|row| row.act.is_some())
        .map(|row| row.path.replace('*', "tractor"))
        .collect();
    for path in &acted {
        // A body that says its length is refused before it is sent.
        for length in ["1073741824", "262145", "18446744073709551615"] {
            let asked = head(&house, path, &format!("Content-Length: {length}"));
            let answer = crate::page::client::raw(house.at, &asked).unwrap();
            assert_eq!(answer.status, 413, "{path} {length}");
        }
        // A request that ends in the middle, in its head and in its body.
        for cut in [40, 0] {
            let whole = [head(&house, path, "Content-Length: 30"), b"key=0&na".to_vec()].concat();
            let end = if cut > 0 { cut } else { whole.len() };
            let mut stream = TcpStream::connect(house.at).unwrap();
            stream.write_all(&whole[..end]).unwrap();
            stream.shutdown(Shutdown::Write).unwrap();
            let mut answer = Vec::new();
            stream.set_read_timeout(Some(GIVEN_UP)).unwrap();
            stream.read_to_end(&mut answer).ok();
            assert!(!answer.starts_with(b"HTTP/1.1 2"), "{path}: {answer:?}");
        }
    }
    // One that does not say it, a gigabyte in pieces: most of it is never taken.
    let before_kb = resident_kb(&house);
    let chunk = [b"10000\r\n".as_slice(), &[b'x'; 0x10000], b"\r\n"].concat();
    for path in acted.iter().take(3) {
        let mut endless = TcpStream::connect(house.at).unwrap();
        endless.write_all(&head(&house, path, "Transfer-Encoding: chunked")).unwrap();
        let taken = (0..16_384).take_while(|_| endless.write_all(&chunk).is_ok()).count();
        assert!(taken < 1_000, "{path}: {taken} chunks of 64 KiB were taken");
    }
    // Slow ones, as many as there are seats, are given up, and others are heard meanwhile.
    let begun = [head(&house, "/settings", "Content-Length: 200000"), b"key=".to_vec()].concat();
    let slow = |_| {
        let mut stream = TcpStream::connect(house.at).unwrap();
        stream.write_all(&begun).unwrap();
        stream
    };
    let mut slow: Vec<TcpStream> = (0..40).map(slow).collect();
    let since = Instant::now();
    while slow.iter_mut().any(|stream| stream.write_all(b"x").is_ok()) {
        assert!(since.elapsed() < GIVEN_UP, "still open after {:?}", since.elapsed());
        assert_eq!(house.get("/").status, 200);
        std::thread::sleep(Duration::from_millis(300));
    }
    if let (Some(before), Some(after)) = (before_kb, resident_kb(&house)) {
        println!("resident: {before} kB before, {after} kB after");
        assert!(after < before + 128 * 1024, "{before} kB before, {after} kB after");
    }
    let after = house.state();
    assert!(before == after, "{:?}", super::rights::differing(&before, &after));
}

/// Memory that the program has; `None` where the system does not say.
fn resident_kb(house: &House) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{}/status", house.program.id())).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

#[test]
fn a_recording_comes_no_later_for_what_is_done_to_the_page() {
    kept_up(1.0, |_| {
        let house = House::start();
        let practice = house.form("/practice", "/practice");
        let begun = house.post("/practice", &practice.with(&[("pace", "1")]));
        assert_eq!(begun.status, 303, "{begun:?}");
        let (quiet, _) = recorded(&house, "/drive", || std::thread::sleep(SPELL));
        let asked = AtomicUsize::new(0);
        let (loaded, told) = recorded(&house, "/drive", || trouble(&house, &asked));
        let answered = asked.load(Ordering::SeqCst);
        println!("{answered} pages were loaded beside; {told}");
        println!("stamps, ms late at the median, p99, most: {quiet:?} in peace, {loaded:?}");
        assert!(answered > 20, "only {answered} pages were loaded");
        assert!(loaded.1 < quiet.1 + 1e3 * MAY_COST_S, "{quiet:?} in peace, {loaded:?} in trouble");
        Some(())
    });
}

/// Record at this station while that goes on; how late the reports of the counts were stamped,
/// milliseconds: median, 99 of 100, most; and what the capture comes to.
fn recorded(house: &House, path: &str, meanwhile: impl FnOnce()) -> ((f64, f64, f64), String) {
    let begun = house.post(path, &house.form(path, path).with(&[("length", "100 m")]));
    assert_eq!(begun.status, 303, "{begun:?}");
    let capture = newest(house);
    // It is under way once there is something of it.
    let since = Instant::now();
    while capture.metadata().map_or(0, |found| found.len()) < 5_000 {
        assert!(since.elapsed() < GIVEN_UP, "nothing is recorded");
        std::thread::sleep(Duration::from_millis(20));
    }
    meanwhile();
    house.stop();
    let (mut session, mut events) = (Keeps::Trail(0).session(), Vec::new());
    read_capture(&capture, |piece| session.take(piece, &mut events)).unwrap();
    session.finish(&mut events);
    let spell = session.trail().unwrap().spells.remove(0);
    let late = |host_ns: u64, board_us: u64| host_ns as f64 * 1e-6 - board_us as f64 * 1e-3;
    let mut late_ms: Vec<f64> =
        spell.counts.iter().map(|count| late(count.host_ns, count.board_us)).collect();
    late_ms.sort_by(f64::total_cmp);
    assert!(late_ms.len() > 100, "only {} reports of counts", late_ms.len());
    let part = |share: f64| late_ms[((late_ms.len() - 1) as f64 * share) as usize] - late_ms[0];
    let result = json(&trundle(&["work", &capture.display().to_string(), "--json"]).stdout);
    let lost = |code: &String| ["LOST", "GAP", "CUT"].iter().any(|one| code.contains(one));
    let codes = codes(&result);
    assert!(!codes.iter().any(lost), "{codes:?}");
    ((part(0.5), part(0.99), part(1.0)), format!("{} reports, {codes:?}", late_ms.len()))
}

/// The capture that was begun last.
fn newest(house: &House) -> PathBuf {
    let folder = house.folder.path().join("data/recordings");
    let since = Instant::now();
    loop {
        let all = std::fs::read_dir(&folder).into_iter().flatten().flatten();
        let all = all.map(|file| (file.metadata().unwrap().modified().unwrap(), file.path()));
        if let Some((_, path)) = all.max() {
            return path;
        }
        assert!(since.elapsed() < GIVEN_UP, "no capture in {}", folder.display());
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// Readers that take nothing, connections that ask nothing, pages under reload.
fn trouble(house: &House, asked: &AtomicUsize) {
    let over = AtomicBool::new(false);
    std::thread::scope(|scope| {
        for n in 0..2 {
            let over = &over;
            scope.spawn(move || {
                let paths: Vec<_> =
                    table::paths().iter().map(|row| row.path.replace('*', "tractor")).collect();
                for path in paths.iter().chain([&"/live".to_owned()]).cycle().skip(7 * n) {
                    if over.load(Ordering::SeqCst) {
                        return;
                    }
                    // A crowd may take any seat: not every page comes.
                    let ask = house.ask("GET", path, &house.full).bytes();
                    if crate::page::client::raw(house.at, &ask).is_some_and(|one| one.status == 200)
                    {
                        asked.fetch_add(1, Ordering::SeqCst);
                    }
                }
            });
        }
        let stalled = (0..STALLED).filter_map(|n| {
            let mut stream = TcpStream::connect(house.at).ok()?;
            let path = if n % 2 == 0 { format!("/now?page={n}") } else { "/live".to_owned() };
            let mut ask = house.ask("GET", &path, &house.full);
            ask.more.push("X-Requested-By: trundle");
            stream.write_all(&ask.bytes()).ok()?;
            Some(stream)
        });
        let stalled: Vec<TcpStream> = stalled.collect();
        let crowd: Vec<TcpStream> =
            (0..CONNECTIONS).filter_map(|_| TcpStream::connect(house.at).ok()).collect();
        println!("{} stalled readers, {} connections", stalled.len(), crowd.len());
        std::thread::sleep(SPELL);
        over.store(true, Ordering::SeqCst);
    });
    assert_eq!(house.get("/").status, 200);
}
