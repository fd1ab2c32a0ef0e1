//! How much came, of what kind.

/// How much of what has come so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counted {
    /// Number of the bytes received.
    pub bytes: u64,
    /// Bytes of them that are text.
    pub printable: u64,
    /// Sentences with a sound checksum that could be read.
    pub sentences: u64,
    /// Frames of a board.
    pub frames: u64,
    /// Frames of a bus, by an adapter.
    pub bus_frames: u64,
}

impl Counted {
    /// What came after `before`.
    #[must_use]
    pub const fn since(self, before: Self) -> Self {
        Self {
            bytes: self.bytes - before.bytes,
            printable: self.printable - before.printable,
            sentences: self.sentences - before.sentences,
            frames: self.frames - before.frames,
            bus_frames: self.bus_frames - before.bus_frames,
        }
    }

    /// True when at least `enough` bytes came and they are not text: sentences are, and at a wrong
    /// speed hardly half the bytes look like it.
    #[must_use]
    pub const fn garbled(self, enough: u64) -> bool {
        self.bytes >= enough && self.printable * 5 < self.bytes * 4
    }
}
