//! The log of boots, over many boots and with power failing anywhere in them.

use proptest::prelude::*;
use std::collections::BTreeSet;
use trundle_board::boot_log::{SECTOR, WRITTEN, Write, next};

/// Two sectors of a flash: programming only clears bits.
struct Flash([[u8; SECTOR]; 2]);

/// One step of what is to be written.
enum Step {
    Erase(usize),
    Program(usize, usize, Vec<u8>),
}

impl Flash {
    fn new() -> Self {
        Self([[0xFF; SECTOR]; 2])
    }

    fn next(&self, noise: u32) -> (u32, Vec<Step>) {
        let (id, write) = next([&self.0[0], &self.0[1]], noise);
        let steps = match write {
            Write::Entry { sector, at } => vec![Step::Program(sector, at, vec![WRITTEN])],
            Write::Begin { sector, at, head } => vec![
                Step::Erase(sector),
                Step::Program(sector, at, vec![WRITTEN]),
                Step::Program(sector, 0, head.to_vec()),
            ],
        };
        (id, steps)
    }

    /// Does a step, or so much of it as `mask` lets through before power fails.
    fn step(&mut self, step: &Step, mask: impl Fn(usize) -> u8) {
        match step {
            Step::Erase(sector) => {
                self.0[*sector].iter_mut().enumerate().for_each(|(at, b)| *b |= mask(at));
            }
            Step::Program(sector, from, bytes) => {
                for (at, byte) in bytes.iter().enumerate() {
                    self.0[*sector][from + at] &= byte | !mask(at);
                }
            }
        }
    }

    /// A boot that nothing disturbs.
    fn boot(&mut self, noise: u32) -> u32 {
        let (id, steps) = self.next(noise);
        steps.iter().for_each(|step| self.step(step, |_| 0xFF));
        id
    }
}

#[test]
fn ids_go_up_by_one_over_many_full_sectors() {
    let mut flash = Flash::new();
    // The first is noise; what comes later is not, and wraps.
    let first = u32::MAX - 5_000;
    for boot in 0..20_000 {
        assert_eq!(flash.boot(if boot == 0 { first } else { 7 }), first.wrapping_add(boot));
    }
}

#[test]
fn a_sector_is_erased_once_in_3840_boots() {
    let mut flash = Flash::new();
    let erasures = (0..38_400)
        .filter(|_| {
            let (_, steps) = flash.next(1);
            let erases = steps.iter().any(|step| matches!(step, Step::Erase(_)));
            flash.boot(1);
            erases
        })
        .count();
    assert_eq!(erasures, 10);
}

#[test]
fn a_wiped_flash_begins_with_noise() {
    assert_eq!(Flash::new().boot(0xC0FF_EE11), 0xC0FF_EE11);
    let mut other = Flash([[0; SECTOR]; 2]);
    assert_eq!(other.boot(0xC0FF_EE12), 0xC0FF_EE12);
    assert_eq!(other.boot(1), 0xC0FF_EE13);
}

proptest! {
    /// Power fails in some boots, in the middle of what they write: no id that a whole boot used
    /// ever comes again. Bits written half read one way now and another way later.
    #[test]
    fn no_id_comes_again(
        start in 0..4_200_u32,
        boots in prop::collection::vec((any::<bool>(), 0..3_usize, any::<u64>()), 1..60),
    ) {
        let mut flash = Flash::new();
        let mut used = BTreeSet::new();
        // Near the end of a sector, or over it.
        for _ in 0..start {
            prop_assert!(used.insert(flash.boot(1_000)));
        }
        for (fails, at, seed) in boots {
            // The noise is that of a fresh flash each time: it may only be used there.
            let (id, steps) = flash.next(1_000);
            let noise = |byte: usize| (seed.rotate_left(byte as u32 * 7 % 64) & 0xFF) as u8;
            for (number, step) in steps.iter().enumerate() {
                if fails && number == at.min(steps.len() - 1) {
                    flash.step(step, noise);
                    break;
                }
                flash.step(step, |_| 0xFF);
            }
            if !fails {
                prop_assert!(used.insert(id), "{id} again");
            }
        }
    }
}
