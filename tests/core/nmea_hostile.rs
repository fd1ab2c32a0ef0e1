//! The sentence reader on a bad line: damaged sentences, any chunking, what is not a sentence.
//!
//! Randomness is a seeded generator (SplitMix64: Steele, Lea and Flood, "Fast splittable
//! pseudorandom number generators", OOPSLA 2014, figure 17); every failure prints its seed.

use trundle_bounds::streams;
use trundle_core::wire::fix::{EpochAssembler, FixEvent};
use trundle_core::wire::gate::{Gate, GateRuling};
use trundle_core::wire::nmea_splitter::{LINE_MAX, LineCounts, LineSplitter};
use trundle_core::wire::sentence::{Sentence, SentenceFault, parse};
use trundle_tests::Draws;

/// A good line around `body`.
fn line(body: &str) -> Vec<u8> {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}").into_bytes()
}

fn fault(body: &str) -> SentenceFault {
    parse(&line(body)).unwrap_err()
}

fn recording(number: u8) -> Vec<u8> {
    let folder = trundle_tests::folder().join("data/receivers");
    std::fs::read(folder.join(format!("receiver-{number:02}.nmea"))).unwrap()
}

/// Bytes to lines, with the stamp of each.
fn split(chunks: &[(&[u8], u64)]) -> (Vec<(Vec<u8>, u64)>, LineCounts) {
    let (mut splitter, mut lines) = (LineSplitter::default(), Vec::new());
    for (chunk, host_ns) in chunks {
        splitter.push(chunk, *host_ns, |line, stamp| lines.push((line.to_vec(), stamp)));
    }
    (lines, splitter.counts())
}

fn texts(bytes: &[u8]) -> (Vec<String>, LineCounts) {
    let (lines, counts) = split(&[(bytes, 0)]);
    let text = |(line, _): (Vec<u8>, u64)| String::from_utf8(line).unwrap();
    (lines.into_iter().map(text).collect(), counts)
}

#[test]
fn lines_end_in_any_of_three_ways_and_carry_the_stamp_of_their_dollar() {
    let (lines, counts) = split(&[(b"\r\n$A*1\r\n$B*2\n$C", 10), (b"*", 20), (b"3\r$D*4\r\n", 30)]);
    let expected = [("$A*1", 10), ("$B*2", 10), ("$C*3", 10), ("$D*4", 30)];
    assert_eq!(lines, expected.map(|(text, stamp)| (text.as_bytes().to_vec(), stamp)));
    assert_eq!(counts, LineCounts { lines: 4, ..LineCounts::default() });
}

#[test]
fn what_is_not_a_sentence_is_dropped_and_counted() {
    let (lines, counts) = texts(b"xy$GPG$GPR*0\r\n!AIVDM,1*2\r\n$GP\xB5b\x01GGA\r\n$OK*1\r\n");
    assert_eq!(lines, ["$GPR*0", "$OK*1"]);
    // "xy", then 0xB5 'b' 0x01 'G' 'G' 'A' after the line they broke.
    let expected =
        LineCounts { lines: 2, merged: 1, broken: 1, encapsulated: 1, stray_bytes: 8, overlong: 0 };
    assert_eq!(counts, expected);
}

#[test]
fn the_longest_line_passes_and_one_byte_more_does_not() {
    let long = |len: usize| [b"$", vec![b'A'; len - 1].as_slice(), b"\n"].concat();
    assert_eq!(texts(&long(LINE_MAX)).1.lines, 1);
    let (lines, counts) = texts(&[long(LINE_MAX + 1), b"$B*1\n".to_vec()].concat());
    assert_eq!((lines, counts.overlong), (vec!["$B*1".to_owned()], 1));
}

#[test]
fn a_line_comes_only_with_its_end() {
    let (mut splitter, mut lines) = (LineSplitter::default(), Vec::new());
    splitter.push(b"$A*1\r\n$B*2", 5, |line, _| lines.push(line.to_vec()));
    assert_eq!(lines.len(), 1);
    splitter.push(b"\n", 9, |line, _| lines.push(line.to_vec()));
    assert_eq!(lines.last().unwrap(), b"$B*2");
}

