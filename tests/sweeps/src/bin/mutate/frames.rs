//! Frames of which one in a hundred is damaged: is a message ever believed that was not sent?
//!
//! Whatever comes out must be a message that was sent whole, or one of the two that a splice was
//! made of; and every sound frame behind a sound frame must come out.

use std::io::Error;
use std::time::Instant;
use trundle_protocol::message::{
    ChannelCounts, Counts, EdgeTrain, Health, Mark, PpsEdge, Reply, Stamp, TRAIN_INTERVALS, ToHost,
};
use trundle_protocol::units::{BoardMicros, Channel, Fixed16, Fixed32, Impulses};
use trundle_protocol::{Deframer, EncodedFrame, WireMessage};
use trundle_tests::Draws;

/// One frame in so many is damaged.
const DAMAGED_IN: usize = 100;
/// Different frames; a power of two.
const POOL: usize = 4096;

/// What one thread counted.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    sent: u64,
    damaged: u64,
    accepted: u64,
    refused: u64,
    false_accepted: u64,
    lost: u64,
}

/// Sends `frames` frames over `threads` threads and prints what came of them; false if a message
/// was believed that was not sent, or a sound one was lost.
pub fn run(frames: u64, seed: u64, threads: u64) -> Result<bool, Error> {
    let began = Instant::now();
    let pool = pool(seed);
    let tallies = std::thread::scope(|scope| {
        let each = |thread| frames / threads + u64::from(thread < frames % threads);
        let spawn = |thread| {
            let pool = &pool;
            scope.spawn(move || send(pool, each(thread), seed.wrapping_mul(1000) + thread))
        };
        let running: Vec<_> = (0..threads).map(spawn).collect();
        running.into_iter().map(|thread| thread.join()).collect::<Vec<_>>()
    });
    let mut all = Tally::default();
    for tally in tallies {
        let tally = tally.map_err(|_| Error::other(format!("a thread panicked, seed {seed}")))?;
        all.sent += tally.sent;
        all.damaged += tally.damaged;
        all.accepted += tally.accepted;
        all.refused += tally.refused;
        all.false_accepted += tally.false_accepted;
        all.lost += tally.lost;
    }
    let seconds = began.elapsed().as_secs_f64();
    println!(
        "frames    {:>11} sent from seed {seed}, {seconds:>6.1} s, {:>9.0}/s: {} damaged, \
         {} accepted, {} refused, {} falsely accepted, {} sound ones lost",
        all.sent,
        all.sent as f64 / seconds,
        all.damaged,
        all.accepted,
        all.refused,
        all.false_accepted,
        all.lost
    );
    Ok(all.false_accepted == 0 && all.lost == 0)
}

/// Messages of every type with fields of every size, and their frames.
fn pool(seed: u64) -> Vec<(ToHost, EncodedFrame)> {
    let mut draws = Draws::new(seed);
    let messages = (0..POOL as u32).map(|sequence| {
        // From a few bits to all of them: zeros matter to the byte stuffing.
        let wide = |draws: &mut Draws| draws.bits() >> draws.below(64);
        let stamp = Stamp {
            boot_id: Fixed32(wide(&mut draws) as u32),
            sequence: Fixed32(sequence),
            board_us: BoardMicros(wide(&mut draws)),
        };
        let mut channel = || ChannelCounts {
            impulses: Impulses(wide(&mut draws)),
            last_edge_us: BoardMicros(wide(&mut draws)),
            rejected: Fixed32(wide(&mut draws) as u32),
        };
        let channels = [channel(), channel(), channel()];
        let impulses = channels.map(|channel| channel.impulses);
        let last_edge_us = channels.map(|channel| channel.last_edge_us);
        let number = Fixed32(wide(&mut draws) as u32);
        match sequence % 10 {
            0 => ToHost::Mark(Mark { stamp, number, impulses, last_edge_us, ..Mark::default() }),
            1 => ToHost::PpsEdge(PpsEdge { stamp, number }),
            2 => {
                let intervals_us = [(); TRAIN_INTERVALS].map(|()| Fixed32(draws.bits() as u32));
                let first = Fixed16(draws.bits() as u16);
                let used = TRAIN_INTERVALS as u8;
                ToHost::EdgeTrain(EdgeTrain {
                    stamp,
                    channel: Channel::Wheel,
                    request: draws.bits() as u8,
                    first,
                    used,
                    last: false,
                    start_us: BoardMicros(0),
                    intervals_us,
                })
            }
            3 => ToHost::Health(Health { stamp, ..Health::default() }),
            4 => ToHost::Reply(Reply { stamp, ..Reply::default() }),
            _ => ToHost::Counts(Counts { stamp, channels, ..Counts::default() }),
        }
    });
    messages.map(|message| (message, message.frame())).collect()
}

fn send(pool: &[(ToHost, EncodedFrame)], frames: u64, seed: u64) -> Tally {
    let mut draws = Draws::new(seed);
    let mut deframer = Deframer::<ToHost>::new();
    let mut tally = Tally::default();
    let mut damaged: Vec<u8> = Vec::new();
    // Messages of damaged frames since the last sound one: where a delimiter went, frames join,
    // and a whole one may come out late.
    let mut open: Vec<&ToHost> = Vec::new();
    while tally.sent < frames {
        let bits = draws.bits() as usize;
        let (message, frame) = &pool[bits % POOL];
        tally.sent += 1;
        let (mut came, mut strange, mut refused) = (false, 0, 0);
        let mut take = |bytes: &[u8], others: &[&ToHost]| {
            deframer.push_slice(bytes, |frame| match frame {
                Ok(found) if found == *message => came = true,
                Ok(found) => strange += u64::from(!others.contains(&&found)),
                Err(_) => refused += 1,
            });
        };
        if (bits / POOL).is_multiple_of(DAMAGED_IN) {
            let (other, second) = &pool[draws.below(POOL)];
            damaged.clear();
            damaged.extend_from_slice(frame.as_bytes());
            damage(&mut draws, &mut damaged, second.as_bytes());
            open.extend([message, other]);
            take(&damaged, &open);
            tally.damaged += 1;
        } else {
            take(frame.as_bytes(), &open);
            tally.lost += u64::from(!came && open.is_empty());
            open.clear();
        }
        tally.accepted += u64::from(came);
        tally.refused += refused;
        tally.false_accepted += strange;
    }
    tally
}

/// One of the ways in which a line spoils a frame.
fn damage(draws: &mut Draws, bytes: &mut Vec<u8>, other: &[u8]) {
    let at = draws.below(bytes.len());
    match draws.below(8) {
        // Some bits anywhere: beyond what a checksum of 32 bits finds for certain.
        0 => (0..=draws.below(12)).for_each(|_| {
            let bit = draws.below(bytes.len() * 8);
            bytes[bit / 8] ^= 1 << (bit % 8);
        }),
        1 => bytes[at] = draws.bits() as u8,
        // A burst.
        2 => {
            let end = bytes.len().min(at + 1 + draws.below(16));
            bytes[at..end].iter_mut().for_each(|byte| *byte = draws.bits() as u8);
        }
        3 => drop(bytes.remove(at)),
        4 => bytes.insert(at, draws.bits() as u8),
        5 => bytes.truncate(at),
        // The head of one and the tail of another.
        6 => {
            bytes.truncate(at);
            bytes.extend_from_slice(&other[draws.below(other.len())..]);
        }
        _ => bytes.iter_mut().for_each(|byte| *byte = 1 + draws.below(255) as u8),
    }
}
