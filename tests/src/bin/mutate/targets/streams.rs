//! Readers of byte streams: frames, sentences, captures.

use super::Attempt;
use super::pools::{bodies, lines, records};
use trundle::capture::{BODY_MAX, Entry, ReadItem, Reader, encode};
use trundle::wire::board::BoardReader;
use trundle::wire::receiver::{ReceiverEvent, ReceiverReader};
use trundle::wire::sentence::{LINE_MAX, Sentence, parse};
use trundle_protocol::frame::DELIMITER;
use trundle_protocol::message::{ToBoard, ToHost};
use trundle_protocol::{DEFRAME_BUFFER, Deframer, WireMessage};
use trundle_tests::Draws;
use trundle_tests::mutation::{Mutator, frame_of, record_of, sentence_of};

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
        one_direction::<ToHost>(input, cut);
        one_direction::<ToBoard>(input, cut);
        let mut reader = BoardReader::new();
        let mut events = 0;
        reader.push(input, 0, |_| events += 1);
        let most = 2 * reader.line().frames + reader.line().refused();
        assert!(events <= most, "{events} events, at most {most}");
        reader.line().frames > 0
    })
}

/// What is accepted stands in the input as a whole frame, every byte is accounted for, and a cut
/// changes nothing.
fn one_direction<M: WireMessage>(input: &[u8], cut: usize) {
    let mut whole = Deframer::<M>::new();
    let (mut accepted_bytes, mut settled) = (0, 0);
    whole.push_slice(input, |frame| {
        settled += 1;
        if let Ok(message) = frame {
            let frame = message.frame();
            let bytes = frame.as_bytes();
            accepted_bytes += bytes.len() as u64;
            let mut parts = input.split_inclusive(|byte| *byte == DELIMITER);
            assert!(parts.any(|part| part == bytes), "never sent");
        }
    });
    let stats = *whole.stats();
    assert_eq!(stats.bytes, input.len() as u64);
    assert_eq!(stats.frames + stats.refused(), settled);
    let told = accepted_bytes + stats.refused_bytes + stats.idle_bytes + stats.mid_stream_bytes;
    assert!(told <= stats.bytes && stats.bytes - told <= DEFRAME_BUFFER as u64, "{stats:?}");
    let mut pieces = Deframer::<M>::new();
    pieces.push_slice(&input[..cut], |_| ());
    pieces.push_slice(&input[cut..], |_| ());
    assert_eq!(pieces.stats(), whole.stats());
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
        let read = parse(input);
        if let Ok(sentence) = &read {
            possible(sentence);
        }
        read.is_ok()
    })
}

/// Every value that comes through is one that can be.
fn possible(sentence: &Sentence) {
    let (place, speed) = match sentence {
        Sentence::Gga(gga) => (gga.position, None),
        Sentence::Rmc(rmc) => (rmc.position, rmc.speed),
        Sentence::Gll(gll) => (gll.position, None),
        Sentence::Gns(gns) => (gns.position, None),
        Sentence::Vtg(vtg) => (None, vtg.speed),
        _ => (None, None),
    };
    if let Some(place) = place {
        assert!(place.lat_deg.abs() <= 90.0 && place.lon_deg.abs() <= 180.0, "{sentence:?}");
        assert!(place.quantum_m > 0.0, "{sentence:?}");
    }
    if let Some(speed) = speed {
        assert!(speed.m_s >= 0.0 && speed.m_s.is_finite(), "{sentence:?}");
    }
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
        let mut reader = ReceiverReader::default();
        let mut events = 0;
        let mut tell = |event| {
            events += 1;
            if let ReceiverEvent::Fix { fix, .. } = event {
                assert!(fix.lat_deg.abs() <= 90.0 && fix.lon_deg.abs() <= 180.0, "{fix:?}");
                assert!(fix.speed_m_s.is_none_or(|speed_m_s| speed_m_s.is_finite()), "{fix:?}");
            }
        };
        reader.push(input, 7, &mut tell);
        reader.flush(&mut tell);
        let totals = reader.totals();
        assert!(events <= totals.sentences, "{events} events, {totals:?}");
        assert!(totals.lines.lines <= input.len() as u64, "{totals:?}");
        let cut = draws.below(input.len() + 1);
        let mut pieces = ReceiverReader::default();
        pieces.push(&input[..cut], 7, |_| ());
        pieces.push(&input[cut..], 7, |_| ());
        pieces.flush(|_| ());
        assert_eq!(pieces.totals(), totals);
        events > 0
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
    let mut endless = Reader::new();
    Box::new(move |draws, input| {
        if draws.below(3) == 0 {
            bare.input(draws, &mut body);
            *input = record_of(draws.below(12) as u8, draws.bits(), &body);
            bare.input(draws, &mut body);
            input.extend_from_slice(&record_of(draws.below(12) as u8, draws.bits(), &body));
        } else {
            whole.input(draws, input);
        }
        let items = read(input, input.len());
        let mut told = 0;
        for item in &items {
            told += match item {
                ReadItem::Damage(damage) => damage.bytes as usize,
                ReadItem::Record(record) => match &record.entry {
                    Entry::Bytes(_, bytes) => RECORD_EXTRA + bytes.len(),
                    _ => RECORD_EXTRA,
                },
            };
        }
        assert!(told <= input.len(), "{told} bytes told of {}", input.len());
        assert_eq!(read(input, 1 + draws.below(input.len().max(1))), items);
        endless.push(input);
        while endless.take().is_some() {}
        let most = BODY_MAX + RECORD_EXTRA + input.len();
        assert!(endless.held() <= most, "{} bytes held, at most {most}", endless.held());
        items.iter().any(|item| matches!(item, ReadItem::Record(_)))
    })
}

fn read(bytes: &[u8], piece: usize) -> Vec<ReadItem> {
    let mut reader = Reader::new();
    let mut items = Vec::new();
    for part in bytes.chunks(piece.max(1)) {
        reader.push(part);
        items.extend(std::iter::from_fn(|| reader.take()));
    }
    items.extend(std::iter::from_fn(|| reader.finish()));
    items
}
