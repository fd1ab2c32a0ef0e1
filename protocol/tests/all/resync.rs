//! Streams with something wrong in them: what is lost, what is said, what is counted.

use crate::common::{all_to_board, all_to_host, counts, only, payload, receive, sealed, stuffed};
use trundle_protocol::message::*;
use trundle_protocol::{
    DEFRAME_BUFFER, Deframer, FRAME_MAX, FrameFault, WireMessage, exact_payload_len, version,
};

fn stream(sequences: impl Iterator<Item = u32>) -> Vec<u8> {
    sequences.flat_map(|sequence| counts(sequence).frame().as_bytes().to_vec()).collect()
}

fn accepted(bytes: &[u8]) -> Vec<u32> {
    receive::<ToHost>(bytes).into_iter().flatten().map(sequence).collect()
}

fn sequence(message: ToHost) -> u32 {
    match message {
        ToHost::Counts(counts) => counts.stamp.sequence.0,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_frame_cut_anywhere_costs_itself_and_at_most_the_next() {
    let frame_len = counts(1).frame().as_bytes().len();
    for cut in 0..frame_len {
        for gone in 1..=frame_len - cut {
            let mut bytes = stream(1_000..1_005);
            let at = 2 * frame_len + cut;
            bytes.drain(at..at + gone);
            let got = accepted(&bytes);
            let all = [1_000, 1_001, 1_002, 1_003, 1_004];
            // Only where the delimiter went do the two run together.
            let lost: &[u32] = match (cut + gone == frame_len, cut) {
                (true, 0) | (false, _) => &[1_002],
                (true, _) => &[1_002, 1_003],
            };
            let kept: Vec<u32> = all.into_iter().filter(|s| !lost.contains(s)).collect();
            assert_eq!(got, kept, "{gone} bytes lost from {cut}");
        }
    }
}

#[test]
fn a_splice_of_two_frames_is_never_accepted() {
    let (first, second) = (counts(0x0102_0304), counts(0x1112_1314));
    let (first, second) = (first.frame(), second.frame());
    let (first, second) = (first.as_bytes(), second.as_bytes());
    let tail = stream(7..8);
    for head_len in 1..first.len() {
        for tail_from in 1..second.len() - 1 {
            let mut bytes = first[..head_len].to_vec();
            bytes.extend_from_slice(&second[tail_from..]);
            let whole = bytes == first || bytes == second;
            bytes.extend_from_slice(&tail);
            let got = accepted(&bytes);
            assert!(whole || got == [7], "{head_len} + {tail_from}: {got:?}");
            assert_eq!(got.last(), Some(&7));
        }
    }
}

#[test]
fn one_byte_doubled_or_a_zero_put_in_costs_one_frame() {
    let frame_len = counts(1).frame().as_bytes().len();
    for at in 0..frame_len {
        let mut doubled = stream(50..53);
        let byte = doubled[frame_len + at];
        doubled.insert(frame_len + at, byte);
        let got = accepted(&doubled);
        // Doubling the delimiter makes idle fill, which costs nothing.
        let kept: &[u32] = if at + 1 == frame_len { &[50, 51, 52] } else { &[50, 52] };
        assert_eq!(got, kept, "doubled {at}");

        let mut zeroed = stream(50..53);
        zeroed.insert(frame_len + at, 0);
        let kept: &[u32] = if at == 0 || at + 1 == frame_len { &[50, 51, 52] } else { &[50, 52] };
        assert_eq!(accepted(&zeroed), kept, "zero at {at}");
    }
}

#[test]
fn endless_garbage_is_one_fault_and_stays_in_the_buffer() {
    let mut deframer = Deframer::<ToHost>::new();
    let mut faults = Vec::new();
    let noise = [0x55_u8; 4_096];
    for _ in 0..256 {
        deframer.push_slice(&noise, |frame| faults.push(frame));
    }
    assert_eq!(faults, [Err(FrameFault::TooLong { limit: DEFRAME_BUFFER })]);
    let mut got = Vec::new();
    let mut end = vec![0];
    end.extend(stream(9..10));
    deframer.push_slice(&end, |frame| got.push(sequence(frame.unwrap())));
    assert_eq!(got, [9]);
    let stats = *deframer.stats();
    assert_eq!((stats.too_long, stats.damaged, stats.frames), (1, 0, 1));
    assert_eq!(stats.refused_bytes, 256 * 4_096 + 1);
    // Room for the state and the statistics beside the buffer, no more.
    assert!(size_of::<Deframer<ToHost>>() <= DEFRAME_BUFFER + 128);
}

#[test]
fn the_limit_is_exact() {
    let mut bytes = vec![0x55; DEFRAME_BUFFER];
    bytes.push(0);
    assert!(matches!(only::<ToHost>(&bytes), Err(FrameFault::BadStuffing { encoded_len: 256 })));
    bytes.insert(0, 0x55);
    assert_eq!(only::<ToHost>(&bytes), Err(FrameFault::TooLong { limit: 256 }));
}

#[test]
fn zeros_are_idle_fill() {
    let mut bytes = vec![0; 1_000];
    bytes.extend(stream(1..3));
    bytes.extend([0; 500]);
    let mut deframer = Deframer::<ToHost>::new();
    let mut got = Vec::new();
    deframer.push_slice(&bytes, |frame| got.push(sequence(frame.unwrap())));
    assert_eq!(got, [1, 2]);
    let stats = deframer.stats();
    assert_eq!((stats.idle_bytes, stats.refused(), stats.frames), (1_500, 0, 2));
}

#[test]
fn a_port_opened_mid_stream_says_nothing_about_the_half_frame() {
    let whole = stream(1..4);
    let frame_len = whole.len() / 3;
    for from in 0..frame_len {
        let mut deframer = Deframer::<ToHost>::new_mid_stream();
        let mut got = Vec::new();
        deframer.push_slice(&whole[from..], |frame| got.push(sequence(frame.unwrap())));
        assert_eq!(got, [2, 3]);
        assert_eq!(deframer.stats().mid_stream_bytes, (frame_len - from) as u64);
        assert_eq!(deframer.stats().refused(), 0);
    }
}

#[test]
fn every_byte_is_accounted_for() {
    let mut bytes = b"half a frame\0".to_vec();
    bytes.extend(stream(1..20));
    bytes.extend([0, 0, 0]);
    bytes.extend(b"AT\r\n\0");
    bytes.extend(vec![7; 700]);
    bytes.push(0);
    bytes.extend(sealed(2, 0x02, &payload(&counts(1))));
    bytes.extend(stream(20..22));
    let mut deframer = Deframer::<ToHost>::new_mid_stream();
    deframer.push_slice(&bytes, |_| ());
    let stats = *deframer.stats();
    let frame_len = counts(1).frame().as_bytes().len() as u64;
    assert_eq!(stats.bytes, bytes.len() as u64);
    assert_eq!((stats.frames, stats.damaged, stats.too_long), (21, 1, 1));
    assert_eq!((stats.wrong_version, stats.unknown_type), (1, 0));
    let others = stats.refused_bytes + stats.mid_stream_bytes + stats.idle_bytes;
    assert_eq!(stats.frames * frame_len + others, stats.bytes);
}

#[test]
fn a_sound_frame_of_another_version_is_reported_as_that() {
    let body = payload(&counts(1));
    for other in (0..=255).filter(|v| !(version::MIN..=version::CURRENT).contains(v)) {
        let bytes = sealed(other, 0x02, &body);
        assert_eq!(only::<ToHost>(&bytes), Err(FrameFault::WrongVersion { found: other }));
        // Longer and shorter bodies too: what a newer version holds is not ours to judge.
        let bytes = sealed(other, 0xEE, &[1; 180]);
        assert_eq!(only::<ToHost>(&bytes), Err(FrameFault::WrongVersion { found: other }));
    }
    // The same with the checksum wrong is damage.
    let mut bytes = sealed(2, 0x02, &body);
    let at = bytes.len() - 2;
    bytes[at] ^= 0x40;
    assert!(matches!(only::<ToHost>(&bytes), Err(FrameFault::BadChecksum { .. })));
}

#[test]
fn types_of_the_other_direction_are_not_received() {
    for message in all_to_host() {
        let expected = FrameFault::UnknownType { type_id: message.type_id() };
        assert_eq!(only::<ToBoard>(message.frame().as_bytes()), Err(expected));
    }
    for message in all_to_board() {
        let expected = FrameFault::UnknownType { type_id: message.type_id() };
        assert_eq!(only::<ToHost>(message.frame().as_bytes()), Err(expected));
    }
    for type_id in (0..=255).filter(|t| exact_payload_len(*t).is_none()) {
        let bytes = sealed(1, type_id, &[1, 2, 3]);
        assert_eq!(only::<ToHost>(&bytes), Err(FrameFault::UnknownType { type_id }));
    }
}

#[test]
fn a_wrong_length_is_refused_though_the_checksum_is_right() {
    for message in all_to_host() {
        let type_id = message.type_id();
        let right = payload(&message);
        assert_eq!(exact_payload_len(type_id), Some(right.len()));
        for len in (0..right.len() + 20).filter(|len| *len != right.len()) {
            let mut wrong = right.clone();
            wrong.resize(len, 0);
            let fault = FrameFault::WrongLength { type_id, expected: right.len(), found: len };
            assert_eq!(only::<ToHost>(&sealed(1, type_id, &wrong)), Err(fault));
        }
    }
    for len in 0..6 {
        let bytes = stuffed(&vec![0; len]);
        assert_eq!(only::<ToHost>(&bytes), Err(FrameFault::TooShort { decoded_len: len }));
    }
}

/// Whether a byte of limited range may have this value.
type Exists = fn(u8) -> bool;

/// Each field with a limited range, given every value of its byte.
#[test]
fn values_that_do_not_exist_are_refused() {
    let cases: [(u8, usize, Exists); 11] = [
        (0x01, 31, |v| v <= 5),                // hello: reset cause
        (0x02, 76, |v| v <= 1),                // counts: in work
        (0x03, 20, |v| v <= 1),                // mark: source
        (0x05, 16, |v| v <= 2),                // edge train: channel
        (0x05, 20, |v| (1..=16).contains(&v)), // edge train: used
        (0x05, 21, |v| v <= 1),                // edge train: last
        (0x06, 18, |v| v <= 5),                // health: reset cause
        (0x07, 17, |v| v <= 3),                // reply: outcome
        (0x83, 1, |v| v <= 2),                 // set min edge interval: channel
        (0x84, 1, |v| v <= 2),                 // ask edge train: channel
        (0x85, 1, |_| true),                   // identify: seconds (range judged by the board)
    ];
    let mut payloads: Vec<(u8, Vec<u8>)> = Vec::new();
    payloads.extend(all_to_host().iter().map(|m| (m.type_id(), payload(m))));
    payloads.extend(all_to_board().iter().map(|m| (m.type_id(), payload(m))));
    for (type_id, at, exists) in cases {
        let (_, right) = payloads.iter().find(|(id, _)| *id == type_id).unwrap();
        for value in 0..=255 {
            let mut changed = right.clone();
            changed[at] = value;
            let bytes = sealed(1, type_id, &changed);
            let outcome = if type_id < 0x80 {
                only::<ToHost>(&bytes).map(|m| payload(&m))
            } else {
                only::<ToBoard>(&bytes).map(|m| payload(&m))
            };
            let expected =
                if exists(value) { Ok(changed) } else { Err(FrameFault::BadValue { type_id }) };
            assert_eq!(outcome, expected, "type {type_id:02X}, byte {at} = {value}");
        }
    }
}

#[test]
fn a_payload_read_by_itself_leaves_nothing_over() {
    for message in all_to_host() {
        let mut bytes = payload(&message);
        let type_id = message.type_id();
        assert_eq!(ToHost::read_payload(type_id, &bytes), Some(message));
        assert_eq!(ToBoard::read_payload(type_id, &bytes), None);
        assert_eq!(ToHost::read_payload(type_id, &bytes[..bytes.len() - 1]), None);
        bytes.push(0);
        assert_eq!(ToHost::read_payload(type_id, &bytes), None);
    }
}

#[test]
fn the_longest_frame_is_what_it_is_said_to_be() {
    let longest = all_to_host().iter().map(|m| m.frame().as_bytes().len()).max().unwrap();
    assert_eq!(longest, FRAME_MAX);
}
