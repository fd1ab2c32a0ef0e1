//! The records of the bench's line: pinned bytes, there and back, damage found.
#![allow(clippy::unwrap_used, missing_docs)]

use trundle_bench::{Account, Start, Stimulus, Timed};
use trundle_protocol::message::MarkSource;
use trundle_protocol::units::Channel;

const START: Start = Start {
    board_id: 0x0102_0304_0506_0708,
    boot_id: 0xA1B2_C3D4,
    timer_start: u32::MAX - 9,
    report_period_us: 20_000,
    min_edge_interval_us: [50, 60, 70],
    supply_mv: 12_600,
    capabilities: 0b1100_0111,
};

#[test]
fn a_stimulus_is_seven_bytes() {
    let edge = Timed { at_us: 0x0403_0201, stimulus: Stimulus::Edge(Channel::Radar), number: 255 };
    // The check by hand: from 0x5A, turned left by one and xored with each byte in turn.
    assert_eq!(edge.encode(), [1, 2, 3, 4, 2, 255, 0x65]);
}

#[test]
fn every_record_comes_back_as_it_was_sent() {
    let stimuli = [
        Stimulus::RunTo,
        Stimulus::Edge(Channel::Wheel),
        Stimulus::Edge(Channel::Radar),
        Stimulus::Edge(Channel::Pto),
        Stimulus::Mark(MarkSource::Button),
        Stimulus::Mark(MarkSource::Gate),
        Stimulus::Pps,
        Stimulus::Working(true),
        Stimulus::Working(false),
        Stimulus::Account,
    ];
    for (number, stimulus) in stimuli.into_iter().enumerate() {
        let sent = Timed { at_us: 71 << 26 | 5, stimulus, number: number as u8 };
        assert_eq!(Timed::decode(&sent.encode()), Some(sent));
    }
    assert_eq!(Start::decode(&START.encode()), Some(START));
    let account = Account {
        stack_bytes: 1,
        waiting_most: 2,
        late_us: 3,
        missed: 4,
        asleep_us: 600,
        elapsed_us: 1_000,
    };
    assert_eq!(Account::decode(&account.encode()), Some(account));
    assert!((account.busy_share() - 0.4).abs() < 1e-12);
}

#[test]
fn any_flipped_bit_and_an_unknown_code_are_found() {
    let sent = Timed { at_us: 123_456, stimulus: Stimulus::Pps, number: 7 }.encode();
    for bit in 0..8 * Timed::BYTES {
        let mut bytes = sent;
        bytes[bit / 8] ^= 1 << (bit % 8);
        assert_eq!(Timed::decode(&bytes), None, "bit {bit}");
    }
    for bit in 0..8 * Start::BYTES {
        let mut bytes = START.encode();
        bytes[bit / 8] ^= 1 << (bit % 8);
        assert_eq!(Start::decode(&bytes), None, "bit {bit}");
    }
    // Code 10 with a right check: the check of code 9 with the same two bits of the code turned.
    let mut bytes = Timed { at_us: 0, stimulus: Stimulus::Account, number: 0 }.encode();
    bytes[4] = 10;
    bytes[6] ^= (9_u8 ^ 10).rotate_left(1);
    assert_eq!(Timed::decode(&bytes), None);
}