#[test]
fn impossible_values_name_their_field() {
    let gga = |time: &str, place: &str, rest: &str| format!("GPGGA,{time},{place},{rest}");
    let (good, rest) = ("4721.604,N,02817.500,W", "1,08,0.9,31.7,M,58.2,M,,");
    assert!(parse(&line(&gga("235960", good, rest))).is_ok(), "a leap second is a time");
    let cases = [
        (gga("240000", good, rest), "time"),
        (gga("126000", good, rest), "time"),
        (gga("120061", good, rest), "time"),
        (gga("120000", "4760.000,N,02817.500,W", rest), "latitude"),
        (gga("120000", "9000.001,N,02817.500,W", rest), "latitude"),
        (gga("120000", "-4721.60,N,02817.500,W", rest), "latitude"),
        (gga("120000", "NaN,N,02817.500,W", rest), "latitude"),
        (gga("120000", "04721.604,N,02817.500,W", rest), "latitude"),
        (gga("120000", ".604,N,02817.500,W", rest), "latitude"),
        (gga("120000", ",,02817.500,W", rest), "latitude"),
        (gga("120000", "4721.604,,02817.500,W", rest), "north or south"),
        (gga("120000", "4721.604,E,02817.500,W", rest), "north or south"),
        (gga("120000", "4721.604,N,18000.001,W", rest), "longitude"),
        (gga("120000", "4721.604,N,,", rest), "longitude"),
        (gga("120000", "4721.604,N,02817.500,", rest), "east or west"),
        (gga("120000", good, "10,08,0.9,31.7,M,58.2,M,,"), "quality"),
        (format!("GPRMC,120000,X,{good},1.0,36.0,010120,,"), "status"),
        (format!("GPRMC,120000,A,{good},1.0,36.0"), "date"),
    ];
    for (body, expected) in cases {
        let SentenceFault::Field { field, .. } = fault(&body) else { panic!("{body}") };
        assert_eq!(field, expected, "{body}");
    }
    assert_eq!(parse(b"$GPGGA,1,2"), Err(SentenceFault::NoChecksum));
    assert_eq!(fault("GPGG"), SentenceFault::Address);
    assert_eq!(parse(&line("PXYZ,1")), Ok(Sentence::Proprietary));
    assert_eq!(parse(&line("GBGSV,1")), Ok(Sentence::Other(*b"GSV")));
}

/// The position, the time and the status are as good as beside a sound field.
#[test]
fn an_impossible_field_that_the_rest_does_not_hang_on_is_left_out() {
    let place = "4721.604,N,02817.500,W";
    let cases = [
        (format!("GPRMC,120000,A,{place},1.0,36.0,2208-1,,,A"), "date"),
        (format!("GPRMC,120000,A,{place},1.0,36.0,300220,,,A"), "date"),
        (format!("GPRMC,120000,A,{place},1.0,nan,010120,,,A"), "track"),
        (format!("GPRMC,120000,A,{place},1.0,361.0,010120,,,A"), "track"),
        (format!("GPRMC,120000,A,{place},-1.0,36.0,010120,,,A"), "speed"),
        (format!("GPRMC,120000,A,{place},inf,36.0,010120,,,A"), "speed"),
        (format!("GPRMC,120000,A,{place},1.0,36.0,010120,,,A,?"), "navigational status"),
        (format!("GPGGA,120000,{place},1,08,0.9,31.7,F,58.2,M,,"), "altitude"),
        (format!("GPGGA,120000,{place},1,08,0.9,54e4,M,58.2,M,,"), "altitude"),
        (format!("GPGGA,120000,{place},1,08,nan,31.7,M,58.2,M,,"), "HDOP"),
        (format!("GPGGA,120000,{place},1,-8,0.9,31.7,M,58.2,M,,"), "satellites"),
        (format!("GPGNS,120000,{place},AN,08,nan,31.7,58.2,,"), "HDOP"),
    ];
    let sound = parse(&line(&format!("GPRMC,120000,A,{place},1.0,36.0,010120,,,A"))).unwrap();
    let Sentence::Rmc(sound) = sound else { panic!() };
    for (body, expected) in cases {
        let (sentence, fault) = trundle_core::wire::sentence::read(&line(&body)).unwrap();
        let Some(SentenceFault::Field { field, .. }) = fault else { panic!("{body}") };
        assert_eq!(field, expected, "{body}");
        let position = match sentence {
            Sentence::Gga(gga) => gga.position,
            Sentence::Gns(gns) => gns.position,
            Sentence::Rmc(rmc) => {
                let speed = (expected != "speed").then_some(sound.speed).flatten();
                assert_eq!((rmc.time, rmc.valid, rmc.speed), (sound.time, true, speed), "{body}");
                rmc.position
            }
            other => panic!("{other:?}"),
        };
        assert_eq!(position, sound.position, "{body}");
    }
}

#[test]
fn degrees_are_read_without_their_leading_zeros() {
    let place = |lat: &str, lon: &str| {
        let read = parse(&line(&format!("GPGLL,{lat},N,{lon},W,120000,A,A"))).unwrap();
        let Sentence::Gll(gll) = read else { panic!() };
        gll.position.unwrap()
    };
    assert_eq!(place("4721.604", "2817.500"), place("4721.604", "02817.500"));
    assert_eq!(place("421.604", "817.500"), place("0421.604", "00817.500"));
    assert_eq!(place("1.604", "0.5").lat_deg, 1.604 / 60.0);
}

