//! Packed captures that somebody made to do harm.

use super::{SOUND, blocks, packed, unpacked};
use std::io::{self, ErrorKind, Read};
use std::path::Path;
use trundle::packed::plain::plain;
use trundle::packed::unpack::Lost;
use trundle::packed::{BLOCK, HEAD, MOST};
use trundle::recorder::capture_read::read_from;
use trundle::shell::exit;
use trundle_protocol::crc::crc32c;

/// A head in which these bytes stand at this place, under a right sum.
fn head_with(bytes: &[u8], at: usize, put: &[u8]) -> Vec<u8> {
    let mut head = bytes[..HEAD].to_vec();
    head[at..at + put.len()].copy_from_slice(put);
    let sum = crc32c(&head[..HEAD - 4]);
    head[HEAD - 4..].copy_from_slice(&sum.to_le_bytes());
    head
}

/// A packed capture of one block whose frame is `frame`, said to hold `plain` bytes.
fn around(frame: &[u8], plain: u32) -> Vec<u8> {
    let mut head = SOUND.1[..HEAD].to_vec();
    head[16..24].copy_from_slice(&u64::from(plain).to_le_bytes());
    head[40..44].copy_from_slice(&plain.to_le_bytes());
    head[44..48].copy_from_slice(&(frame.len() as u32).to_le_bytes());
    head[48..52].copy_from_slice(&crc32c(frame).to_le_bytes());
    [head_with(&head, 0, &[]), frame.to_vec()].concat()
}

#[test]
fn what_is_said_to_be_endless_is_refused() {
    let bytes = &SOUND.1;
    for total in [MOST + 1, u64::MAX] {
        let long = head_with(bytes, 16, &total.to_le_bytes());
        let error = unpacked(&long, Lost::AsZeros).unwrap_err();
        assert_eq!(error.kind(), ErrorKind::InvalidData);
        assert!(error.to_string().contains("no capture is longer"), "{error}");
        let trouble = read_from(&long[..], Path::new("x"), |_| ()).unwrap_err();
        assert_eq!(trouble.code, exit::INPUT);
        assert!(trouble.what.contains(&total.to_string()), "{trouble}");
    }
    let later = head_with(bytes, 14, &[2, 0]);
    let trouble = read_from(&later[..], Path::new("x"), |_| ()).unwrap_err();
    assert!(trouble.code == exit::INPUT && trouble.what.contains("newer version"), "{trouble}");
    assert!(trouble.next.contains("that packed it"), "{trouble}");
}

/// A frame may claim any window and unpack to anything: never more than its block holds is made.
#[test]
fn a_frame_makes_no_more_than_its_block() {
    let zeros = vec![0; 16 << 20];
    let bomb = zstd::bulk::compress(&zeros, 3).unwrap();
    assert!(bomb.len() < BLOCK, "{}", bomb.len());
    // A frame without its length, with a window of 2 GiB in its head (RFC 8878, 3.1.1.1.2), and a
    // block of one byte said to stand 1 MiB often.
    let window = [&[0x28, 0xB5, 0x2F, 0xFD, 0x00, 0xA8][..], &[0x03, 0x00, 0x80, 0x00]].concat();
    let two = zstd::bulk::compress(&zeros[..BLOCK], 3).unwrap();
    let two = [&two[..], &two].concat();
    for (what, frame) in [("a bomb", &bomb), ("a window", &window), ("two frames", &two)] {
        let file = around(frame, BLOCK as u32);
        let error = unpacked(&file, Lost::AsZeros).unwrap_err();
        assert!(error.to_string().contains("no part is whole"), "{what}: {error}");
    }
    // Less than the head says.
    let less = zstd::bulk::compress(&zeros[..9], 3).unwrap();
    assert!(unpacked(&around(&less, 10), Lost::AsZeros).is_err());
    assert!(unpacked(&around(&less, 9), Lost::AsZeros).is_ok(), "and a sound one is read");
}

/// Heads by the thousand, each with a frame that is not sound: it is given up in time.
#[test]
fn what_was_made_to_be_slow_is_given_up() {
    let (sound, _) = &*SOUND;
    let long = packed(&sound.repeat(9));
    let first = blocks(&long)[0].clone();
    let mut head = head_with(&long, 44, &(BLOCK as u32).to_le_bytes());
    head = head_with(&head, 48, &[1, 2, 3, 4]);
    // In a place behind the first block.
    head = head_with(&head, 24, &(BLOCK as u64).to_le_bytes());
    let slow = [&long[first], &head.repeat(20_000)].concat();
    let error = unpacked(&slow, Lost::AsZeros).unwrap_err();
    assert!(error.to_string().contains("more places"), "{error}");
}

/// A few bytes that say they are part of much: zeros to that length, without the memory for them.
#[test]
fn what_is_missing_takes_no_memory() {
    let first = blocks(&SOUND.1)[0].clone();
    let total = MOST - 5;
    let head = head_with(&SOUND.1, 16, &total.to_le_bytes());
    let file = [&head, &SOUND.1[first][HEAD..]].concat();
    let mut source = plain(&file[..], Lost::AsZeros).unwrap();
    let mut some = vec![0; 4 * BLOCK];
    source.read_exact(&mut some).unwrap();
    assert!(some[..BLOCK] == SOUND.0[..BLOCK] && some[BLOCK..].iter().all(|byte| *byte == 0));
    let rest = io::copy(&mut source.take(MOST), &mut io::sink()).unwrap();
    assert_eq!(rest + some.len() as u64, total);
}

/// A head of another capture before the first block does not say how long this one is.
#[test]
fn a_head_of_another_capture_hides_nothing() {
    let (sound, bytes) = &*SOUND;
    let other = packed(&sound[..sound.len() / 2]);
    let file = [&other[..HEAD], bytes].concat();
    let read = unpacked(&file, Lost::AsZeros).unwrap();
    assert!(read.starts_with(sound), "{} bytes of {}", read.len(), sound.len());
    assert!(read.len() > sound.len(), "and it is told that something was there");
    assert!(unpacked(&file, Lost::Refused).is_err());
}
