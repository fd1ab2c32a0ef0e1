//! Readers of byte streams: frames, sentences, captures.

use super::Attempt;
use super::pools::{bodies, lines, records};
use trundle_bounds::streams;
use trundle_bounds::sums::{frame_of, record_of, sentence_of};
use trundle_core::capture::{BODY_MAX, Reader, encode};
use trundle_core::wire::nmea_splitter::LINE_MAX;
use trundle_tests::Draws;
use trundle_tests::mutation::Mutator;

/// Longest input of a stream, bytes.
const LONGEST: usize = 1024;
/// Longest body that one frame takes, bytes.
const FRAME_BODY: usize = 249;
/// Bytes of a record beside its body.
const RECORD_EXTRA: usize = 19;

/// The board's line: deframer of both directions, and the reader behind it.
pub fn deframer() -> Attempt {
    let bodies = bodies();
    let frames = bodies.iter().map(|body| frame_of(body)).collect();
    let words: [&[u8]; 8] =
        [&[0], &[0; 4], &[1], &[0xFF; 8], &[0x80], &[1, 2], &[2, 1], &[0, 0xFF, 0]];
    let framed = Mutator::stream(frames, &words, LONGEST);
    let bare = Mutator::text(bodies, &words, FRAME_BODY);
    let mut body = Vec::new();
    Box::new(move |draws, input| {
        if draws.below(3) == 0 {
            // Damage under a right sum.
            input.clear();
            for _ in 0..=draws.below(3) {
                bare.input(draws, &mut body);
                input.extend_from_slice(&frame_of(&body));
            }
        } else {
            framed.input(draws, input);
        }
        let cut = draws.below(input.len() + 1);
        streams::frames(input, cut)
    })
}

const NMEA_WORDS: [&[u8]; 24] = [
    b",",
    b",,,,",
    b".",
    b"*",
    b"$",
    b"!",
    b"\r\n",
    b"\r",
    b"*00\r\n",
    b"$GPGGA,",
    b"$GNRMC,",
    b"$GNGST,",
    b"$GPVTG,",
    b"$GPZDA,",
    b"$GNGNS,",
    b"$GPGLL,",
    b"-",
    b"+",
    b"235960.99",
    b"999999999999999999",
    b"0.00000000000000001",
    b"18000.0000",
    b"NaN",
    b"\xB5b\x01\x07",
];

/// A line of pool or dictionary, damaged, with its sum mended half of the time.
fn line(bare: &Mutator, draws: &mut Draws, body: &mut Vec<u8>, input: &mut Vec<u8>) {
    bare.input(draws, body);
    input.extend_from_slice(&if draws.below(2) == 0 { sentence_of(body) } else { body.clone() });
}

/// What stands between `$` and `*`, and whole lines where there is no sum.
fn insides(lines: &[Vec<u8>]) -> Vec<Vec<u8>> {
    let inside = |line: &Vec<u8>| {
        let line = line.trim_ascii().strip_prefix(b"$")?;
        let star = line.iter().rposition(|byte| *byte == b'*')?;
        Some(line[..star].to_vec())
    };
    lines.iter().filter_map(inside).collect()
}

/// One line at a time.
pub fn sentence() -> Attempt {
    let lines = lines();
    let bare = Mutator::text(insides(&lines), &NMEA_WORDS, LINE_MAX);
    let whole = Mutator::text(lines, &NMEA_WORDS, LINE_MAX);
    let mut body = Vec::new();
    Box::new(move |draws, input| {
        input.clear();
        if draws.below(3) == 0 {
            whole.input(draws, input);
        } else {
            line(&bare, draws, &mut body, input);
        }
        streams::sentence(input)
    })
}

/// The receiver's line: splitter, sentences, epochs, plausible fixes.
pub fn receiver() -> Attempt {
    let lines = lines();
    let bare = Mutator::text(insides(&lines), &NMEA_WORDS, LINE_MAX);
    let whole = Mutator::stream(lines, &NMEA_WORDS, LONGEST);
    let mut body = Vec::new();
    Box::new(move |draws, input| {
        input.clear();
        if draws.below(2) == 0 {
            whole.input(draws, input);
        } else {
            (0..=draws.below(4)).for_each(|_| line(&bare, draws, &mut body, input));
        }
        let cut = draws.below(input.len() + 1);
        streams::receiver(input, cut)
    })
}

/// The capture's file.
pub fn capture() -> Attempt {
    let mut pool: Vec<Vec<u8>> = Vec::new();
    for record in records("simulated-rtk").iter().chain(&records("joined-real-receiver")) {
        let mut bytes = Vec::new();
        encode(record, &mut bytes);
        if bytes.len() <= LONGEST / 2 {
            pool.push(bytes);
        }
    }
    let bodies = pool.iter().map(|record| record[15..record.len() - 4].to_vec()).collect();
    let sync: [u8; 4] = [0xA7, 0x54, 0x72, 0x5E];
    let head = [&sync[..], &[0x00, 0x10, 2], &[0; 8]].concat();
    let words: [&[u8]; 7] = [
        &sync,
        &sync[..1],
        &sync[..3],
        &head,
        &[0; 8],
        &[0xFF; 8],
        b"{\"key\":18446744073709551616}",
    ];
    let whole = Mutator::stream(pool, &words, LONGEST);
    let bare = Mutator::text(bodies, &words, LONGEST);
    let mut body = Vec::new();
    // One file without an end, so that what is held can be seen not to grow.
    let mut endless = Reader::default();
    Box::new(move |draws, input| {
        if draws.below(3) == 0 {
            bare.input(draws, &mut body);
            *input = record_of(draws.below(12) as u8, draws.bits(), &body);
            bare.input(draws, &mut body);
            input.extend_from_slice(&record_of(draws.below(12) as u8, draws.bits(), &body));
        } else {
            whole.input(draws, input);
        }
        let piece = 1 + draws.below(input.len().max(1));
        let sound = streams::capture(input, piece);
        endless.push(input);
        while endless.take().is_some() {}
        let most = BODY_MAX + RECORD_EXTRA + input.len();
        assert!(endless.held() <= most, "{} bytes held, at most {most}", endless.held());
        sound
    })
}
