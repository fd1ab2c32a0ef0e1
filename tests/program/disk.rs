//! Power cuts and failing disks under a whole live job: what was acknowledged is there, what is
//! there can be read, and what was spoilt is told to the byte.
//!
//! One real job runs on a disk that logs everything; then power is cut after every operation of
//! that log, in five ways. Failures are tried at every operation of a job of their own.

#[allow(dead_code)]
mod job;

use crate::sim_disk::{Cut, Failure, Files, SimDisk};
use job::{Run, lumps, run, scenario};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};
use trundle::recorder::capture_file::{CaptureWriter, try_room_on};
use trundle::recorder::capture_read::read_from;
use trundle::shell::exit::{self, Trouble};
use trundle::shell::files::replace_on;
use trundle_bounds::streams::owned;
use trundle_core::capture::{Entry, Record, encode};
use trundle_core::flags::Code;
use trundle_core::session::{Session, SessionEvent};
use trundle_tests::{plain_course, work_session};

const CAPTURE: &str = "day/job.capture";
const RESULT: &str = "day/job.json";
const SEED: u64 = 7;

/// A capture as it is found.
struct Found {
    records: Vec<Record>,
    damaged: u64,
    session: Session,
    marks: Vec<SessionEvent>,
}

fn find(bytes: &[u8]) -> Result<Found, Trouble> {
    let mut found =
        Found { records: Vec::new(), damaged: 0, session: Session::default(), marks: Vec::new() };
    let mut events = Vec::new();
    read_from(bytes, Path::new(CAPTURE), |piece| {
        found.session.take(piece, &mut events);
        match owned(piece) {
            Ok(record) => found.records.push(record),
            Err(damage) => found.damaged += damage.bytes,
        }
    })?;
    found.session.finish(&mut Vec::new());
    let mark =
        |e: &SessionEvent| matches!(e, SessionEvent::Mark { .. } | SessionEvent::MarkLost { .. });
    found.marks = events.into_iter().filter(mark).collect();
    Ok(found)
}

/// Everything that must be so after a cut; tells how many bytes were spoilt.
fn hold(files: &Files, done: usize, run: &Run, whole: &[Record], at: &str) -> u64 {
    let Some(bytes) = files.get(Path::new(CAPTURE)) else {
        assert!(done < run.begun, "{at}: the capture is gone");
        return 0;
    };
    let found = match find(bytes) {
        Ok(found) => found,
        Err(trouble) => {
            assert!(done < run.begun, "{at}: {trouble}");
            assert!(!trouble.next.is_empty());
            return 0;
        }
    };
    let due: Vec<SessionEvent> =
        run.acknowledged.iter().filter(|(acked, _)| *acked <= done).map(|(_, e)| *e).collect();
    assert!(found.marks.starts_with(&due), "{at}: {:?} of {due:?}", found.marks);
    // Nothing was made up, and every byte is accounted for.
    let mut sound = Vec::new();
    let mut rest = whole.iter();
    for record in &found.records {
        assert!(rest.any(|one| one == record), "{at}: {record:?} was never written");
        encode(record, &mut sound);
    }
    assert_eq!(sound.len() as u64 + found.damaged, bytes.len() as u64, "{at}");
    assert_eq!(found.session.totals().damaged_bytes, found.damaged, "{at}");
    if found.session.ended() {
        assert_eq!((found.records.len(), found.damaged), (whole.len(), 0), "{at}");
    }
    found.damaged
}

/// A whole job, and the records that it wrote; driven once for all tests.
fn whole_job() -> &'static (Run, Vec<Record>) {
    static JOB: OnceLock<(Run, Vec<Record>)> = OnceLock::new();
    JOB.get_or_init(drive_whole_job)
}

fn drive_whole_job() -> (Run, Vec<Record>) {
    let run = run(&lumps(&scenario(), 250_000), None);
    assert_eq!(run.trouble, None);
    let files = run.disk.cut(run.disk.done(), Cut::Lost, 0);
    let found = find(&files[Path::new(CAPTURE)]).unwrap();
    assert!(found.session.ended() && found.damaged == 0, "an orderly end is safe by itself");
    let session = &run.finished.as_ref().unwrap().session;
    assert_eq!(format!("{:?}", found.session), format!("{session:?}"));
    assert_eq!(session.passes().len(), 2, "both passes were driven");
    assert!(run.acknowledged.len() > 12, "{} acknowledged", run.acknowledged.len());
    (run, found.records)
}

