//! One input and output machine, instruction by instruction, as the RP2040 Datasheet, section
//! 3.4, describes it (from memory): written apart from the programs, as a witness of them.

use std::collections::VecDeque;
use trundle_board::pio::Program;

/// Places of a queue that uses all of them.
const PLACES: usize = 8;

pub struct Machine {
    code: [u16; 32],
    wrap: (u8, u8),
    pc: u8,
    pub x: u32,
    y: u32,
    input: u32,
    taken: u32,
    pub received: VecDeque<u32>,
    pub to_send: VecDeque<u32>,
    /// A push met a full queue.
    pub fault: bool,
    pub pin_out: bool,
    idle: u16,
}

impl Machine {
    pub fn new<const N: usize>(program: &Program<N>) -> Self {
        // What is not loaded would be an error: a jump to itself that never counts.
        let mut code = [0xFFFF; 32];
        let from = usize::from(program.origin);
        code[from..from + N].copy_from_slice(&program.code);
        Self {
            code,
            wrap: (program.wrap_bottom, program.wrap_top),
            pc: program.wrap_bottom,
            x: 0,
            y: 0,
            input: 0,
            taken: 0,
            received: VecDeque::new(),
            to_send: VecDeque::new(),
            fault: false,
            pin_out: true,
            idle: 0,
        }
    }

    /// One clock, with the pin as the machine sees it.
    pub fn clock(&mut self, pin: bool) {
        if self.idle > 0 {
            self.idle -= 1;
            return;
        }
        let word = self.code[usize::from(self.pc)];
        let (kind, wait, argument) = (word >> 13, word >> 8 & 31, word & 0xFF);
        let mut next = if self.pc == self.wrap.1 { self.wrap.0 } else { self.pc + 1 };
        match kind {
            0 if self.jumps(argument >> 5, pin) => next = (argument & 31) as u8,
            0 => {}
            2 => self.shift_in(argument >> 5, u32::from(argument & 31), pin),
            3 => self.shift_out(argument >> 5, u32::from(argument & 31)),
            4 if argument & 0x80 == 0 => self.push(),
            4 => match self.to_send.pop_front() {
                Some(word) => self.taken = word,
                // It waits here.
                None => return,
            },
            5 => self.transfer(argument),
            7 if argument >> 5 == 0 => self.pin_out = argument & 1 != 0,
            _ => panic!("instruction {word:04X} at {}", self.pc),
        }
        self.pc = next;
        self.idle = wait;
    }

    fn jumps(&mut self, when: u16, pin: bool) -> bool {
        match when {
            0 => true,
            2 => count_down(&mut self.x),
            4 => count_down(&mut self.y),
            6 => pin,
            _ => panic!("jump when {when}"),
        }
    }

    fn shift_in(&mut self, source: u16, bits: u32, pin: bool) {
        let value = match source {
            0 => u32::from(pin),
            1 => self.x,
            _ => panic!("in from {source}"),
        };
        let mask = (1_u32 << bits).wrapping_sub(1);
        self.input = self.input << bits | value & mask;
    }

    fn shift_out(&mut self, target: u16, bits: u32) {
        assert_eq!((target, bits), (2, 16), "out");
        self.y = self.taken & 0xFFFF;
        self.taken >>= bits;
    }

    fn push(&mut self) {
        if self.received.len() < PLACES {
            self.received.push_back(self.input);
        } else {
            self.fault = true;
        }
        self.input = 0;
    }

    fn transfer(&mut self, argument: u16) {
        let source = match argument & 7 {
            1 => self.x,
            6 => self.input,
            7 => self.taken,
            other => panic!("mov from {other}"),
        };
        let value = if argument >> 3 & 3 == 1 { !source } else { source };
        match argument >> 5 {
            1 => self.x = value,
            6 => self.input = value,
            7 => self.taken = value,
            other => panic!("mov to {other}"),
        }
    }
}

fn count_down(number: &mut u32) -> bool {
    let before = *number;
    *number = before.wrapping_sub(1);
    before != 0
}