#[test]
fn a_sentence_is_whole_with_its_checksum_whatever_ends_it() {
    for end in ["\0\r\n", "\0", "\x1a", "\u{b5}b", "!", "$GPX"] {
        let (lines, counts) = texts(format!("$A*11{end}$B*22\r\n").as_bytes());
        assert_eq!(lines, ["$A*11", "$B*22"], "{end:?}");
        assert_eq!((counts.lines, counts.broken), (2, 0), "{end:?}");
    }
    // The same from one byte at a time.
    let bytes = b"$A*11\0$B*22\n";
    let single: Vec<(&[u8], u64)> = bytes.chunks(1).map(|byte| (byte, 0)).collect();
    assert_eq!(split(&single), split(&[(bytes, 0)]));
    // Without one, nothing shows that it is.
    assert_eq!(texts(b"$A\0$B*2\0$C*33\n").0, ["$C*33"]);
    let (mut splitter, mut lines) = (LineSplitter::default(), Vec::new());
    splitter.push(b"$A*11\r\n$B*22", 5, |line, _| lines.push(line.to_vec()));
    splitter.finish(|line, _| lines.push(line.to_vec()));
    splitter.finish(|line, _| lines.push(line.to_vec()));
    splitter.push(b"$C*3", 5, |line, _| lines.push(line.to_vec()));
    splitter.finish(|line, _| lines.push(line.to_vec()));
    assert_eq!(lines, [b"$A*11", b"$B*22"]);
}

#[test]
fn talkers_of_every_system_are_read() {
    for talker in ["GP", "GN", "GL", "GA", "GB", "BD", "GQ", "GI"] {
        let read = parse(&line(&format!("{talker}GLL,4721.604,N,02817.500,W,120000,A,A")));
        assert!(matches!(read, Ok(Sentence::Gll(gll)) if gll.talker.0 == talker.as_bytes()));
    }
}

/// Damages a good sentence, mends its checksum half of the time, and reads what is left. Every
/// value that comes through is one that can be.
#[test]
fn damaged_sentences_never_panic_and_never_give_an_impossible_value() {
    let seed = 20_240_817;
    println!("seed {seed}");
    let mut random = Draws::new(seed);
    let mut pool = Vec::new();
    for number in [2, 14, 28, 29, 34, 42] {
        pool.extend(split(&[(&recording(number), 0)]).0.into_iter().map(|(line, _)| line));
    }
    let (mut read, mut refused) = (0, 0);
    for _ in 0..200_000 {
        let mut bytes = pool[random.below(pool.len())].clone();
        for _ in 0..=random.below(3) {
            let at = random.below(bytes.len());
            match random.below(4) {
                0 => bytes[at] = random.bits() as u8,
                1 => bytes[at] = b",.-+*$0129NSEWAV "[random.below(17)],
                2 => drop(bytes.remove(at)),
                _ => bytes.insert(at, b",.-09N"[random.below(6)]),
            }
        }
        if bytes.len() > 4 && random.below(2) == 0 {
            bytes = line(&String::from_utf8_lossy(&bytes[1..bytes.len() - 3]));
        }
        if streams::sentence(&bytes) {
            read += 1;
        } else {
            refused += 1;
        }
    }
    assert!(read > 20_000 && refused > 20_000, "{read} read, {refused} refused");
}

/// Everything that comes of a stream: events, verdicts and all counts.
fn outcome(chunks: &[(&[u8], u64)]) -> String {
    let mut splitter = LineSplitter::default();
    let (mut assembler, mut gate) = (EpochAssembler::new(None), Gate::default());
    let mut log: Vec<(FixEvent, Option<GateRuling>)> = Vec::new();
    let mut take = |event: Option<FixEvent>| {
        log.extend(event.map(|event| match event {
            FixEvent::Fix(fix) => (event, Some(gate.check(&fix))),
            FixEvent::Refused { .. } => (event, None),
        }));
    };
    for (chunk, host_ns) in chunks {
        splitter.push(chunk, *host_ns, |line, stamp| {
            if let Ok(sentence) = parse(line) {
                take(assembler.push(&sentence, stamp));
            }
        });
    }
    take(assembler.flush());
    format!("{log:?} {:?} {:?} {gate:?}", splitter.counts(), assembler.counts())
}

/// The recordings with damage and binary rubbish in them, cut up at random: same outcome.
#[test]
fn any_chunking_gives_the_same_outcome() {
    for seed in 1..=12 {
        println!("seed {seed}");
        let mut random = Draws::new(seed);
        let mut bytes = recording([2, 5, 16, 33, 37, 42][random.below(6)]);
        for _ in 0..200 {
            let at = random.below(bytes.len());
            match random.below(3) {
                0 => bytes[at] = random.bits() as u8,
                1 => drop(bytes.splice(at..at, b"\xB5b$\x00$GP".iter().copied())),
                _ => drop(bytes.splice(at..at, std::iter::repeat_n(b'x', 300))),
            }
        }
        let whole = outcome(&[(&bytes, 7)]);
        let mut rest = bytes.as_slice();
        let mut chunks = Vec::new();
        while !rest.is_empty() {
            let take = (1 + random.below(40)).min(rest.len());
            chunks.push((&rest[..take], 7));
            rest = &rest[take..];
        }
        assert_eq!(outcome(&chunks), whole, "seed {seed}");
        let single: Vec<(&[u8], u64)> = bytes.chunks(1).map(|byte| (byte, 7)).collect();
        assert_eq!(outcome(&single), whole, "seed {seed}, one byte at a time");
    }
}
