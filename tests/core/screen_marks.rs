//! Presses from board, keyboard and page in any order: one mark for what people meant as one.

use std::collections::BTreeMap;
use trundle_core::capture::HostMarkAction;
use trundle_core::session::SessionEvent;
use trundle_core::session::drive::Drive;
use trundle_core::session::marks::{MarkBook, MarkTime, Press as RuledPress, Ruling};
use trundle_core::session::presses::{
    Answer, Due, End, Press, PressPlace, PressRuling, Presses, Wish,
};

/// A job without ports: the marks of the session, and a disk that takes its time.
#[derive(Default)]
struct Bench {
    book: MarkBook,
    presses: Presses,
    keys: u64,
    /// Rulings that are not on the disk yet.
    disk: Vec<SessionEvent>,
    rulings: Vec<Ruling>,
}

const MS: u64 = 1_000_000;

impl Bench {
    fn rule(&mut self, host_ns: u64, action: HostMarkAction, key: Option<u64>) {
        let press = RuledPress { host_ns, time: MarkTime::Host, action, key };
        let ruling = self.book.press(&press, || Drive::Unknown);
        self.rulings.push(ruling);
        self.disk.push(SessionEvent::Mark { host_ns, from_board: key.is_none(), ruling });
    }

    fn board(&mut self, host_ns: u64) {
        self.rule(host_ns, HostMarkAction::Mark, None);
    }

    fn press(&mut self, place: PressPlace, key: u64, host_ns: u64, wish: Wish) -> Answer {
        let mut press = Press { place, key, host_ns, wish };
        match self.presses.press(&mut press, self.book.open()) {
            PressRuling::Answer(answer) => answer,
            PressRuling::Give(action, _) => {
                self.keys += 1;
                self.rule(press.host_ns, action, Some(self.keys));
                Answer::Waiting
            }
        }
    }

    fn mark(&mut self, place: PressPlace, key: u64, host_ns: u64, due: Due) -> Answer {
        self.press(place, key, host_ns, Wish::Mark(due))
    }

    fn sync(&mut self) {
        for event in self.disk.drain(..) {
            self.presses.ruled(&event);
        }
    }

    fn answer(&self, place: PressPlace, key: u64) -> &Answer {
        self.presses.answer(place, key).unwrap()
    }

    fn marks(&self) -> usize {
        let mark = |r: &&Ruling| matches!(r, Ruling::Start { .. } | Ruling::Finish { .. });
        self.rulings.iter().filter(mark).count()
    }
}

fn start(number: u32) -> Due {
    Due { number, end: End::Start }
}

fn finish(number: u32) -> Due {
    Due { number, end: End::Finish }
}

#[test]
fn an_answer_that_was_lost_comes_again_under_the_same_key() {
    let mut bench = Bench::default();
    assert_eq!(bench.mark(PressPlace::Page, 7, 0, start(1)), Answer::Waiting);
    // Sent again before the disk has it, and long after.
    assert_eq!(bench.mark(PressPlace::Page, 7, 900 * MS, start(1)), Answer::Waiting);
    bench.sync();
    let done = Answer::Done { mark: Some(start(1)) };
    assert_eq!(bench.mark(PressPlace::Page, 7, 9_000 * MS, start(1)), done);
    assert_eq!(bench.marks(), 1);
    // The same number from another place is another press.
    let first = bench.presses.last().unwrap();
    assert_eq!(bench.mark(PressPlace::Terminal, 7, 9_500 * MS, start(1)), Answer::Already(first));
    assert_eq!((first.host_ns, first.place), (0, PressPlace::Page));
}

#[test]
fn two_people_at_one_peg_give_one_mark_however_far_apart_they_press() {
    for apart_ms in [0, 1, 399, 400, 1_500, 60_000] {
        for synced in [false, true] {
            for board_first in [false, true] {
                let mut bench = Bench::default();
                let at_ns = 1_000 * MS;
                if board_first {
                    bench.board(at_ns);
                } else {
                    bench.mark(PressPlace::Terminal, 1, at_ns, start(1));
                }
                if synced {
                    bench.sync();
                }
                let later_ns = at_ns + apart_ms * MS;
                let at_once = bench.mark(PressPlace::Page, 1, later_ns, start(1));
                assert!(synced || at_once == Answer::Waiting, "{at_once:?}");
                bench.sync();
                let Answer::Already(first) = bench.answer(PressPlace::Page, 1) else {
                    panic!("{apart_ms} ms, {synced}, {board_first}: {:?}", bench.rulings)
                };
                assert_eq!((first.due, first.host_ns), (start(1), at_ns));
                assert_eq!(bench.marks(), 1);
                assert_eq!(bench.book.open(), Some(1));
            }
        }
    }
}

