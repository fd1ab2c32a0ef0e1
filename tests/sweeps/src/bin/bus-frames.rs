//! What our readers of the bus make of bytes, a line a frame, for comparing with other readers:
//! `bus-frames adapter|log|rewrite|split|decode`, bytes in, text out.
//!
//! `adapter` and `log`: identifier, its bits, remote or data. `rewrite`: a recording as our writer
//! writes it. `split`: identifiers, a line each, taken apart. `decode`: values of a recording.
#![allow(clippy::print_stdout)]

use std::io::{BufWriter, Read, Write};
use trundle_core::wire::bus::adapter::{AdapterItem, AdapterReader};
use trundle_core::wire::bus::frame::{CanFrame, ExtendedId, Id};
use trundle_core::wire::bus::group::GroupId;
use trundle_core::wire::bus::log::{LogLine, read_line, write_line};
use trundle_core::wire::bus::message::{BusMessage, Decoded, decode};

type Any = Box<dyn std::error::Error>;

fn main() -> Result<(), Any> {
    let what = std::env::args().nth(1).unwrap_or_default();
    let mut bytes = Vec::new();
    std::io::stdin().lock().read_to_end(&mut bytes)?;
    let mut out = BufWriter::new(std::io::stdout().lock());
    let lines = || bytes.split_inclusive(|byte| *byte == b'\n');
    match what.as_str() {
        "adapter" => {
            let mut frames = Vec::new();
            AdapterReader::default().push(&bytes, |item| {
                if let AdapterItem::Frame(frame, _) = item {
                    frames.push(frame);
                }
            });
            for frame in &frames {
                writeln!(out, "{}", frame_words(frame))?;
            }
        }
        "log" | "rewrite" | "decode" => {
            for line in lines() {
                let Some(LogLine { time_us, interface, frame: Some(frame) }) = read_line(line)
                else {
                    writeln!(out, "none")?;
                    continue;
                };
                match what.as_str() {
                    "log" => writeln!(out, "{time_us} {interface} {}", frame_words(&frame))?,
                    "rewrite" => {
                        out.write_all(write_line(time_us, interface, &frame).as_bytes())?
                    }
                    _ => writeln!(out, "{}", decoded_words(&frame))?,
                }
            }
        }
        "split" => {
            for line in lines() {
                let raw = u32::from_str_radix(std::str::from_utf8(line)?.trim(), 16)?;
                let id = ExtendedId::new(raw).ok_or("more than 29 bits")?;
                let GroupId { priority, group, destination, source } = GroupId::of(id);
                let destination = destination.map_or_else(|| "-".to_owned(), |to| to.to_string());
                writeln!(out, "{priority} {group} {destination} {source}")?;
            }
        }
        _ => return Err("bus-frames adapter|log|rewrite|split|decode".into()),
    }
    Ok(out.flush()?)
}

fn frame_words(frame: &CanFrame) -> String {
    let (id, bits) = match frame.id {
        Id::Extended(id) => (id.as_raw(), 29),
        Id::Standard(id) => (u32::from(id.as_raw()), 11),
    };
    let data: String = frame.data().iter().map(|byte| format!("{byte:02x}")).collect();
    let data = if frame.remote { format!("remote{}", frame.stated_length()) } else { data };
    format!("{id:x} {bits} {data}")
}

/// `-` for what is absent.
fn decoded_words(frame: &CanFrame) -> String {
    let some = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |v| format!("{v:.3}"));
    match decode(frame) {
        Decoded::Message(source, BusMessage::Speed(m)) => format!(
            "{source} {:?} {} {} {:?} {:?}",
            m.kind,
            some(m.speed_mm_s.map(|mm_s| f64::from(mm_s) * 1e-3)),
            some(m.distance_mm.map(|mm| f64::from(mm) * 1e-3)),
            m.direction,
            m.source
        ),
        Decoded::Message(source, BusMessage::RearShaft(m)) => {
            format!("{source} RearShaft {} {}", some(m.shaft_rpm), some(m.set_point_rpm))
        }
        Decoded::Other => "other".to_owned(),
        Decoded::WrongLength => "length".to_owned(),
    }
}
