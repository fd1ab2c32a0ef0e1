//! Parts of edge trains put together.

use trundle_protocol::message::EdgeTrain;
use trundle_protocol::units::Channel;

/// Where the part that continues a train must begin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Expected {
    boot_id: u32,
    request: u8,
    first: u16,
    start_us: u64,
}

/// The trains of one input: times from edge to edge, microseconds, bounces included. A part that
/// does not continue the one before begins a new train: what lies in a hole is not known, and must
/// not look like missing impulses.
#[must_use]
pub fn assemble(parts: &[EdgeTrain], channel: Channel) -> Vec<Vec<u32>> {
    let mut trains: Vec<Vec<u32>> = Vec::new();
    let mut expected: Option<Expected> = None;
    for part in parts.iter().filter(|part| part.channel == channel) {
        let used = usize::from(part.used).min(part.intervals_us.len());
        let intervals = part.intervals_us[..used].iter().map(|interval| interval.0);
        let sum_us: u64 = intervals.clone().map(u64::from).sum();
        let here = Expected {
            boot_id: part.stamp.boot_id.0,
            request: part.request,
            first: part.first.0,
            start_us: part.start_us.0,
        };
        match trains.last_mut() {
            Some(train) if expected == Some(here) => train.extend(intervals),
            _ => trains.push(intervals.collect()),
        }
        expected = (!part.last).then_some(Expected {
            first: here.first.saturating_add(u16::from(part.used)),
            start_us: here.start_us + sum_us,
            ..here
        });
    }
    trains.retain(|train| !train.is_empty());
    trains
}

#[cfg(test)]
mod tests {
    use super::*;
    use trundle_protocol::message::{Stamp, TRAIN_INTERVALS};
    use trundle_protocol::units::{BoardMicros, Fixed16, Fixed32};

    fn part(request: u8, first: u16, start_us: u64, last: bool) -> EdgeTrain {
        EdgeTrain {
            stamp: Stamp::default(),
            channel: Channel::Wheel,
            request,
            first: Fixed16(first),
            used: TRAIN_INTERVALS as u8,
            last,
            start_us: BoardMicros(start_us),
            intervals_us: [Fixed32(100); TRAIN_INTERVALS],
        }
    }

    fn lengths(parts: &[EdgeTrain]) -> Vec<usize> {
        assemble(parts, Channel::Wheel).iter().map(Vec::len).collect()
    }

    #[test]
    fn parts_are_joined_and_a_hole_ends_a_train() {
        let (a, b, c) =
            (part(7, 0, 1000, false), part(7, 16, 2600, false), part(7, 32, 4200, true));
        assert_eq!(lengths(&[a, b, c]), [48]);
        assert_eq!(lengths(&[a, c]), [16, 16]);
        assert_eq!(lengths(&[a, b, part(8, 0, 9000, true)]), [32, 16]);
        // The same request number of a later train, whose beginning was lost.
        assert_eq!(lengths(&[a, part(7, 16, 90_000, true)]), [16, 16]);
        assert_eq!(lengths(&[c, a]), [16, 16]);
        let other = EdgeTrain { channel: Channel::Radar, ..b };
        assert_eq!(lengths(&[a, other, b]), [32]);
        assert!(lengths(&[EdgeTrain { used: 0, ..a }]).is_empty());
        // More than the message holds: what is there is taken, nothing else.
        assert_eq!(lengths(&[EdgeTrain { used: 200, ..a }]), [16]);
    }
}
