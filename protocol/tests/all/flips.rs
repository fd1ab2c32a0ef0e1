//! Every one-bit and every two-bit error of every message, tried one by one.
//!
//! The delimiter is flipped too, and two good frames follow: what is accepted must be something
//! that was sent, and the damage must not reach past the next delimiter.

use crate::common::{all_to_board, all_to_host};
use std::fmt::Debug;
use trundle_protocol::{Deframer, WireMessage};

/// Number of damaged streams tried.
fn flip_all<M: WireMessage + PartialEq + Debug>(messages: &[M]) -> u64 {
    let mut tried = 0;
    for (index, message) in messages.iter().enumerate() {
        let next = messages[(index + 1) % messages.len()];
        let after = messages[(index + 2) % messages.len()];
        let mut stream = message.frame().as_bytes().to_vec();
        let bits = stream.len() * 8;
        stream.extend_from_slice(next.frame().as_bytes());
        let tail = after.frame();

        for first in 0..bits {
            // `second == first` is the one-bit error.
            for second in first..bits {
                stream[first / 8] ^= 1 << (first % 8);
                if second != first {
                    stream[second / 8] ^= 1 << (second % 8);
                }
                let mut deframer = Deframer::<M>::new();
                let check = |frame: Result<M, _>| {
                    if let Ok(got) = frame {
                        assert_eq!(got, next, "bits {first} and {second} of {message:?}");
                    }
                };
                deframer.push_slice(&stream, check);
                let mut last = Vec::new();
                deframer.push_slice(tail.as_bytes(), |frame| last.push(frame));
                assert_eq!(last, [Ok(after)], "bits {first} and {second} of {message:?}");
                tried += 1;

                stream[first / 8] ^= 1 << (first % 8);
                if second != first {
                    stream[second / 8] ^= 1 << (second % 8);
                }
            }
        }
    }
    tried
}

fn expected<M: WireMessage>(messages: &[M]) -> u64 {
    let bits = messages.iter().map(|message| message.frame().as_bytes().len() as u64 * 8);
    bits.map(|bits| bits * (bits + 1) / 2).sum()
}

#[test]
fn no_flipped_report_is_accepted() {
    let messages = all_to_host();
    let tried = flip_all(&messages);
    assert_eq!(tried, expected(&messages));
    assert!(tried > 1_000_000, "{tried}");
}

#[test]
fn no_flipped_command_is_accepted() {
    let messages = all_to_board();
    let tried = flip_all(&messages);
    assert_eq!(tried, expected(&messages));
    assert!(tried > 20_000, "{tried}");
}
