//! How soon an impulse is on the page. A measurement of the machine as much as of the program,
//! so it is run by itself: `cargo test --release -p trundle --test whole -- --ignored --nocapture`.

use super::client::Served;
use crate::support::job::patient;
use std::io::Read;
use std::time::{Duration, Instant};
use trundle::recorder::capture_read::read_capture;
use trundle_core::session::Keeps;
use trundle_core::wire::board::CountSample;

/// An impulse is to be on the page within this, milliseconds.
const LIMIT_MS: f64 = 150.0;
/// How long the page is watched once the tractor drives.
const WATCH: Duration = Duration::from_secs(30);

/// A picture: when it came, seconds; host time of its look, seconds; the count it shows.
struct Picture {
    came_s: f64,
    host_s: f64,
    count: u64,
}

fn watch(served: &Served) -> Vec<Picture> {
    let mut stream = served.listen("pace");
    let (began, mut text, mut bytes) = (Instant::now(), String::new(), [0; 16 * 1024]);
    let mut pictures: Vec<Picture> = Vec::new();
    let mut first: Option<Instant> = None;
    while first.is_none_or(|first| first.elapsed() < WATCH) {
        let count = stream.read(&mut bytes).unwrap();
        assert_ne!(count, 0, "the stream ended");
        let came_s = began.elapsed().as_secs_f64();
        assert!(came_s < 180.0, "the tractor does not drive: {}", served.shown());
        text.push_str(&String::from_utf8_lossy(&bytes[..count]));
        while let Some((block, rest)) = text.split_once("\n\n") {
            let json = block
                .split_once("data: ")
                .and_then(|(_, json)| serde_json::from_str::<serde_json::Value>(json).ok());
            text = rest.to_owned();
            let Some(json) = json.filter(|json| json["finish"]["on"] == true) else { continue };
            let Some(count) = json["main"]["value"].as_str().and_then(|v| v.parse().ok()) else {
                continue;
            };
            let host_s = json["host_ns"].as_f64().unwrap() * 1e-9;
            if count > 50 {
                first.get_or_insert_with(Instant::now);
            }
            pictures.push(Picture { came_s, host_s, count });
        }
    }
    pictures
}

fn samples(capture: &str) -> (Vec<CountSample>, impl Fn(u64) -> f64) {
    let (mut session, mut events) = (Keeps::Trail(0).session(), Vec::new());
    read_capture(capture.as_ref(), |piece| session.take(piece, &mut events)).unwrap();
    session.finish(&mut events);
    let spell = session.trail().unwrap().spells.remove(0);
    let clock = spell.board_clock.unwrap();
    (spell.counts.iter().collect(), move |board_us| clock.host_s(board_us as f64 * 1e-6))
}

#[test]
#[ignore = "a measurement, for a machine with nothing else to do"]
fn an_impulse_is_soon_on_the_page() {
    let mut scenario = patient("corrected", 1);
    scenario.lead_in_s = 20.0;
    let served = Served::start(&scenario, 1.0);
    let pictures = watch(&served);
    let Served { mut program, capture, .. } = served;
    program.types("q");
    program.finish();
    let (samples, host_s) = samples(&capture);
    // The way from program to test takes next to nothing at best; that best is the offset.
    let offset_s = pictures.iter().map(|p| p.came_s - p.host_s).fold(f64::INFINITY, f64::min);
    let at = |host_s: f64| samples.partition_point(|s| s.host_ns as f64 * 1e-9 <= host_s);
    // What the count stood at when the pass began: what most pictures agree on.
    let mut bases: Vec<u64> = pictures
        .iter()
        .filter_map(|p| samples[at(p.host_s).checked_sub(1)?].impulses[0].checked_sub(p.count))
        .collect();
    bases.sort_unstable();
    let base = bases[bases.len() / 2];
    let mut late_ms = Vec::new();
    for pair in pictures.windows(2).filter(|pair| pair[1].count > pair[0].count) {
        // The oldest impulse that is new: it came after the last report without it.
        let before = samples.partition_point(|s| s.impulses[0] <= base + pair[0].count);
        let Some(report) = before.checked_sub(1).map(|n| samples[n]) else { continue };
        late_ms.push(1e3 * (pair[1].came_s - offset_s - host_s(report.board_us)));
    }
    late_ms.sort_by(f64::total_cmp);
    assert!(late_ms.len() > 100, "only {} changes were seen", late_ms.len());
    let part = |share: f64| late_ms[((late_ms.len() - 1) as f64 * share) as usize];
    let (mid, p99) = (part(0.5), part(0.99));
    println!(
        "impulse to page, {} changes: median {mid:.0} ms, p99 {p99:.0} ms, ratio to {LIMIT_MS:.0} \
         ms: {:.2}",
        late_ms.len(),
        p99 / LIMIT_MS
    );
    assert!(p99 < 4.0 * LIMIT_MS, "p99 {p99:.0} ms");
}
