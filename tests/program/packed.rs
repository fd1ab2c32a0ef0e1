//! Packed captures: the same bytes back; cut, damaged or hostile, what is whole is read and the
//! rest is reported; a power cut while one is written loses nothing.

mod hostile;
mod power;

use std::io::{self, Read};
use std::path::Path;
use std::sync::LazyLock;
use trundle::packed::pack::pack;
use trundle::packed::plain::{named, plain};
use trundle::packed::unpack::Lost;
use trundle::packed::{BLOCK, HEAD};
use trundle::recorder::capture_read::read_from;
use trundle_core::capture::Piece;
use trundle_core::session::Session;
use trundle_tests::Draws;

const SEED: u64 = 20_260_330;

/// A capture of the evidence, and the same packed.
static SOUND: LazyLock<(Vec<u8>, Vec<u8>)> = LazyLock::new(|| {
    let plain = std::fs::read(trundle_tests::folder().join("../logs/simulated-rtk.capture"));
    let plain = plain.unwrap();
    let packed = packed(&plain);
    (plain, packed)
});

fn packed(plain: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let done = pack(&mut &*plain, plain.len() as u64, &mut out).unwrap();
    assert_eq!(done.length, out.len() as u64);
    assert_eq!(done.sha256, named(plain, Lost::Refused).unwrap().sha256);
    out
}

fn unpacked(bytes: &[u8], lost: Lost) -> io::Result<Vec<u8>> {
    let mut out = Vec::new();
    plain(bytes, lost)?.read_to_end(&mut out)?;
    Ok(out)
}

/// Where each block lies, its head included, and last the end.
fn blocks(bytes: &[u8]) -> Vec<std::ops::Range<usize>> {
    let (mut all, mut at) = (Vec::new(), 0);
    while at < bytes.len() {
        let frame = u32::from_le_bytes(bytes[at + 44..at + 48].try_into().unwrap());
        let to = at + HEAD + frame as usize;
        all.push(at..to);
        at = to;
    }
    assert_eq!(all.last().unwrap().len(), HEAD);
    all
}

/// The plain bytes of which these blocks are lost.
fn without(plain: &[u8], lost: impl IntoIterator<Item = usize>) -> Vec<u8> {
    let mut out = plain.to_vec();
    for block in lost {
        let to = out.len().min((block + 1) * BLOCK);
        out[(block * BLOCK).min(to)..to].fill(0);
    }
    out
}

/// What a reader of captures reports as damaged, and the session it makes.
fn worked(bytes: &[u8]) -> (u64, Session) {
    let (mut damaged, mut session) = (0, Session::default());
    read_from(bytes, Path::new("x"), |piece| {
        if let Piece::Damage(damage) = piece {
            damaged += damage.bytes;
        }
        session.take(piece, &mut Vec::new());
    })
    .unwrap();
    session.finish(&mut Vec::new());
    (damaged, session)
}

#[test]
fn what_was_packed_comes_back_whatever_it_was() {
    let mut draws = Draws::new(SEED);
    let chance: Vec<u8> = (0..3 * BLOCK + 17).map(|_| draws.below(256) as u8).collect();
    let (sound, _) = &*SOUND;
    for plain in [
        &sound[..],
        &chance,
        &chance[..1],
        &chance[..BLOCK],
        &chance[..BLOCK + 1],
        &[0; 5 * BLOCK],
        &sound[..2 * BLOCK],
    ] {
        let packed = packed(plain);
        assert_eq!(blocks(&packed).len(), plain.len().div_ceil(BLOCK) + 1);
        assert_eq!(unpacked(&packed, Lost::Refused).unwrap(), plain);
    }
    let none = pack(&mut io::empty(), 0, &mut Vec::new()).unwrap_err();
    assert_eq!(none.kind(), io::ErrorKind::InvalidInput);
    for other in [6, 8] {
        let error = pack(&mut &chance[..7], other, &mut Vec::new()).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::InvalidData, "{other}");
    }
}

