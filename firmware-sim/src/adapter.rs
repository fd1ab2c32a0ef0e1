//! The adapter between bus and computer: commands in, answers and frames out.
//!
//! The plain-text serial-line CAN protocol. It keeps what it was sent, so that a test can show
//! that nothing but its set-up ever came.

/// Commands kept; more than any set-up takes.
const COMMANDS_MAX: usize = 4096;
/// Longest command, bytes.
const COMMAND_MAX: usize = 64;

/// The adapter.
#[derive(Clone, Debug, Default)]
pub(crate) struct SimAdapter {
    /// It can listen only.
    listens: bool,
    open: bool,
    command: Vec<u8>,
    commands: Vec<String>,
}

impl SimAdapter {
    /// `open`: it listens already, as one does whose computer was unplugged.
    pub(crate) const fn new(listens: bool, open: bool) -> Self {
        Self { listens, open, command: Vec::new(), commands: Vec::new() }
    }

    /// It lost its supply: nobody listens.
    pub(crate) fn power_on(&mut self) {
        self.open = false;
        self.command.clear();
    }

    /// Takes bytes of the host and gives the answers.
    pub(crate) fn receive(&mut self, bytes: &[u8]) -> Vec<u8> {
        let mut out = Vec::new();
        for &byte in bytes {
            if byte != b'\r' {
                if self.command.len() < COMMAND_MAX {
                    self.command.push(byte);
                }
                continue;
            }
            let command = std::mem::take(&mut self.command);
            if self.commands.len() < COMMANDS_MAX {
                self.commands.push(command.escape_ascii().to_string());
            }
            out.extend_from_slice(self.answer(&command));
        }
        out
    }

    fn answer(&mut self, command: &[u8]) -> &'static [u8] {
        match command {
            b"C" if self.open => self.open = false,
            [b'S', b'0'..=b'8'] if !self.open => {}
            b"V" => return b"V0101\r",
            b"L" if !self.open && self.listens => self.open = true,
            _ => return b"\x07",
        }
        b"\r"
    }

    /// The line for a frame; nothing while its channel is closed.
    pub(crate) fn line(&self, id: u32, data: &[u8]) -> Vec<u8> {
        if !self.open {
            return Vec::new();
        }
        let mut line = format!("T{id:08X}{}", data.len());
        line.extend(data.iter().map(|byte| format!("{byte:02X}")));
        line.push('\r');
        line.into_bytes()
    }

    /// What it was sent, a command each; bytes without an end are the last.
    pub(crate) fn commands(&self) -> Vec<String> {
        let rest = (!self.command.is_empty()).then(|| self.command.escape_ascii().to_string());
        self.commands.iter().cloned().chain(rest).collect()
    }
}
