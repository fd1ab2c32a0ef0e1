//! Lines out of a stream of bytes, whatever the chunks.
//!
//! A serial port hands over bytes in pieces that have nothing to do with sentences, mixed with a
//! receiver's own binary messages and with whatever a loose plug adds. The splitter finds the
//! sentences in that, in a buffer of fixed size, and counts everything it drops. The same bytes
//! give the same lines on any chunking.
//!
//! A line that lies within one chunk is handed on where it lies, without a copy; only a line that
//! straddles two chunks goes through the buffer. Most of a long log takes the first path.
//!
//! Sentences start with `$` (IEC 61162-1, 7.3); `!` starts an encapsulation sentence, which is of
//! no use here. Both are reserved, so either one inside a line means that the end of that line was
//! lost: a new one begins. A line whose checksum has come lacks nothing, whatever ended it, and
//! is handed on (some programs write a NUL behind each); without one it is dropped.

use super::words::find_end;

/// Longest line kept, bytes, counting the `$` and not the line end. The standard allows 82;
/// receivers with seven decimals and long talker tables pass that, never three times over.
pub const LINE_MAX: usize = 256;

/// What the splitter has seen and dropped.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct LineCounts {
    /// Number of lines handed on.
    pub lines: u64,
    /// Lines dropped because they had no end within [`LINE_MAX`] bytes.
    pub overlong: u64,
    /// Lines dropped because another one started inside them.
    pub merged: u64,
    /// Lines dropped because a byte that is not printable ASCII stood in them.
    pub broken: u64,
    /// Encapsulation sentences passed over.
    pub encapsulated: u64,
    /// Bytes outside any line that are not line ends.
    pub stray_bytes: u64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// Outside of any line.
    Outside,
    /// Inside a `$` line, of which the buffer holds the part from earlier chunks.
    Sentence,
    /// Inside a `!` line, of which only the length is kept.
    Encapsulated,
}

/// Splits a stream of bytes into sentences.
#[derive(Debug, Clone)]
pub struct LineSplitter {
    buffer: [u8; LINE_MAX],
    /// Bytes of the open line so far; they are in the buffer only for a sentence.
    len: usize,
    state: State,
    start_host_ns: u64,
    counts: LineCounts,
}

impl Default for LineSplitter {
    fn default() -> Self {
        Self {
            buffer: [0; LINE_MAX],
            len: 0,
            state: State::Outside,
            start_host_ns: 0,
            counts: LineCounts::default(),
        }
    }
}

impl LineSplitter {
    /// What was seen and dropped so far.
    pub fn counts(&self) -> LineCounts {
        self.counts
    }

    /// Takes one chunk that arrived at `host_ns` (host monotonic clock). Calls `line` with every
    /// sentence that ends in it, from its `$` to before its line end, and with the stamp of the
    /// chunk that held its `$`.
    pub fn push(&mut self, chunk: &[u8], host_ns: u64, mut line: impl FnMut(&[u8], u64)) {
        let mut rest = chunk;
        while !rest.is_empty() {
            let taken = match self.state {
                State::Outside => self.outside(rest, host_ns),
                State::Sentence | State::Encapsulated => self.inside(rest, host_ns, &mut line),
            };
            rest = &rest[taken..];
        }
    }

    fn close(&mut self) {
        self.state = State::Outside;
        self.len = 0;
    }

    fn open(&mut self, first: u8, host_ns: u64) {
        self.state = if first == b'$' { State::Sentence } else { State::Encapsulated };
        self.len = 0;
        self.start_host_ns = host_ns;
    }

    /// Looks for the start of a line; opens it without taking its first byte.
    fn outside(&mut self, rest: &[u8], host_ns: u64) -> usize {
        for (at, &byte) in rest.iter().enumerate() {
            match byte {
                b'$' | b'!' => {
                    self.open(byte, host_ns);
                    return at;
                }
                b'\r' | b'\n' => {}
                _ => self.counts.stray_bytes += 1,
            }
        }
        rest.len()
    }

    /// Takes bytes of the open line, up to what ends it or the end of the chunk.
    fn inside(&mut self, rest: &[u8], host_ns: u64, line: &mut impl FnMut(&[u8], u64)) -> usize {
        // The line's own first byte would end it.
        let skip = usize::from(self.len == 0);
        let room = LINE_MAX - self.len;
        // One byte more than fits, so that a line of exactly the longest length can end.
        let window = &rest[..rest.len().min(room + 1)];
        let Some(at) = find_end(&window[skip..]).map(|at| at + skip) else {
            if window.len() > room {
                self.counts.overlong += 1;
                self.close();
                return room;
            }
            if self.state == State::Sentence {
                self.buffer[self.len..self.len + window.len()].copy_from_slice(window);
            }
            self.len += window.len();
            return window.len();
        };
        match window[at] {
            b'\r' | b'\n' => {
                self.hand_on(&window[..at], line);
                self.close();
                at + 1
            }
            other => {
                let whole = self.is_whole(&window[..at]);
                if whole {
                    self.hand_on(&window[..at], line);
                }
                self.close();
                if matches!(other, b'$' | b'!') {
                    self.counts.merged += u64::from(!whole);
                    self.open(other, host_ns);
                } else {
                    self.counts.broken += u64::from(!whole);
                }
                at
            }
        }
    }

    /// Whether the open sentence, whose last part is `tail`, has come to the end of its checksum.
    fn is_whole(&self, tail: &[u8]) -> bool {
        let from_end = |back: usize| match tail.len().checked_sub(back) {
            Some(at) => tail.get(at),
            None => self.buffer.get((self.len + tail.len()).checked_sub(back)?),
        };
        self.state == State::Sentence
            && from_end(3) == Some(&b'*')
            && [1, 2].iter().all(|&back| from_end(back).is_some_and(u8::is_ascii_hexdigit))
    }

    /// No more bytes will come: the last line may lack its end, but not its checksum. Harmless to
    /// call twice.
    pub fn finish(&mut self, mut line: impl FnMut(&[u8], u64)) {
        if self.is_whole(&[]) {
            self.hand_on(&[], &mut line);
        }
        self.close();
    }

    /// Hands on a complete line, whose last part is `tail`.
    fn hand_on(&mut self, tail: &[u8], line: &mut impl FnMut(&[u8], u64)) {
        if self.state == State::Encapsulated {
            self.counts.encapsulated += 1;
            return;
        }
        self.counts.lines += 1;
        if self.len == 0 {
            line(tail, self.start_host_ns);
        } else {
            let len = self.len + tail.len();
            self.buffer[self.len..len].copy_from_slice(tail);
            line(&self.buffer[..len], self.start_host_ns);
        }
    }
}
