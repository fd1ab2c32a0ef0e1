//! Is what comes from an open port what its part sends? A function of the bytes and their times.
//!
//! A name can come back with another device behind it, and a receiver can be set to another speed
//! while its port stays open. Both show in the bytes alone.

use super::content::{Content, Counted, PortContent};
use crate::capture::PortRole;
use trundle_protocol::message::Identity;

/// So long nothing readable may come before a receiver is looked for at other speeds: longer than
/// a burst of noise on the line, short against the two seconds in which it is to be found.
const UNREADABLE_NS: u64 = 500_000_000;
/// Fewer bytes than this do not say that a stream cannot be read.
const UNREADABLE_BYTES: u64 = 64;
/// So long a board's port may give bytes without one frame among them before the board is looked
/// for elsewhere too, where frames came before: far longer than any noise that leaves the counts
/// usable, since opening the port again may start the board again.
const FRAMELESS_NS: u64 = 5_000_000_000;
/// As few show a wrong speed from a right one where a port is only tried: a sentence is longer,
/// and all of it is text.
const TRIED_BYTES: u64 = 24;

/// What the bytes so far say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PortRuling {
    /// Too little was received yet.
    Unsure,
    /// It is what its part sends.
    Fits,
    /// Something else is behind the port.
    Foreign,
    /// Bytes that are neither text nor frames, as at a wrong speed.
    Unreadable,
}

/// Judges one port from the moment it was opened.
#[derive(Debug)]
pub struct Judge {
    role: PortRole,
    board: Option<Identity>,
    content: Content,
    /// Host time and count when something readable last came.
    since: Option<(u64, Counted)>,
}

impl Judge {
    /// Nothing read yet. `board` is the identity that a board has to have; any, when none is
    /// given. `nonce` is that of the hello request.
    #[must_use]
    pub fn new(role: PortRole, board: Option<Identity>, nonce: u32) -> Self {
        Self { role, board, content: Content::new(nonce), since: None }
    }

    /// Who the board says it is, once it has.
    #[must_use]
    pub fn board(&self) -> Option<Identity> {
        self.content.hello().map(|hello| hello.board_id)
    }

    /// Take bytes of a port that is in use, which came at `now_ns`, and judge. Of a board only
    /// sentences are proof against it: opening its port again could start it again.
    pub fn goes_on(&mut self, bytes: &[u8], now_ns: u64) -> PortRuling {
        let (since_ns, before) = *self.since.get_or_insert((now_ns, self.content.counted()));
        self.content.push(bytes);
        let counted = self.content.counted();
        if self.is_foreign() {
            return PortRuling::Foreign;
        }
        if self.role == PortRole::Board {
            if counted.frames > before.frames || before.frames == 0 {
                self.since = Some((now_ns, counted));
                return PortRuling::Fits;
            }
            let long = now_ns.saturating_sub(since_ns) >= FRAMELESS_NS;
            let garbled = counted.since(before).garbled(UNREADABLE_BYTES);
            return if long && garbled { PortRuling::Unreadable } else { PortRuling::Fits };
        }
        if self.readable(counted) > self.readable(before) {
            self.since = Some((now_ns, counted));
            return PortRuling::Fits;
        }
        let long = now_ns.saturating_sub(since_ns) >= UNREADABLE_NS;
        if long && counted.since(before).garbled(UNREADABLE_BYTES) {
            return PortRuling::Unreadable;
        }
        PortRuling::Unsure
    }

    /// Take bytes of a port that is only tried, and judge: it fits when a board of that identity
    /// answers, or a sentence came whole.
    pub fn tried(&mut self, bytes: &[u8]) -> PortRuling {
        self.content.push(bytes);
        let counted = self.content.counted();
        if self.is_foreign() {
            return PortRuling::Foreign;
        }
        match self.role {
            PortRole::Board => match self.board() {
                Some(is) if self.board.is_none_or(|wanted| wanted == is) => PortRuling::Fits,
                Some(_) => PortRuling::Foreign,
                None => PortRuling::Unsure,
            },
            PortRole::Receiver if counted.sentences > 0 => PortRuling::Fits,
            // Its set-up was answered, or it would not be tried; a bus may be silent.
            PortRole::Bus => PortRuling::Fits,
            PortRole::Receiver if counted.garbled(TRIED_BYTES) => PortRuling::Unreadable,
            PortRole::Receiver => PortRuling::Unsure,
        }
    }

    /// Of what this part sends, how much came.
    const fn readable(&self, counted: Counted) -> u64 {
        match self.role {
            PortRole::Board => counted.frames,
            PortRole::Receiver => counted.sentences,
            PortRole::Bus => counted.bus_frames,
        }
    }

    /// True once the port's bytes have shown a board: before that nothing is written to it.
    #[must_use]
    pub const fn is_boards(&self) -> bool {
        self.content.is_boards()
    }

