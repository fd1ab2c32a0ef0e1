//! A capture that is deleted or renamed while it is recorded: that is said, recording goes on into
//! the open file, and at the end a whole copy stands where its name is given.

use crate::fakes::job::records;
use crate::fakes::{Heard, wait_until};
use crate::shell_again::on_bench::{Bench, Device, seconds_until};
use std::fs;
use std::path::Path;
use tempfile::TempDir;
use trundle::ports::open::BOARD_BAUD;
use trundle::recorder::live::{LiveEvent, LiveJob};
use trundle_core::capture::{Entry, HostMarkAction};

fn moved(event: &LiveEvent) -> bool {
    matches!(event, LiveEvent::CaptureMoved { in_place: false })
}

/// A job whose capture this was done to.
fn after(what: impl FnOnce(&Path)) -> (LiveJob, Heard, TempDir) {
    let bench = Bench::default();
    bench.plug("ttyUSB0", Device::Board(7));
    bench.plug("ttyUSB1", Device::Receiver(BOARD_BAUD));
    let (job, folder) = bench.job("ttyUSB0", ("ttyUSB1", BOARD_BAUD));
    wait_until("fit to start", || job.fit_to_start().is_ok());
    let mut heard = Heard::default();
    what(&folder.path().join("x.capture"));
    let seconds = seconds_until(&mut heard, &job, moved);
    eprintln!("a capture that was moved: said after {seconds:.2} s");
    (job, heard, folder)
}

fn whole(path: &Path) -> bool {
    let entries = records(&fs::read(path).unwrap());
    let noted = |entry: &Entry| matches!(entry, Entry::HostMark(mark) if mark.text == "after it");
    entries.iter().any(noted) && entries.last() == Some(&Entry::End)
}

#[test]
fn a_capture_that_is_deleted_or_replaced_is_said_and_saved_again() {
    let delete = |path: &Path| fs::remove_file(path).unwrap();
    let replace = |path: &Path| {
        fs::remove_file(path).unwrap();
        fs::write(path, "another file").unwrap();
    };
    for (what, name) in [(&delete as &dyn Fn(&Path), "x.capture"), (&replace, "saved-x.capture")] {
        let (job, _, folder) = after(what);
        job.host_mark(HostMarkAction::Note, "after it");
        let finished = job.finish();
        assert_eq!(finished.trouble, None);
        assert_eq!(finished.saved_as, Some(folder.path().join(name)));
        assert!(whole(&folder.path().join(name)));
    }
}

#[test]
fn a_folder_that_is_renamed_is_said_and_it_is_seen_when_it_is_back() {
    let (from, to) = (|path: &Path| path.parent().unwrap().to_owned(), ".elsewhere");
    let other = |path: &Path| from(path).with_extension(to.trim_start_matches('.'));
    let (job, mut heard, folder) = after(|path| fs::rename(from(path), other(path)).unwrap());
    let path = folder.path().join("x.capture");
    fs::rename(other(&path), from(&path)).unwrap();
    heard.until(&job, |event| matches!(event, LiveEvent::CaptureMoved { in_place: true }));
    job.host_mark(HostMarkAction::Note, "after it");
    let finished = job.finish();
    assert_eq!((finished.trouble, finished.saved_as), (None, None));
    assert!(whole(&path));
}
