//! The frozen evidence of `logs/`: every capture still gives the result that is stored for it,
//! and the figure is right where the truth is known.
//!
//! `BLESS=1 cargo test -p trundle-tests-core logs` stores the results of today; look at what
//! changed before it is committed.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use trundle_core::capture::Reader;
use trundle_core::course::tape::CourseSpec;
use trundle_core::figure::{COVERAGE, Work};
use trundle_core::result::work_v1::WorkV1;
use trundle_core::session::{Keeps, Session};
use trundle_tests::{replay_bytes, work_session};

fn folder(path: &str) -> PathBuf {
    trundle_tests::folder().join(path)
}

/// Names without their ends of the files with this end.
fn names(folder: &Path, end: &str) -> BTreeSet<String> {
    let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name());
    let files = files.map(|name| name.into_string().unwrap());
    files.filter_map(|name| name.strip_suffix(end).map(str::to_owned)).collect()
}

/// Replay a capture and work it with the course in it.
fn work(name: &str, chunk: usize) -> Work {
    let bytes = std::fs::read(folder("../logs").join(format!("{name}.capture"))).unwrap();
    let session = replay_bytes(&bytes, chunk);
    let course: Option<CourseSpec> =
        session.course_text().map(|text| trundle_core::course::file::parse(text).unwrap().spec);
    work_session(&session, course.as_ref())
}

/// A number of a provenance file, which holds plain `key = value` lines.
fn number(toml: &str, key: &str) -> Option<f64> {
    let line = toml.lines().find_map(|line| line.strip_prefix(key)?.trim().strip_prefix('='))?;
    Some(line.trim().parse().unwrap_or_else(|e| panic!("{key}: {e}: {line}")))
}

fn provenance(name: &str) -> String {
    std::fs::read_to_string(folder("../logs").join(format!("{name}.toml"))).unwrap()
}

#[test]
fn every_capture_has_its_provenance_and_its_stored_result_and_none_is_left_over() {
    let logs = folder("../logs");
    let captures = names(&logs, ".capture");
    assert!(captures.len() >= 4, "{captures:?}");
    assert_eq!(captures, names(&logs, ".toml"), "captures and provenance differ");
    let golden = names(&folder("data/golden"), ".work.json");
    assert_eq!(captures, golden, "captures and stored results differ");
    for name in &captures {
        let text = provenance(name);
        for key in ["origin", "licence", "made_with"] {
            let said = text.lines().any(|line| {
                let value = line.strip_prefix(key).and_then(|rest| rest.trim().strip_prefix('='));
                value.is_some_and(|value| value.trim().len() > 2)
            });
            assert!(said, "logs/{name}.toml does not say its {key}");
        }
    }
}

#[test]
fn every_capture_gives_its_stored_result_to_the_byte() {
    let bless = std::env::var_os("BLESS").is_some_and(|value| value == "1");
    let mut differing = Vec::new();
    for name in names(&folder("../logs"), ".capture") {
        // What `trundle work --json` prints: one line with its end.
        let result = WorkV1::of(&work(&name, 1 << 16)).to_json() + "\n";
        let path = folder("data/golden").join(format!("{name}.work.json"));
        if bless {
            std::fs::write(&path, &result).unwrap();
        }
        let stored = std::fs::read_to_string(&path).unwrap_or_default();
        if result != stored {
            let at = result.bytes().zip(stored.bytes()).take_while(|(new, old)| new == old).count();
            let around = |text: &str| {
                let from = at.saturating_sub(40);
                text.get(from..text.len().min(at + 80)).unwrap_or_default().to_owned()
            };
            let (new, old) = (around(&result), around(&stored));
            differing.push(format!("{name}, byte {at}:\n  now    {new}\n  stored {old}"));
        }
    }
    assert!(differing.is_empty(), "{}", differing.join("\n"));
}

#[test]
fn the_pieces_a_capture_is_read_in_change_nothing() {
    for name in names(&folder("../logs"), ".capture") {
        let whole = WorkV1::of(&work(&name, usize::MAX)).to_json();
        assert_eq!(WorkV1::of(&work(&name, 4_093)).to_json(), whole, "{name}");
    }
}

#[test]
fn figures_lie_within_their_intervals_of_the_truth() {
    let mut judged = 0;
    for name in names(&folder("../logs"), ".capture") {
        let text = provenance(&name);
        let work = work(&name, 1 << 16);
        for (channel, key) in
            [("wheel", "wheel_impulses_per_100m"), ("radar", "radar_impulses_per_100m")]
        {
            let Some(truth) = number(&text, key) else { continue };
            let figures = work.channels.iter().find(|figures| figures.name == channel);
            let figures = figures.unwrap_or_else(|| panic!("{name} has no {channel}"));
            for way in [&figures.tape, &figures.satellite, &figures.combined].into_iter().flatten()
            {
                let doubt = trundle_core::stats::budget::cover(way, &figures.sources, COVERAGE);
                let off = way.value() - truth;
                assert!(
                    off.abs() <= doubt.expanded_uncertainty,
                    "{name}, {channel}: {} is off by {off}, interval ±{}",
                    way.value(),
                    doubt.expanded_uncertainty
                );
                judged += 1;
            }
        }
    }
    assert!(judged >= 10, "only {judged} figures had a truth to be held against");
}

/// Beside a trail passes are kept without their samples: what is ruled by them stays as it is.
#[test]
fn passes_beside_a_trail_are_the_same_but_for_their_samples() {
    let logs = folder("../logs");
    for name in &names(&logs, ".capture") {
        let bytes = std::fs::read(logs.join(format!("{name}.capture"))).unwrap();
        let kept = [Keeps::Passes, Keeps::Trail(0), Keeps::All(0)];
        let [plain, trailing, both] = kept.map(Keeps::session).map(|mut session| {
            let (mut reader, mut events) = (Reader::default(), Vec::new());
            reader.push(&bytes);
            while let Some(piece) = reader.finish() {
                session.take(&piece, &mut events);
            }
            session.finish(&mut events);
            (session, events)
        });
        assert_eq!(plain.1, trailing.1, "{name}");
        assert_eq!(plain.0.passes(), both.0.passes(), "{name}: a trail beside whole passes");
        let ruled = |session: &Session| {
            let each = session.passes().iter().cloned().map(|mut pass| {
                let driven = format!("{:?}", pass.driven());
                pass.counts.retain(|_| false);
                pass.fixes.retain(|_| false);
                (pass, driven)
            });
            each.collect::<Vec<_>>()
        };
        assert_eq!(ruled(&plain.0), ruled(&trailing.0), "{name}");
        let fixes = trailing.0.passes().iter().map(|pass| pass.fixes.len() + pass.counts.len());
        assert!(fixes.max() <= Some(2), "{name}");
    }
}
