//! The countdown at the pegs, as a function of what was seen.

use super::*;
use crate::live::standing::Standing;
use trundle_core::fitness::look::{LinkLook, Look, Wall};
use trundle_core::session::bus::BusNow;
use trundle_core::session::presses::{Due, PressPlace};
use trundle_core::wire::board::CountSample;

const S: u64 = 1_000_000_000;

/// A board that counts while it is told to, looked at ten times a second.
struct Played {
    look: Look,
    standing: Standing,
    impulses: u64,
    finish: Option<Marked>,
}

impl Played {
    fn new() -> Self {
        let look = Look {
            now_ns: 100 * S,
            pace: 1.0,
            wall: Wall::default(),
            practice: false,
            board: LinkLook { open: true, age_s: Some(0.0) },
            receiver: None,
            bus: None,
            bus_now: BusNow::default(),
            inputs: None,
            sample: None,
            fix: None,
            sky: None,
            open_pass: None,
            marked: 0,
            impulses: None,
            against_start: Vec::new(),
        };
        Self { look, standing: Standing::default(), impulses: 500, finish: None }
    }

    fn go_on(&mut self, seconds: f64, moves: bool) {
        for _ in 0..(10.0 * seconds).round() as u32 {
            self.look.now_ns += S / 10;
            self.impulses += u64::from(moves) * 7;
            self.look.sample = Some(CountSample {
                host_ns: self.look.now_ns,
                board_us: self.look.now_ns / 1000,
                impulses: [self.impulses, 0, 0],
                last_edge_us: [None; 3],
                rejected: [0; 3],
                in_work: false,
                overruns: 0,
            });
            self.standing.take(&self.look);
        }
    }

    fn finish(&mut self, number: u32) {
        let due = Due { number, end: End::Finish };
        let host_ns = self.look.now_ns;
        self.finish = Some(Marked { due, host_ns, place: PressPlace::Board });
    }

    fn next(&self) -> Next {
        let row = |number| PassRow {
            number,
            way: None,
            state: PassState::Settling,
            impulses: [None; 3],
            figure: [None; 3],
            why: Vec::new(),
        };
        let passes: Vec<PassRow> = self.finish.iter().map(|last| row(last.due.number)).collect();
        next(&Facts {
            failed: false,
            waiting: false,
            against_start: &[],
            open: None,
            passes: &passes,
            last: self.finish.map(|last| (last, self.look.age_s(last.host_ns))),
            stood: self.standing.stood(&self.look),
            figures: false,
        })
    }

    fn sees(&self) -> (NextStep, Option<u32>) {
        let next = self.next();
        (next.step, next.stand_s)
    }
}

#[test]
fn behind_a_finish_ten_seconds_of_standstill_are_counted_from_the_stop() {
    let mut played = Played::new();
    played.go_on(5.0, true);
    // Pressed a second before the stop: the standstill behind it is the one beside the peg.
    played.finish(1);
    assert_eq!(played.sees(), (NextStep::StandStill, Some(10)));
    played.go_on(1.0, true);
    assert_eq!(played.sees(), (NextStep::StandStill, Some(10)));
    let mut seen = Vec::new();
    for _ in 0..100 {
        played.go_on(0.1, false);
        if let (NextStep::StandStill, Some(left_s)) = played.sees() {
            assert!(played.next().words.contains(&format!("{left_s} s more")));
            seen.push(left_s);
        }
    }
    seen.dedup();
    assert_eq!(seen, (1..=10).rev().collect::<Vec<u32>>());
    assert_eq!(played.sees(), (NextStep::Turn, Some(0)));
    // Nobody is held: whoever drives off early is told to turn, as always.
    let mut early = Played::new();
    early.go_on(5.0, true);
    early.go_on(1.0, false);
    early.finish(1);
    early.go_on(2.0, false);
    assert_eq!(early.sees(), (NextStep::StandStill, Some(7)));
    early.go_on(4.0, true);
    assert_eq!(early.sees(), (NextStep::Turn, None));
}

#[test]
fn before_a_start_the_countdown_begins_again_with_each_move() {
    let mut played = Played::new();
    played.go_on(3.0, true);
    assert_eq!(played.sees(), (NextStep::MarkStart, None));
    played.go_on(0.5, false);
    assert_eq!(played.sees().0, NextStep::MarkStart, "a coarse sensor is quiet that long");
    played.go_on(2.5, false);
    assert_eq!(played.sees(), (NextStep::StandStill, Some(7)));
    played.go_on(0.1, true);
    played.go_on(4.0, false);
    assert_eq!(played.sees(), (NextStep::StandStill, Some(6)));
    played.go_on(6.0, false);
    let next = played.next();
    assert_eq!((next.step, next.stand_s), (NextStep::MarkStart, Some(0)), "{next:?}");
    assert!(next.words.contains("start of pass 1"), "{next:?}");
    // Where nothing has moved yet the tractor may stand in the yard.
    let mut yard = Played::new();
    yard.go_on(4.2, false);
    let next = yard.next();
    assert_eq!((next.step, next.stand_s), (NextStep::MarkStart, Some(6)));
    assert!(next.words.starts_with("Drive to the first peg"), "{next:?}");
    // The same beside the peg at which the next pass begins, after turning round.
    played.finish(3);
    played.go_on(12.0, false);
    assert_eq!(played.sees(), (NextStep::Turn, Some(0)));
    played.go_on(20.0, true);
    assert_eq!(played.sees(), (NextStep::Turn, None));
    played.go_on(3.0, false);
    assert_eq!(played.sees(), (NextStep::StandStill, Some(7)));
    assert!(played.next().words.contains("start of pass 4"));
}

#[test]
fn old_counts_count_nothing_down() {
    let mut played = Played::new();
    played.go_on(3.0, true);
    played.finish(1);
    played.go_on(4.0, false);
    played.look.board.age_s = Some(5.0);
    assert_eq!(played.standing.stood(&played.look), None);
    // The clock alone has to do, and it lets go as well.
    assert_eq!(played.sees(), (NextStep::StandStill, None));
    played.look.now_ns += 7 * S;
    assert_eq!(played.sees(), (NextStep::Turn, None));
}