    fn is_foreign(&self) -> bool {
        let found = self.content.finding();
        match self.role {
            PortRole::Board => {
                matches!(found, PortContent::Receiver(_) | PortContent::Adapter(_))
            }
            PortRole::Receiver => matches!(
                found,
                PortContent::Board { .. } | PortContent::OtherVersion(_) | PortContent::Adapter(_)
            ),
            PortRole::Bus => matches!(
                found,
                PortContent::Board { .. } | PortContent::OtherVersion(_) | PortContent::Receiver(_)
            ),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use trundle_protocol::WireMessage as _;
    use trundle_protocol::message::{Hello, ToHost};
    use trundle_protocol::units::Fixed32;

    const NONCE: u32 = 7;

    fn sentence() -> Vec<u8> {
        let body = "GPGLL,4721.60,N,02817.50,W,101542,A";
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("${body}*{sum:02X}\r\n").into_bytes()
    }

    fn hello(id: u64) -> Vec<u8> {
        let hello = Hello { nonce: Fixed32(NONCE), board_id: Identity(id), ..Hello::default() };
        [&[0], ToHost::Hello(hello).frame().as_bytes()].concat()
    }

    /// Bytes as they come at a wrong speed: neither text nor frames, and no end of a frame.
    fn garbage(count: usize) -> Vec<u8> {
        (0..count).map(|n| [0xF8, 0x9E, 0xC1, 0x07][n % 4]).collect()
    }

    #[test]
    fn a_receiver_that_cannot_be_read_for_half_a_second_is_told() {
        let mut judge = Judge::new(PortRole::Receiver, None, NONCE);
        assert_eq!(judge.goes_on(&sentence(), 0), PortRuling::Fits);
        assert_eq!(judge.goes_on(&garbage(200), 400_000_000), PortRuling::Unsure);
        assert_eq!(judge.goes_on(&garbage(200), 600_000_000), PortRuling::Unreadable);
        // One sentence in between, and the time begins again.
        assert_eq!(judge.goes_on(&sentence(), 700_000_000), PortRuling::Fits);
        assert_eq!(judge.goes_on(&garbage(200), 1_100_000_000), PortRuling::Unsure);
    }

    #[test]
    fn silence_and_text_without_checksums_are_not_a_wrong_speed() {
        let mut judge = Judge::new(PortRole::Receiver, None, NONCE);
        assert_eq!(judge.goes_on(&sentence(), 0), PortRuling::Fits);
        let text = b"$GPGLL,4721.60,N,02817.50,W,101542,A\r\n".repeat(4);
        for n in 1..20 {
            assert_eq!(judge.goes_on(&text, n * 1_000_000_000), PortRuling::Unsure);
        }
        let mut judge = Judge::new(PortRole::Receiver, None, NONCE);
        assert_eq!(judge.goes_on(&garbage(4), 0), PortRuling::Unsure);
        assert_eq!(judge.goes_on(&garbage(4), 60_000_000_000), PortRuling::Unsure);
    }

    #[test]
    fn parts_that_changed_places_are_seen_by_what_they_send() {
        let mut judge = Judge::new(PortRole::Receiver, None, NONCE);
        assert_eq!(judge.goes_on(&hello(3), 0), PortRuling::Foreign);
        let mut judge = Judge::new(PortRole::Board, None, NONCE);
        assert_eq!(judge.goes_on(&sentence().repeat(3), 0), PortRuling::Foreign);
        // Noise is no proof against a board.
        let mut judge = Judge::new(PortRole::Board, None, NONCE);
        for n in 0..20 {
            assert_eq!(judge.goes_on(&garbage(300), n * 1_000_000_000), PortRuling::Fits);
        }
    }

    /// Fault row: plugs change places while both ports stay open, at one speed and at two.
    #[test]
    fn plugs_swapped_on_open_ports_are_seen_at_both() {
        let mut board = Judge::new(PortRole::Board, None, NONCE);
        assert_eq!(board.goes_on(&hello(3), 0), PortRuling::Fits);
        assert_eq!(board.goes_on(&sentence().repeat(3), 1_000_000_000), PortRuling::Foreign);
        let mut receiver = Judge::new(PortRole::Receiver, None, NONCE);
        assert_eq!(receiver.goes_on(&sentence().repeat(9), 0), PortRuling::Fits);
        assert_eq!(receiver.goes_on(&hello(3), 1_000_000_000), PortRuling::Foreign);
        // At the receiver's own speed its sentences are noise on the board's port.
        let mut board = Judge::new(PortRole::Board, None, NONCE);
        assert_eq!(board.goes_on(&hello(3), 0), PortRuling::Fits);
        assert_eq!(board.goes_on(&garbage(300), 4_000_000_000), PortRuling::Fits);
        assert_eq!(board.goes_on(&garbage(300), 6_000_000_000), PortRuling::Unreadable);
    }

    #[test]
    fn a_port_that_is_tried_needs_the_right_board_or_a_whole_sentence() {
        let mut judge = Judge::new(PortRole::Board, Some(Identity(3)), NONCE);
        assert_eq!(judge.tried(&garbage(100)), PortRuling::Unsure);
        assert_eq!(judge.tried(&hello(3)), PortRuling::Fits);
        assert_eq!(judge.board(), Some(Identity(3)));
        let mut judge = Judge::new(PortRole::Board, Some(Identity(3)), NONCE);
        assert_eq!(judge.tried(&hello(4)), PortRuling::Foreign);
        let mut judge = Judge::new(PortRole::Receiver, None, NONCE);
        assert_eq!(judge.tried(&sentence()[..30]), PortRuling::Unsure);
        assert_eq!(judge.tried(&sentence()[30..]), PortRuling::Fits);
        let mut judge = Judge::new(PortRole::Receiver, None, NONCE);
        assert_eq!(judge.tried(&garbage(24)), PortRuling::Unreadable);
        // Mid-sentence is text all the same.
        let mut judge = Judge::new(PortRole::Receiver, None, NONCE);
        assert_eq!(judge.tried(&sentence()[5..]), PortRuling::Unsure);
    }
}