#[test]
fn power_cut_after_every_write_of_a_job_loses_nothing_acknowledged() {
    let (run, whole) = whole_job();
    let mut most = 0;
    for done in 0..=run.disk.done() {
        for cut in Cut::ALL {
            let at = format!("cut {cut:?} after {done} of {}", run.disk.done());
            let files = run.disk.cut(done, cut, SEED);
            most = most.max(hold(&files, done, run, whole, &at));
        }
    }
    println!(
        "{} operations, {} syncs, {} cuts, {} acknowledged, at most {most} bytes spoilt",
        run.disk.done(),
        run.disk.syncs(),
        (run.disk.done() + 1) * Cut::ALL.len(),
        run.acknowledged.len()
    );
    assert!(most > 0, "no cut spoilt anything: the disk is not hard enough");
}

#[test]
fn a_damaged_tail_is_told_with_its_bytes() {
    let (run, _) = whole_job();
    let files = run.disk.cut(run.disk.done() - 3, Cut::Kept, SEED);
    let mut bytes = files[Path::new(CAPTURE)].clone();
    bytes.truncate(bytes.len() - 5);
    let damaged = find(&bytes).unwrap().damaged;
    assert!(damaged > 0);
    let work = work_session(&find(&bytes).unwrap().session, Some(&plain_course(15.0)));
    let told = work.all_flags().find(|flag| flag.code == Code::CaptureDamaged).unwrap();
    assert!(told.what.contains(&damaged.to_string()), "{told:?}");
    assert!(work.all_flags().any(|flag| flag.code == Code::CaptureCut));
}

#[test]
fn power_cut_during_recovery_leaves_the_capture_and_the_old_or_the_new_result() {
    let (run, whole) = whole_job();
    let step = run.disk.done() / 12;
    for done in (run.begun..=run.disk.done()).step_by(step.max(1)) {
        for (n, cut) in Cut::ALL.into_iter().enumerate() {
            let files = run.disk.cut(done, cut, SEED);
            recover(&files, n % 2 == 0, &format!("cut {cut:?} after {done}"));
            hold(&files, done, run, whole, "recovered");
        }
    }
}

/// Work what is found, save the result, begin the next job; cut everywhere in between.
fn recover(files: &Files, saved_before: bool, at: &str) {
    let mut files = files.clone();
    let (capture, result) = (Path::new(CAPTURE), Path::new(RESULT));
    if saved_before {
        files.insert(result.to_owned(), b"old".to_vec());
    }
    let disk = SimDisk::holding(&files);
    let new = format!("{:?}", find(&files[capture]).unwrap().session.totals());
    replace_on(&disk, result, new.as_bytes()).unwrap();
    let saved = disk.done();
    let next = PathBuf::from("day/next.capture");
    let mut writer = CaptureWriter::create_on(&disk, &next).unwrap();
    writer.append(&Record { host_ns: 1, entry: Entry::End }).unwrap();
    writer.sync().unwrap();
    for done in 0..=disk.done() {
        for cut in Cut::ALL {
            let again = disk.cut(done, cut, SEED);
            let at = format!("{at}, then {cut:?} after {done}");
            assert_eq!(again[capture], files[capture], "{at}: the capture was touched");
            let now = again.get(result).map(Vec::as_slice);
            let is_new = now == Some(new.as_bytes());
            assert!(is_new || now == files.get(result).map(Vec::as_slice), "{at}: {now:?}");
            assert!(is_new || done < saved, "{at}: saved, and gone");
            // The second time it comes to the same.
            let totals = format!("{:?}", find(&again[capture]).unwrap().session.totals());
            assert_eq!(totals, new, "{at}");
        }
    }
}

/// Failures at every operation: each kind, passing and lasting.
fn failures(upto: usize) -> Vec<Failure> {
    let mut out = Vec::new();
    for at in 0..upto {
        for kind in [ErrorKind::StorageFull, ErrorKind::Other] {
            out.extend([false, true].map(|lasting| Failure { at, kind, lasting }));
        }
    }
    out
}

