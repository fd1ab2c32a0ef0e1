//! Recordings in the text form of can-utils: a frame a line,
//! `(1700000000.123456) can0 18FE48F0#F40110270000FFFD`.

use super::frame::{CanFrame, DATA_MAX, ExtendedId, Id, StandardId, bytes, number};

/// Identifiers with a bit above the 29 are no data: the system's own reports of errors.
const ERROR_FROM: u32 = 0x2000_0000;
/// Longest time that can be, seconds: the year 2286; it bounds the arithmetic.
const TIME_MAX_S: u64 = 9_999_999_999;

/// One line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LogLine<'a> {
    /// Time of the frame, microseconds: since 1970, or since any other beginning.
    pub time_us: u64,
    /// Name of the bus it was received from.
    pub interface: &'a str,
    /// The frame; `None` where the line is sound but holds no classic one: a report of an error,
    /// or a longer frame of a newer bus.
    pub frame: Option<CanFrame>,
}

/// Read a line, with or without its end; `None` when it is none.
#[must_use]
pub fn read_line(line: &[u8]) -> Option<LogLine<'_>> {
    let text = std::str::from_utf8(line).ok()?.trim_ascii_end();
    let (time, rest) = text.strip_prefix('(')?.split_once(") ")?;
    let mut words = rest.split_ascii_whitespace();
    let interface = words.next()?;
    let (id, data) = words.next()?.split_once('#')?;
    // Newer programs add whether it was received or sent.
    if !matches!(words.next(), None | Some("R" | "T")) || words.next().is_some() {
        return None;
    }
    Some(LogLine { time_us: time_us(time)?, interface, frame: frame(id, data)? })
}

fn time_us(text: &str) -> Option<u64> {
    let (whole, part) = text.split_once('.')?;
    let all = whole.bytes().chain(part.bytes()).all(|byte| byte.is_ascii_digit());
    let seconds: u64 = whole.parse().ok().filter(|s| *s <= TIME_MAX_S)?;
    if !all || part.is_empty() || part.len() > 9 {
        return None;
    }
    // Of nanoseconds the last three digits are left out.
    let micros: u64 = format!("{part:0<6}").get(..6)?.parse().ok()?;
    Some(seconds * 1_000_000 + micros)
}

/// The outer `None`: not sound.
#[allow(clippy::option_option)]
fn frame(id: &str, data: &str) -> Option<Option<CanFrame>> {
    let raw = number(id.as_bytes())?;
    let id = match id.len() {
        3 => Id::Standard(StandardId::new(u16::try_from(raw).ok()?)?),
        8 if raw >= ERROR_FROM => return Some(None),
        8 => Id::Extended(ExtendedId::new(raw)?),
        _ => return None,
    };
    if data.starts_with('#') {
        return Some(None);
    }
    if let Some(length) = data.strip_prefix('R') {
        let length = if length.is_empty() { 0 } else { number(length.as_bytes())? };
        return CanFrame::remote(id, usize::try_from(length).ok()?).map(Some);
    }
    let mut room = [0; DATA_MAX];
    let length = bytes(data.as_bytes(), &mut room)?;
    CanFrame::new(id, &room[..length]).map(Some)
}

/// The line for a frame, with its end.
#[must_use]
pub fn write_line(time_us: u64, interface: &str, frame: &CanFrame) -> String {
    let id = match frame.id {
        Id::Extended(id) => format!("{:08X}", id.as_raw()),
        Id::Standard(id) => format!("{:03X}", id.as_raw()),
    };
    let data: String = match frame.remote {
        true => format!("R{}", frame.stated_length()),
        false => frame.data().iter().map(|byte| format!("{byte:02X}")).collect(),
    };
    let (seconds, micros) = (time_us / 1_000_000, time_us % 1_000_000);
    format!("({seconds}.{micros:06}) {interface} {id}#{data}\n")
}