#[test]
fn what_is_not_due_does_nothing() {
    let mut bench = Bench::default();
    // A finish before any start, and the start of a pass that is far off.
    assert_eq!(bench.mark(PressPlace::Page, 1, 0, finish(1)), Answer::NotDue);
    assert_eq!(bench.mark(PressPlace::Page, 2, MS, start(4)), Answer::NotDue);
    assert_eq!(bench.press(PressPlace::Page, 3, 2 * MS, Wish::Undo(start(1))), Answer::NotDue);
    assert!(bench.rulings.is_empty());
    bench.mark(PressPlace::Page, 4, 1_000 * MS, start(1));
    bench.sync();
    bench.mark(PressPlace::Page, 5, 9_000 * MS, finish(1));
    bench.sync();
    // Two people take the finish back; only one of them does, and the start stands.
    bench.press(PressPlace::Page, 6, 10_000 * MS, Wish::Undo(finish(1)));
    bench.sync();
    let second = bench.press(PressPlace::Terminal, 1, 10_500 * MS, Wish::Undo(finish(1)));
    assert_eq!(second, Answer::NotDue);
    assert_eq!(bench.book.open(), Some(1));
    assert_eq!(bench.presses.can_undo(), Some(start(1)));
    // A pass that was left out has no finish to wait for.
    bench.press(PressPlace::Page, 7, 11_000 * MS, Wish::Reject(1, "slipped".to_owned()));
    let waiting = bench.mark(PressPlace::Terminal, 2, 11_100 * MS, finish(1));
    bench.sync();
    assert_eq!(waiting, Answer::Waiting);
    assert_eq!(*bench.answer(PressPlace::Terminal, 2), Answer::NotDue);
    assert_eq!(bench.presses.due(bench.book.open()), start(2));
}

#[test]
fn lost_presses_of_the_board_close_the_open_pass() {
    let mut bench = Bench::default();
    bench.board(0);
    bench.sync();
    bench.book.presses_lost(1);
    bench.presses.ruled(&SessionEvent::MarkLost { presses: 1 });
    assert_eq!(bench.mark(PressPlace::Page, 1, 5_000 * MS, finish(1)), Answer::NotDue);
    assert_eq!(bench.presses.can_undo(), None);
    assert_eq!(bench.mark(PressPlace::Page, 2, 6_000 * MS, start(2)), Answer::Waiting);
}

#[test]
fn a_capture_that_fails_saves_nothing_more() {
    let mut bench = Bench::default();
    bench.mark(PressPlace::Page, 1, 0, start(1));
    bench.presses.failed();
    assert_eq!(*bench.answer(PressPlace::Page, 1), Answer::NotSaved);
    assert_eq!(bench.mark(PressPlace::Page, 2, 9_000 * MS, start(1)), Answer::NotSaved);
}

/// A generator of its own, so that a seed gives the same orders on every machine
/// (Marsaglia, Xorshift RNGs, Journal of Statistical Software 8 (14), 2003).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % sides
    }
}

/// One peg after the other is reached, seconds apart. At each, one to three people press within
/// three seconds, each what was due when the peg was reached; their answers are lost at times and
/// the press is sent again; the disk is quick or slow. Exactly one mark a peg must come of it.
fn one_mark_a_peg(seed: u64) {
    let mut dice = Dice(seed * 0x9e37_79b9 + 1);
    let mut bench = Bench::default();
    let mut keys: BTreeMap<PressPlace, u64> = BTreeMap::new();
    for peg in 0..12_u64 {
        let due = Due {
            number: u32::try_from(peg / 2).unwrap() + 1,
            end: if peg % 2 == 0 { End::Start } else { End::Finish },
        };
        assert_eq!(bench.presses.due(bench.book.open()), due);
        let reached_ns = (peg + 1) * 20_000 * MS;
        let mut at_ms: Vec<u64> = (0..=dice.roll(3)).map(|_| dice.roll(3_000)).collect();
        at_ms.sort_unstable();
        // The board knows nothing of a peg: only its first press is what was meant.
        let board = dice.roll(2) == 0;
        let mut pressed = Vec::new();
        for (n, ms) in at_ms.iter().enumerate() {
            let host_ns = reached_ns + ms * MS;
            if n == 0 && board {
                bench.board(host_ns);
            } else {
                let place = if dice.roll(2) == 0 { PressPlace::Terminal } else { PressPlace::Page };
                let key = keys.entry(place).or_default();
                *key += 1;
                let key = *key;
                bench.mark(place, key, host_ns, due);
                pressed.push((place, key));
                if dice.roll(3) == 0 {
                    bench.mark(place, key, host_ns + 50 * MS, due);
                }
            }
            if dice.roll(2) == 0 {
                bench.sync();
            }
        }
        bench.sync();
        assert_eq!(bench.marks() as u64, peg + 1, "seed {seed}: {:?}", bench.rulings);
        let marked = bench.presses.last().unwrap();
        assert_eq!(marked.host_ns / MS, reached_ns / MS + at_ms[0], "seed {seed}");
        for (n, (place, key)) in pressed.iter().enumerate() {
            // A second try, long after: the answer of the first.
            let answer = bench.mark(*place, *key, reached_ns + 10_000 * MS, due);
            let own = n == 0 && !board;
            let wanted =
                if own { Answer::Done { mark: Some(due) } } else { Answer::Already(marked) };
            assert_eq!(answer, wanted, "seed {seed}, peg {peg}");
        }
    }
}

#[test]
fn any_order_of_presses_gives_one_mark_a_peg() {
    for seed in 1..=3_000 {
        one_mark_a_peg(seed);
    }
}
