//! Lines typed at the terminal, each stamped when it came.

use super::terminal;
use crate::shell::clock::Clock;
use crate::shell::out;
use std::io::{BufRead, Read as _};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::Duration;

/// Longest line read, bytes; the rest of a longer one is thrown away.
const LINE_MAX: u64 = 4096;
/// Lines that may wait.
const LINES_MAX: usize = 256;
/// Pause after the end-of-input key, so that a terminal that has closed cannot make the thread
/// spin.
const AFTER_END: Duration = Duration::from_millis(200);

/// What came from the keyboard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Input {
    /// A line, and the host time at which it came, nanoseconds.
    Typed(u64, String),
    /// No more lines will come.
    End,
    /// The end-of-input key was pressed at a terminal; more may be typed.
    EndOfTerminal,
    /// The terminal was closed.
    Closed,
}

/// Read stdin on a thread of its own, which ends with the program.
#[must_use]
pub fn read_lines(clock: Clock) -> Receiver<Input> {
    let (sender, lines) = sync_channel(LINES_MAX);
    let read = move || {
        let stdin = std::io::stdin();
        let terminal = terminal::types_lines();
        loop {
            read_all(&mut stdin.lock(), clock, &sender);
            let end = match terminal {
                true if terminal::is_closed() => Input::Closed,
                true => Input::EndOfTerminal,
                false => Input::End,
            };
            let over = end != Input::EndOfTerminal;
            if sender.send(end).is_err() || over {
                return;
            }
            std::thread::sleep(AFTER_END);
        }
    };
    // Without a thread nothing can be typed; signals and the page still end the job.
    if let Err(error) = std::thread::Builder::new().spawn(read) {
        out::notice(&format!("Nothing can be typed ({error}); Ctrl-C ends the job."));
    }
    lines
}

/// Hand on lines until the input ends or nobody listens. A last line without a line end counts:
/// the person did type it.
fn read_all(input: &mut impl BufRead, clock: Clock, sender: &SyncSender<Input>) {
    loop {
        let mut line = Vec::new();
        // What cannot be read is the end, like the end itself.
        let _ = input.by_ref().take(LINE_MAX).read_until(b'\n', &mut line);
        if line.is_empty() {
            return;
        }
        let mut ended = line.pop_if(|last| *last == b'\n').is_some();
        if !ended && line.len() as u64 == LINE_MAX {
            ended = input.skip_until(b'\n').is_ok();
        }
        let text = String::from_utf8_lossy(&line).into_owned();
        if sender.send(Input::Typed(clock.now_ns(), text)).is_err() || !ended {
            return;
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn read(input: &[u8], buffer: usize) -> Vec<String> {
        let (sender, lines) = sync_channel(LINES_MAX);
        let mut input = std::io::BufReader::with_capacity(buffer, input);
        read_all(&mut input, Clock::start(1.0), &sender);
        drop(sender);
        let text = |line| if let Input::Typed(_, text) = line { text } else { panic!() };
        lines.iter().map(text).collect()
    }

    #[test]
    fn lines_come_whole_however_they_arrive() {
        for buffer in [1, 2, 7, 64] {
            assert_eq!(read(b"m\n\nn wet\r\nq", buffer), ["m", "", "n wet\r", "q"]);
        }
        assert!(read(b"", 8).is_empty());
    }

    #[test]
    fn an_endless_line_is_cut_and_costs_no_more_memory() {
        let long = [vec![b'n'; 100_000], b"\nq\n".to_vec()].concat();
        let lines = read(&long, 512);
        assert_eq!((lines[0].len(), lines[1].as_str()), (LINE_MAX as usize, "q"));
    }
}
