//! The records of the bench's line: pinned bytes, there and back, damage found.
#![allow(clippy::unwrap_used, missing_docs)]

use trundle_bench::{Account, Bridge, Start, Stimulus, Timed};
use trundle_protocol::message::MarkSource;
use trundle_protocol::units::Channel;

const START: Start = Start {
    unique_id: 0x0102_0304_0506_0708,
    timer_start: u32::MAX - 9,
    supply_mv: 12_600,
    pulse_ns: 0x0A0B_0C0D,
    drop_every: 1_000,
};

/// The harness reads these bytes by a program of its own.
#[test]
fn a_start_is_twenty_one_bytes() {
    let bytes = START.encode();
    let before = [8, 7, 6, 5, 4, 3, 2, 1, 0xF6, 255, 255, 255, 0x38, 0x31];
    assert_eq!(bytes[..14], before);
    assert_eq!(bytes[14..20], [0x0D, 0x0C, 0x0B, 0x0A, 0xE8, 0x03]);
}

#[test]
fn a_stimulus_is_eleven_bytes() {
    let stimulus = Stimulus::Edge(Channel::Radar);
    let edge = Timed { at_ns: 0x0807_0605_0403_0201, stimulus, number: 255 };
    let bytes = edge.encode();
    assert_eq!(bytes[..10], [1, 2, 3, 4, 5, 6, 7, 8, 2, 255]);
    // From 0x5A, turned left by one and xored with each byte in turn, by another program.
    assert_eq!(bytes[10], 0xca);
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
        Stimulus::Plugged(false),
        Stimulus::Plugged(true),
        Stimulus::PortOpen(false),
        Stimulus::PortOpen(true),
        Stimulus::PowerCut,
        Stimulus::ResetPin,
        Stimulus::Hang,
        Stimulus::Bridge(Bridge::Open),
        Stimulus::Bridge(Bridge::Impulses(Channel::Pto)),
        Stimulus::Bridge(Bridge::Mark(MarkSource::Gate)),
        Stimulus::Bridge(Bridge::Pps),
        Stimulus::Bridge(Bridge::Working),
        Stimulus::Told,
    ];
    for (number, stimulus) in stimuli.into_iter().enumerate() {
        let sent = Timed { at_ns: 71 << 40 | 5, stimulus, number: number as u8 };
        assert_eq!(Timed::decode(&sent.encode()), Some(sent));
    }
    assert_eq!(Start::decode(&START.encode()), Some(START));
    let account = Account {
        stack_bytes: 1,
        queue_most: 2,
        late_ns: 3,
        dropped: 4,
        starts: 5,
        configurations: 6,
        lamp: 7,
        asleep_us: 600 << 32,
        elapsed_us: 1_000 << 32,
    };
    assert_eq!(Account::decode(&account.encode()), Some(account));
    assert!((account.busy_share() - 0.4).abs() < 1e-12);
}

#[test]
fn any_flipped_bit_and_an_unknown_code_are_found() {
    let sent = Timed { at_ns: 123_456, stimulus: Stimulus::Pps, number: 7 }.encode();
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
    // The code after the last, with a right check: that of the last with the same bits turned.
    let last = Stimulus::Told;
    let mut bytes = Timed { at_ns: 0, stimulus: last, number: 0 }.encode();
    assert_eq!(bytes[8], 25);
    bytes[8] = 26;
    bytes[10] ^= (25_u8 ^ 26).rotate_left(1);
    assert_eq!(Timed::decode(&bytes), None);
}
