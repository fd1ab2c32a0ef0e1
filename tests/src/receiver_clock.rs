//! A receiver whose clock is set while it is recorded.

use trundle_sim::{Emission, Port};

/// Sentences that print a time in their first field.
const TIMED: [&[u8]; 5] = [b"GGA", b"RMC", b"GST", b"ZDA", b"GNS"];

/// Set the clock of a recording by some seconds in all sentences that begin at `from` or behind it;
/// length and checksums stay sound. Times are those of one day.
pub fn set_clock(nmea: &mut [u8], from: usize, by_s: i64) {
    let mut at = from;
    while let Some(start) = nmea[at..].iter().position(|&b| b == b'$').map(|i| at + i) {
        at = start + 1;
        let Some(end) = nmea[start..].iter().position(|&b| b == b'*').map(|i| start + i) else {
            return;
        };
        if end < start + 13 || end + 3 > nmea.len() || !TIMED.contains(&&nmea[start + 3..start + 6])
        {
            continue;
        }
        let digits = std::str::from_utf8(&nmea[start + 7..start + 13]).unwrap_or_default();
        let Ok(clock) = digits.parse::<i64>() else { continue };
        let s = clock / 10_000 * 3600 + clock / 100 % 100 * 60 + clock % 100 + by_s;
        let moved = format!("{:02}{:02}{:02}", s / 3600, s / 60 % 60, s % 60);
        nmea[start + 7..start + 13].copy_from_slice(moved.as_bytes());
        let sum = nmea[start + 1..end].iter().fold(0, |sum, byte| sum ^ byte);
        nmea[end + 1..end + 3].copy_from_slice(format!("{sum:02X}").as_bytes());
    }
}

/// The same for the receiver's line of a simulated job, from a simulated instant on.
pub fn set_clock_of(emissions: &mut [Emission], from_us: u64, by_s: i64) {
    let of_receiver = |e: &&mut Emission| e.port == Port::Receiver;
    let mut line = Vec::new();
    let mut from = None;
    for emission in emissions.iter_mut().filter(of_receiver) {
        if emission.sim_us >= from_us {
            from.get_or_insert(line.len());
        }
        line.extend_from_slice(&emission.bytes);
    }
    if let Some(from) = from {
        set_clock(&mut line, from, by_s);
    }
    let mut rest = line.as_slice();
    for emission in emissions.iter_mut().filter(of_receiver) {
        let (own, after) = rest.split_at(emission.bytes.len());
        emission.bytes.copy_from_slice(own);
        rest = after;
    }
}