#[test]
fn every_capture_of_the_evidence_comes_out_a_third_or_less() {
    let logs = std::fs::read_dir(trundle_tests::folder().join("../logs")).unwrap();
    let captures = logs.map(|one| one.unwrap().path());
    let captures = captures.filter(|path| path.extension().is_some_and(|end| end == "capture"));
    let mut seen = 0;
    for path in captures {
        let plain = std::fs::read(&path).unwrap();
        let ratio = plain.len() as f64 / packed(&plain).len() as f64;
        println!("{}: {ratio:.2} times smaller", path.display());
        assert!(ratio > 3.0, "{}: {ratio}", path.display());
        seen += 1;
    }
    assert!(seen >= 4);
}

/// Any program for the format reads the plain bytes: one that knows nothing of our heads.
#[test]
fn the_file_is_one_of_the_standard() {
    let (sound, bytes) = &*SOUND;
    let mut plain = vec![0; sound.len()];
    let read = zstd::bulk::decompress_to_buffer(bytes, &mut plain[..]).unwrap();
    assert_eq!((read, &plain), (sound.len(), sound));
}

#[test]
fn cut_at_every_block_what_precedes_is_read_and_the_rest_reported() {
    let (sound, bytes) = &*SOUND;
    let all = blocks(bytes);
    let last = all.len() - 1;
    for (number, block) in all.iter().enumerate().skip(1) {
        for cut in [block.start, block.start + 1, block.end - 1] {
            let read = unpacked(&bytes[..cut], Lost::AsZeros).unwrap();
            let mut due = without(sound, number..last);
            // That the end is missing is one byte more, where nothing else is.
            due.resize(due.len() + if number == last { (cut - block.start).max(1) } else { 0 }, 0);
            assert!(read == due, "cut at {cut}: {} bytes, not {}", read.len(), due.len());
            let error = unpacked(&bytes[..cut], Lost::Refused).unwrap_err();
            assert_eq!(error.kind(), io::ErrorKind::InvalidData, "cut at {cut}");
        }
    }
    // As for a plain capture of which the same bytes are spoilt.
    let cut = &bytes[..all[2].start];
    let (damaged, session) = worked(cut);
    let (as_plain, other) = worked(&without(sound, 2..last));
    assert_eq!(damaged, as_plain);
    assert!(damaged >= (sound.len() - 2 * BLOCK) as u64 && !session.passes().is_empty());
    assert_eq!(format!("{session:?}"), format!("{other:?}"));
    for cut in [0, 1, HEAD, all[0].end - 1] {
        let read = unpacked(&bytes[..cut], Lost::AsZeros);
        assert!(cut < 4 || read.is_err(), "cut at {cut}: nothing is whole");
    }
}

#[test]
fn damaged_anywhere_the_blocks_that_are_whole_are_read() {
    let (sound, bytes) = &*SOUND;
    let all = blocks(bytes);
    let mut draws = Draws::new(SEED);
    println!("seed {SEED}");
    for round in 0..1500 {
        let mut changed = bytes.clone();
        let at = if round < 2 * HEAD { round } else { draws.below(bytes.len()) };
        changed[at] ^= 1 << draws.below(8);
        let hit = all.iter().position(|block| block.contains(&at)).unwrap();
        let read = unpacked(&changed, Lost::AsZeros).unwrap();
        let is_end = hit + 1 == all.len();
        let due = without(sound, (!is_end).then_some(hit));
        assert!(read.starts_with(&due), "byte {at} in block {hit}");
        assert_eq!(read.len() > due.len(), is_end, "byte {at}: it is reported");
        assert!(unpacked(&changed, Lost::Refused).is_err(), "byte {at}");
    }
    let mut cuts = vec![0; 300];
    cuts.fill_with(|| draws.below(bytes.len()));
    for cut in cuts.into_iter().filter(|cut| *cut >= all[0].end) {
        let whole = all.iter().take_while(|block| block.end <= cut).count();
        let read = unpacked(&bytes[..cut], Lost::AsZeros).unwrap();
        assert!(read.starts_with(&without(sound, whole..all.len() - 1)), "cut at {cut}");
    }
}

