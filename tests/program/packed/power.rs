//! Packed and unpacked in its place, on a disk that loses power or fails at every operation.

use super::{SOUND, packed, unpacked};
use crate::sim_disk::{Cut, Failure, Files, SimDisk};
use std::io::{self, ErrorKind};
use std::path::Path;
use trundle::packed::rewrite::{Way, rewrite};
use trundle::packed::unpack::Lost;

const CAPTURE: &str = "day/job.capture";
const SEED: u64 = 11;

/// A disk with the capture as it is before it goes this way.
fn before(way: Way) -> Files {
    let (plain, packed) = &*SOUND;
    let bytes = if way == Way::Pack { plain } else { packed };
    Files::from([(CAPTURE.into(), bytes.clone()), ("day/old".into(), b"old".to_vec())])
}

fn go(disk: &SimDisk, way: Way) -> io::Result<()> {
    let place = Path::new(CAPTURE);
    rewrite(disk, way, place, place, &|_, _| Ok(())).map(drop)
}

/// The capture is there, whole, in one form or the other; gives whether it is the new one.
fn is_new(files: &Files, way: Way, at: &str) -> bool {
    let bytes = files.get(Path::new(CAPTURE)).unwrap_or_else(|| panic!("{at}: it is gone"));
    assert_eq!(files[Path::new("day/old")], b"old", "{at}");
    assert!(unpacked(bytes, Lost::Refused).unwrap() == SOUND.0, "{at}: it is not whole");
    *bytes != before(way)[Path::new(CAPTURE)]
}

#[test]
fn power_cut_after_every_operation_leaves_the_capture_whole() {
    for way in [Way::Pack, Way::Unpack] {
        let disk = SimDisk::holding(&before(way));
        go(&disk, way).unwrap();
        let mut seen = [0, 0];
        for done in 0..=disk.done() {
            for cut in Cut::ALL {
                let at = format!("{way:?}: cut {cut:?} after {done} of {}", disk.done());
                let new = is_new(&disk.cut(done, cut, SEED), way, &at);
                assert!(new || done < disk.done(), "{at}: done, and lost again");
                seen[usize::from(new)] += 1;
            }
        }
        println!("{way:?}: {} operations; old and new after a cut: {seen:?}", disk.done());
        assert!(seen[0] > 0 && seen[1] > 0);
        let files = disk.cut(disk.done(), Cut::Lost, SEED);
        assert_eq!(files.len(), 2, "nothing is left beside it: {:?}", files.keys());
    }
}

#[test]
fn a_disk_that_fails_anywhere_leaves_the_capture_as_it_was() {
    for way in [Way::Pack, Way::Unpack] {
        let sound = SimDisk::holding(&before(way));
        go(&sound, way).unwrap();
        for at in 0..sound.asked() {
            for (kind, lasting) in
                [ErrorKind::StorageFull, ErrorKind::Other].into_iter().zip([false, true])
            {
                let disk = SimDisk::holding(&before(way));
                disk.fail(Failure { at, kind, lasting });
                let done = go(&disk, way);
                let named = format!("{way:?}, {kind:?} at {at} of {}", sound.asked());
                assert!(done.is_err() && disk.failed() > 0, "{named}: nobody was told");
                for cut in Cut::ALL {
                    is_new(&disk.cut(disk.done(), cut, SEED), way, &named);
                }
                let now = disk.cut(disk.done(), Cut::Kept, SEED);
                // Only where its removal failed too is anything left beside it.
                assert!(now.len() == 2 || lasting, "{named}: {:?}", now.keys());
            }
        }
    }
}

#[test]
fn what_was_refused_before_the_name_changes_nothing() {
    let disk = SimDisk::holding(&before(Way::Pack));
    let place = Path::new(CAPTURE);
    let refused = rewrite(&disk, Way::Pack, place, place, &|_, written| {
        assert_eq!(written.plain, SOUND.0.len() as u64);
        Err(io::Error::other("no"))
    });
    assert!(refused.is_err());
    assert_eq!(disk.cut(disk.done(), Cut::Kept, SEED), before(Way::Pack));
}

#[test]
fn a_damaged_one_is_not_unpacked_and_what_is_read_of_it_can_be_packed() {
    let (plain, bytes) = &*SOUND;
    let cut = &bytes[..super::blocks(bytes)[2].start];
    let disk = SimDisk::holding(&Files::from([(CAPTURE.into(), cut.to_vec())]));
    assert_eq!(go(&disk, Way::Unpack).unwrap_err().kind(), ErrorKind::InvalidData);
    assert_eq!(disk.cut(disk.done(), Cut::Kept, SEED)[Path::new(CAPTURE)], cut);
    let to = Path::new("day/kept.capture");
    rewrite(&disk, Way::Pack, Path::new(CAPTURE), to, &|_, _| Ok(())).unwrap();
    let kept = &disk.cut(disk.done(), Cut::Lost, SEED)[to];
    assert!(*kept == packed(&super::without(plain, 2..9)));
}