#[test]
fn a_disk_that_fails_anywhere_ends_the_job_and_keeps_what_was_acknowledged() {
    let mut lumps = lumps(&scenario(), 1_500_000);
    lumps.truncate(16);
    let sound = run(&lumps, None);
    assert!(sound.trouble.is_none() && sound.acknowledged.len() > 2);
    let whole_disk = sound.disk.asked();
    let all = failures(whole_disk);
    let next = AtomicUsize::new(0);
    let (lumps, all) = (&lumps, &all);
    std::thread::scope(|scope| {
        for _ in 0..12 {
            scope.spawn(|| {
                while let Some(failure) = all.get(next.fetch_add(1, Ordering::Relaxed)) {
                    fails(lumps, *failure);
                }
            });
        }
    });
    println!("{} failures at {whole_disk} operations", all.len());
}

fn fails(lumps: &[[Vec<u8>; 2]], failure: Failure) {
    let at = format!("{failure:?}");
    let run = run(lumps, Some(failure));
    if run.disk.failed() == 0 {
        // Timing decides how many syncs a job has; one fewer, and the last failure never comes.
        return;
    }
    let trouble = run.trouble.as_ref().unwrap_or_else(|| panic!("{at}: nobody was told"));
    assert_eq!(trouble.code, exit::STORAGE, "{at}: {trouble}");
    assert!(trouble.what.contains(CAPTURE) && !trouble.next.is_empty(), "{at}: {trouble}");
    // Once it has failed nothing more is tried but what was on its way, a close and a sync.
    assert!(run.disk.failed() <= 2, "{at}: {} tries", run.disk.failed());
    for cut in Cut::ALL {
        let files = run.disk.cut(run.disk.done(), cut, SEED);
        let due: Vec<SessionEvent> = run.acknowledged.iter().map(|(_, event)| *event).collect();
        if run.begun == usize::MAX {
            assert!(due.is_empty());
            continue;
        }
        let found = find(&files[Path::new(CAPTURE)]).unwrap_or_else(|e| panic!("{at}: {e}"));
        assert!(found.marks.starts_with(&due), "{at} {cut:?}: {:?} of {due:?}", found.marks);
    }
}

#[test]
fn a_full_disk_is_found_out_before_the_job_and_leaves_no_trial_behind() {
    let sound = SimDisk::default();
    try_room_on(&sound, Path::new(CAPTURE)).unwrap();
    assert!(sound.cut(sound.done(), Cut::Kept, 0).is_empty());
    for failure in failures(sound.asked()) {
        let disk = SimDisk::holding(&Files::from([("day/old".into(), b"old".to_vec())]));
        disk.fail(failure);
        let trouble = try_room_on(&disk, Path::new(CAPTURE)).unwrap_err();
        assert_eq!(trouble.code, exit::STORAGE, "{failure:?}: {trouble}");
        let files = disk.cut(disk.done(), Cut::Kept, 0);
        assert_eq!(files[Path::new("day/old")], b"old", "old data was touched");
        let removal_failed = failure.lasting || failure.at + 1 == sound.asked();
        assert!(files.len() == 1 || removal_failed, "{failure:?}: {:?}", files.keys());
    }
}

#[test]
fn a_result_that_cannot_be_saved_leaves_the_old_one() {
    let old = Files::from([(RESULT.into(), b"old".to_vec())]);
    let sound = SimDisk::holding(&old);
    replace_on(&sound, Path::new(RESULT), b"new").unwrap();
    for failure in failures(sound.asked()) {
        let disk = SimDisk::holding(&old);
        disk.fail(failure);
        let trouble = replace_on(&disk, Path::new(RESULT), b"new").unwrap_err();
        assert_eq!(trouble.code, exit::STORAGE);
        for cut in Cut::ALL {
            let files = disk.cut(disk.done(), cut, SEED);
            let now = &files[Path::new(RESULT)];
            assert!(now == b"old" || now == b"new", "{failure:?} {cut:?}: {now:?}");
        }
    }
}
