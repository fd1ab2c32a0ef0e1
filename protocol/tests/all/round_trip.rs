//! Any message survives the wire, in any chunking; any noise is survived.

use crate::common;
use crate::common::{all_to_board, all_to_host, receive};
use proptest::prelude::*;
use trundle_protocol::frame::types;
use trundle_protocol::message::{ToBoard, ToHost};
use trundle_protocol::{Deframer, WireMessage, exact_payload_len};

/// Any payload bytes, with the bytes of limited range brought into it (places as in SPEC.md).
fn any_payload(type_id: u8) -> impl Strategy<Value = Vec<u8>> {
    let limited: &[(usize, u8, u8)] = match type_id {
        types::HELLO => &[(31, 0, 5)],
        types::COUNTS => &[(76, 0, 1)],
        types::MARK => &[(20, 0, 1)],
        types::EDGE_TRAIN => &[(16, 0, 2), (20, 1, 16), (21, 0, 1)],
        types::HEALTH => &[(18, 0, 5)],
        types::REPLY => &[(17, 0, 3)],
        types::SET_MIN_EDGE_INTERVAL | types::ASK_EDGE_TRAIN => &[(1, 0, 2)],
        _ => &[],
    };
    // Zeros are common in real messages and matter to the byte stuffing.
    let byte = prop_oneof![3 => Just(0_u8), 5 => any::<u8>()];
    let len = exact_payload_len(type_id).unwrap();
    prop::collection::vec(byte, len).prop_map(move |mut bytes| {
        for (at, least, most) in limited {
            bytes[*at] = least + bytes[*at] % (most - least + 1);
        }
        bytes
    })
}

fn any_message<M: WireMessage + std::fmt::Debug>() -> impl Strategy<Value = (Vec<u8>, M)> {
    prop::sample::select(M::TYPES.to_vec()).prop_flat_map(|type_id| {
        any_payload(type_id)
            .prop_map(move |bytes| (bytes.clone(), M::read_payload(type_id, &bytes).unwrap()))
    })
}

proptest! {
    #[test]
    fn reports_come_back_whole((bytes, message) in any_message::<ToHost>()) {
        prop_assert_eq!(common::payload(&message), bytes);
        let frame = message.frame();
        prop_assert!(!frame.as_bytes()[..frame.as_bytes().len() - 1].contains(&0));
        prop_assert_eq!(receive::<ToHost>(frame.as_bytes()), vec![Ok(message)]);
    }

    #[test]
    fn commands_come_back_whole((bytes, message) in any_message::<ToBoard>()) {
        prop_assert_eq!(common::payload(&message), bytes);
        prop_assert_eq!(receive::<ToBoard>(message.frame().as_bytes()), vec![Ok(message)]);
    }

    /// Byte by byte, in chunks, or at once: the same outcomes and the same statistics, on a
    /// stream of sound frames, noise and idle fill.
    #[test]
    fn chunking_does_not_matter(
        parts in prop::collection::vec(
            prop_oneof![
                4 => any_message::<ToHost>().prop_map(|(_, m)| m.frame().as_bytes().to_vec()),
                2 => prop::collection::vec(any::<u8>(), 0..400),
                1 => prop::collection::vec(1_u8..=255, 200..600),
                1 => (0_usize..20).prop_map(|len| vec![0; len]),
            ],
            0..12,
        ),
        chunks in prop::collection::vec(1_usize..300, 1..40),
        mid_stream in any::<bool>(),
    ) {
        let bytes = parts.concat();
        let new = || if mid_stream { Deframer::new_mid_stream() } else { Deframer::new() };

        let mut at_once: Deframer<ToHost> = new();
        let mut expected = Vec::new();
        at_once.push_slice(&bytes, |frame| expected.push(frame));

        let mut by_byte: Deframer<ToHost> = new();
        let outcomes: Vec<_> = bytes.iter().filter_map(|byte| by_byte.push(*byte)).collect();
        prop_assert_eq!(&outcomes, &expected);
        prop_assert_eq!(by_byte.stats(), at_once.stats());

        let mut chunked: Deframer<ToHost> = new();
        let mut outcomes = Vec::new();
        let mut rest = &bytes[..];
        for len in chunks.iter().cycle() {
            if rest.is_empty() {
                break;
            }
            let (head, tail) = rest.split_at(rest.len().min(*len));
            chunked.push_slice(head, |frame| outcomes.push(frame));
            rest = tail;
        }
        prop_assert_eq!(&outcomes, &expected);
        prop_assert_eq!(chunked.stats(), at_once.stats());
    }

    /// Noise in one place of a long stream costs the frames it touches and at most one more.
    #[test]
    fn noise_costs_what_it_touches_and_one_neighbour(
        noise in prop::collection::vec(any::<u8>(), 1..300),
        at in 0_usize..1_000,
    ) {
        let messages: Vec<ToHost> = (1..40).map(common::counts).collect();
        let mut bytes: Vec<u8> = Vec::new();
        for message in &messages {
            bytes.extend_from_slice(message.frame().as_bytes());
        }
        let at = at.min(bytes.len());
        bytes[at..at + noise.len()].copy_from_slice(&noise);
        let got: Vec<ToHost> = receive(&bytes).into_iter().flatten().collect();
        prop_assert!(got.iter().all(|message| messages.contains(message)));
        let len = messages[0].frame().as_bytes().len();
        let touched = (at + noise.len() - 1) / len - at / len + 1;
        prop_assert!(messages.len() - got.len() <= touched + 1);
    }
}

#[test]
fn the_lists_of_types_are_complete() {
    let known = |id: &u8| exact_payload_len(*id).is_some();
    let mut listed = [ToHost::TYPES, ToBoard::TYPES].concat();
    listed.sort_unstable();
    assert_eq!(listed, (0..=255).filter(known).collect::<Vec<u8>>());
    let host: Vec<u8> = all_to_host().iter().map(WireMessage::type_id).collect();
    let board: Vec<u8> = all_to_board().iter().map(WireMessage::type_id).collect();
    assert_eq!((host.as_slice(), board.as_slice()), (ToHost::TYPES, ToBoard::TYPES));
}

#[test]
fn every_report_says_its_stamp() {
    for message in all_to_host() {
        let (stamp, payload) = (message.stamp(), common::payload(&message));
        // `SPEC.md`: each payload to the host begins with boot id, sequence and board time.
        let said = [
            stamp.boot_id.0.to_le_bytes().to_vec(),
            stamp.sequence.0.to_le_bytes().to_vec(),
            stamp.board_us.0.to_le_bytes().to_vec(),
        ];
        assert_eq!(payload[..16], said.concat(), "{message:?}");
    }
}