/// Small ones, of one block and of three: every place of a cut, and every bit.
#[test]
fn a_small_one_cut_or_flipped_at_every_place() {
    let (sound, _) = &*SOUND;
    let three = b"speed and count ".repeat((2 * BLOCK + 160) / 16);
    for plain in [&sound[..1500], &three] {
        let bytes = packed(plain);
        let all = blocks(&bytes);
        let last = all.len() - 1;
        assert!(last == plain.len().div_ceil(BLOCK) && bytes.len() < 2000, "{}", bytes.len());
        for cut in 0..bytes.len() {
            assert!(cut < 4 || unpacked(&bytes[..cut], Lost::Refused).is_err(), "cut at {cut}");
            let whole = all.iter().take_while(|block| block.end <= cut).count();
            match unpacked(&bytes[..cut], Lost::AsZeros) {
                // Too short to be known for a packed one: the capture's reader finds nothing in it.
                Ok(read) if cut < 4 => assert!(read == bytes[..cut], "cut at {cut}"),
                Ok(read) => {
                    let due = without(plain, whole..last);
                    assert!(whole > 0 && read.starts_with(&due), "cut at {cut}");
                    assert!(read[due.len()..].iter().all(|byte| *byte == 0), "cut at {cut}");
                    assert!(whole < last || read.len() > due.len(), "cut at {cut}: nobody told");
                }
                Err(error) => assert!(whole == 0, "cut at {cut}: {error}"),
            }
        }
        for bit in 0..8 * bytes.len() {
            let mut changed = bytes.clone();
            changed[bit / 8] ^= 1 << (bit % 8);
            assert!(unpacked(&changed, Lost::Refused).is_err(), "bit {bit}");
            let hit = all.iter().position(|block| block.contains(&(bit / 8))).unwrap();
            match unpacked(&changed, Lost::AsZeros) {
                Ok(read) if hit == last => {
                    assert!(read.starts_with(plain) && read.len() > plain.len(), "bit {bit}");
                }
                Ok(read) => assert!(read == without(plain, [hit]), "bit {bit} in block {hit}"),
                // Where the only block is hit there is nothing else.
                Err(error) => assert!(last == 1 && hit == 0, "bit {bit}: {error}"),
            }
        }
    }
}

#[test]
fn whatever_was_added_taken_out_or_put_twice_is_reported() {
    let (sound, bytes) = &*SOUND;
    let all = blocks(bytes);
    let (first, second) = (&bytes[all[0].clone()], &bytes[all[1].clone()]);
    let rest = &bytes[all[1].end..];
    // What is whole is read; the length says that something is not as it was written.
    for (what, changed) in [
        ("bytes behind the end", [bytes, &b"abc"[..]].concat()),
        ("twice the whole", [&bytes[..], bytes].concat()),
        ("bytes between blocks", [first, b"abc", second, rest].concat()),
        ("a block twice", [first, first, second, rest].concat()),
    ] {
        let read = unpacked(&changed, Lost::AsZeros).unwrap();
        assert!(read.starts_with(sound) && read.len() > sound.len(), "{what}: {}", read.len());
        assert!(read[sound.len()..].iter().all(|byte| *byte == 0), "{what}");
        assert!(unpacked(&changed, Lost::Refused).is_err(), "{what}");
    }
    for (what, changed, lost) in [
        ("a block is missing", [first, rest].concat(), vec![1]),
        ("two blocks the wrong way round", [second, first, rest].concat(), vec![0]),
        ("a byte is missing", [&first[..300], &first[301..], second, rest].concat(), vec![0]),
    ] {
        let read = unpacked(&changed, Lost::AsZeros).unwrap();
        assert!(read.starts_with(&without(sound, lost)), "{what}");
        assert!(unpacked(&changed, Lost::Refused).is_err(), "{what}");
    }
}

/// The same on any reading in pieces, of either side.
#[test]
fn how_it_is_read_changes_nothing() {
    struct Drops<'a>(&'a [u8], usize);
    impl Read for Drops<'_> {
        fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
            let count = to.len().min(self.1);
            self.0.read(&mut to[..count])
        }
    }
    let (sound, bytes) = &*SOUND;
    let mut scratched = bytes.clone();
    scratched[blocks(bytes)[1].start + 100] ^= 4;
    for (bytes, due) in [(bytes, sound.clone()), (&scratched, without(sound, [1]))] {
        for piece in [1, 7, 4096] {
            let mut source = plain(Drops(bytes, piece), Lost::AsZeros).unwrap();
            let (mut read, mut buffer) = (Vec::new(), vec![0; piece * 3]);
            loop {
                match source.read(&mut buffer).unwrap() {
                    0 => break,
                    count => read.extend_from_slice(&buffer[..count]),
                }
            }
            assert!(read == due, "in pieces of {piece}");
        }
    }
}
