//! One NMEA 0183 sentence: checksum, address, and the fields that count, in SI units.
//!
//! The reader is zero-copy and holds no state: the same line gives the same sentence. It reads
//! the seven sentences that carry position, speed, time or the receiver's own error estimate, from
//! any two-letter talker; every other approved sentence comes back as [`Sentence::Other`], and
//! proprietary ones (`$P…`) as [`Sentence::Proprietary`].
//!
//! Nothing is measured from a sentence without a good checksum: on a line shared with an engine,
//! one changed digit of a longitude is worth metres. A value that cannot be is a fault that names
//! its field, never a default; a field left empty is `None`. So is an impossible one that the rest
//! does not hang on: a date of seven characters says nothing against the position beside it, but a
//! time, a position, a status or a quality that cannot be condemns its sentence.
//!
//! Sources for the field order: IEC 61162-1 / NMEA 0183 as restated in the gpsd project's public
//! "NMEA Revealed". The sentences quoted there are among the checks.

use super::fields::{Date, Decimal, Fields, KM_H_M_S, KNOT_M_S, Position, Speed, TimeOfDay};
use super::words::exclusive_or;

/// The two letters that say which satellite system a sentence speaks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Talker(pub [u8; 2]);

impl Talker {
    /// Whether the solution combines several systems (`GN`).
    pub fn is_combined(self) -> bool {
        self.0 == *b"GN"
    }
}

/// Why a line is not a sentence to measure from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SentenceFault {
    /// It does not start with `$` and an address of letters and digits.
    Address,
    /// It carries no checksum. The sentence may be right; there is no way to show.
    NoChecksum,
    /// The checksum printed is not that of the bytes received.
    Checksum {
        /// Checksum of the bytes received.
        expected: u8,
        /// Checksum printed at the end of the line.
        found: u8,
    },
    /// A field that the sentence is of no use without holds what it cannot hold.
    Field {
        /// The sentence, as its three letters.
        sentence: &'static str,
        /// Name of the faulty field.
        field: &'static str,
    },
}

/// Receiver's own error estimate, one standard deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GstSigma {
    /// North to south, metres.
    pub lat_m: f64,
    /// East to west, metres.
    pub lon_m: f64,
    /// Height of the position, metres.
    pub height_m: Option<f64>,
}

/// GGA: position, quality and height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gga {
    /// Satellite system of the sender.
    pub talker: Talker,
    /// UTC of the position.
    pub time: Option<TimeOfDay>,
    /// Where. A receiver may go on printing the last place with quality 0.
    pub position: Option<Position>,
    /// Quality digit, 0 to 9; an empty field is 0.
    pub quality: u8,
    /// Number of the satellites used.
    pub satellites: Option<u8>,
    /// Horizontal dilution of precision.
    pub hdop: Option<f32>,
    /// Height of the antenna above the geoid, metres.
    pub altitude_m: Option<f64>,
    /// Height of the geoid above the ellipsoid, metres.
    pub geoid_separation_m: Option<f64>,
}

/// RMC: position, speed, track and date.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rmc {
    /// Satellite system of the sender.
    pub talker: Talker,
    /// UTC of the position.
    pub time: Option<TimeOfDay>,
    /// Status A. False for V: the receiver itself says not to use it.
    pub valid: bool,
    /// The position, if it is given.
    pub position: Option<Position>,
    /// Speed over ground, if given.
    pub speed: Option<Speed>,
    /// Track made good, degrees from true north.
    pub track_deg: Option<f64>,
    /// Date (UTC). Two printed digits of the year: 80 to 99 are 19xx.
    pub date: Option<Date>,
    /// Mode letter; absent before NMEA 0183 version 2.3.
    pub mode: Option<u8>,
    /// Navigational status letter; absent before version 4.1. `V` here means only that the
    /// equipment gives no such status.
    pub nav_status: Option<u8>,
}

/// VTG: speed and track, without a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vtg {
    /// Satellite system of the sender.
    pub talker: Talker,
    /// Track made good, degrees from true north.
    pub track_deg: Option<f64>,
    /// Speed over ground: from the knots, or from the km/h where there are no knots.
    pub speed: Option<Speed>,
    /// Mode letter; absent before version 2.3.
    pub mode: Option<u8>,
}

/// GST: the receiver's own error estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gst {
    /// Satellite system of the sender.
    pub talker: Talker,
    /// UTC of the position it speaks of.
    pub time: Option<TimeOfDay>,
    /// Standard deviations, when both horizontal ones are given.
    pub sigma: Option<GstSigma>,
}

/// GLL: nothing but the position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gll {
    /// Satellite system of the sender.
    pub talker: Talker,
    /// UTC of the position.
    pub time: Option<TimeOfDay>,
    /// The position, if it is given.
    pub position: Option<Position>,
    /// Status A. Version 1.5 printed no status: it left the sentence out instead.
    pub valid: bool,
    /// Letter of the mode, if given.
    pub mode: Option<u8>,
}

/// GNS: position of several systems together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gns {
    /// Satellite system of the sender.
    pub talker: Talker,
    /// UTC of the position.
    pub time: Option<TimeOfDay>,
    /// The position, if it is given.
    pub position: Option<Position>,
    /// The best mode letter of any system, by the order of [`mode_rank`].
    pub mode: u8,
    /// Number of the satellites used.
    pub satellites: Option<u8>,
    /// Horizontal dilution of precision.
    pub hdop: Option<f32>,
    /// Height of the antenna above the geoid, metres.
    pub altitude_m: Option<f64>,
    /// Height of the geoid above the ellipsoid, metres.
    pub geoid_separation_m: Option<f64>,
}

/// ZDA: time and date.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zda {
    /// Time of day, in UTC.
    pub time: Option<TimeOfDay>,
    /// The date, in UTC.
    pub date: Option<Date>,
}

/// A sentence that was received whole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sentence {
    /// Position, quality and height.
    Gga(Gga),
    /// Position, speed, track and date.
    Rmc(Rmc),
    /// Speed and track over ground.
    Vtg(Vtg),
    /// An estimate of the position's error.
    Gst(Gst),
    /// Nothing but the position.
    Gll(Gll),
    /// Position of several systems.
    Gns(Gns),
    /// The time and the date.
    Zda(Zda),
    /// Another approved sentence, by its three letters.
    Other([u8; 3]),
    /// A maker's own sentence.
    Proprietary,
}

/// Order of mode letters from best to worst; the lowest of a GNS sentence's systems counts.
/// Simulator and manual input stand first: one such system spoils the whole position.
pub fn mode_rank(mode: u8) -> u8 {
    match mode {
        b'S' => 0,
        b'M' => 1,
        b'R' => 2,
        b'F' => 3,
        b'P' => 4,
        b'D' => 5,
        b'A' => 6,
        b'E' => 7,
        _ => 8,
    }
}

/// Reads one line, from its `$` to before its line end.
///
/// # Errors
/// A [`SentenceFault`] that says what was wrong; the line is then not to be measured from.
pub fn parse(line: &[u8]) -> Result<Sentence, SentenceFault> {
    read(line).map(|(sentence, _)| sentence)
}

/// Reads one line as [`parse`] does, and names the first field in it that was left out because
/// it holds what it cannot hold.
///
/// # Errors
/// As [`parse`].
pub fn read(line: &[u8]) -> Result<(Sentence, Option<SentenceFault>), SentenceFault> {
    let body = checked_body(line)?;
    if body.first() == Some(&b'P') {
        return Ok((Sentence::Proprietary, None));
    }
    let comma = body.iter().position(|&byte| byte == b',');
    let address = &body[..comma.unwrap_or(body.len())];
    let &[t0, t1, k0, k1, k2] = address else { return Err(SentenceFault::Address) };
    if !address.iter().all(u8::is_ascii_alphanumeric) {
        return Err(SentenceFault::Address);
    }
    let talker = Talker([t0, t1]);
    let mut fields = Fields::new(comma.map(|at| &body[at + 1..]));
    let sentence = match &[k0, k1, k2] {
        b"GGA" => gga(talker, fields.of("GGA")).map(Sentence::Gga),
        b"RMC" => rmc(talker, fields.of("RMC")).map(Sentence::Rmc),
        b"VTG" => vtg(talker, fields.of("VTG")).map(Sentence::Vtg),
        b"GST" => gst(talker, fields.of("GST")).map(Sentence::Gst),
        b"GLL" => gll(talker, fields.of("GLL")).map(Sentence::Gll),
        b"GNS" => gns(talker, fields.of("GNS")).map(Sentence::Gns),
        b"ZDA" => zda(fields.of("ZDA")).map(Sentence::Zda),
        &kind => Ok(Sentence::Other(kind)),
    };
    Ok((sentence?, fields.left_out))
}

/// The bytes between `$` and `*`, once their exclusive-or is what the line says it is.
fn checked_body(line: &[u8]) -> Result<&[u8], SentenceFault> {
    let line = line.trim_ascii_end();
    let Some((b'$', rest)) = line.split_first() else { return Err(SentenceFault::Address) };
    let Some((body, &[b'*', high, low])) = rest.split_last_chunk::<3>() else {
        return Err(SentenceFault::NoChecksum);
    };
    let nibble = |digit: u8| (digit as char).to_digit(16).map(|value| value as u8);
    let (Some(high), Some(low)) = (nibble(high), nibble(low)) else {
        return Err(SentenceFault::NoChecksum);
    };
    let found = high << 4 | low;
    let expected = exclusive_or(body);
    if expected == found { Ok(body) } else { Err(SentenceFault::Checksum { expected, found }) }
}

fn gga(talker: Talker, fields: &mut Fields<'_>) -> Result<Gga, SentenceFault> {
    let time = fields.time()?;
    let position = fields.position()?;
    if fields.ended() {
        return Err(fields.fault("quality"));
    }
    let quality = fields.whole("quality", 9)?.unwrap_or(0) as u8;
    let satellites = fields.satellites();
    let hdop = fields.spare(|f| f.unsigned("HDOP")).map(|hdop| hdop.value() as f32);
    let altitude_m = fields.spare(|f| f.metres("altitude"));
    let geoid_separation_m = fields.spare(|f| f.metres("geoid separation"));
    Ok(Gga { talker, time, position, quality, satellites, hdop, altitude_m, geoid_separation_m })
}

fn rmc(talker: Talker, fields: &mut Fields<'_>) -> Result<Rmc, SentenceFault> {
    let time = fields.time()?;
    let valid = fields.status()?;
    let position = fields.position()?;
    let speed = fields.spare(|f| f.speed(KNOT_M_S));
    let track_deg = fields.spare(Fields::track);
    if fields.ended() {
        return Err(fields.fault("date"));
    }
    let date = fields.spare(short_date);
    // Magnetic variation and its side.
    fields.skip();
    fields.skip();
    let mode = fields.letter("mode")?;
    let nav_status = fields.spare(|f| f.letter("navigational status"));
    Ok(Rmc { talker, time, valid, position, speed, track_deg, date, mode, nav_status })
}

/// `ddmmyy`.
fn short_date(fields: &mut Fields<'_>) -> Result<Option<Date>, SentenceFault> {
    let Some(number) = fields.whole("date", 311_299)? else { return Ok(None) };
    let year = (number % 100) as i32;
    let year = if year >= 80 { 1900 + year } else { 2000 + year };
    calendar(fields, year, number / 100 % 100, number / 10_000).map(Some)
}

fn calendar(fields: &Fields<'_>, year: i32, month: u64, day: u64) -> Result<Date, SentenceFault> {
    // Numbers of two digits, so the narrowing keeps them.
    let (month, day) = (month as u8, day as u8);
    let known = chrono::NaiveDate::from_ymd_opt(year, u32::from(month), u32::from(day)).is_some();
    if known { Ok(Date { year, month, day }) } else { Err(fields.fault("date")) }
}

fn vtg(talker: Talker, fields: &mut Fields<'_>) -> Result<Vtg, SentenceFault> {
    let track_deg = fields.spare(|f| f.with_unit(Fields::track, b'T', "track reference"));
    // The magnetic track and its letter.
    fields.skip();
    fields.skip();
    let knots = fields.spare(|f| f.with_unit(|f| f.speed(KNOT_M_S), b'N', "speed unit"));
    let km_h = fields.spare(|f| f.with_unit(|f| f.speed(KM_H_M_S), b'K', "speed unit"));
    let mode = fields.letter("mode")?;
    Ok(Vtg { talker, track_deg, speed: knots.or(km_h), mode })
}

fn gst(talker: Talker, fields: &mut Fields<'_>) -> Result<Gst, SentenceFault> {
    let time = fields.time()?;
    // The range residual and the ellipse: public examples print 235 111 m beside 2.3 m, so
    // nothing is taken from them.
    for _ in 0..4 {
        fields.skip();
    }
    let mut sigma = |name| fields.spare(|f| f.unsigned(name)).map(Decimal::value);
    let lat_m = sigma("latitude sigma");
    let lon_m = sigma("longitude sigma");
    let height_m = sigma("height sigma");
    let sigma = lat_m.zip(lon_m).map(|(lat_m, lon_m)| GstSigma { lat_m, lon_m, height_m });
    Ok(Gst { talker, time, sigma })
}

fn gll(talker: Talker, fields: &mut Fields<'_>) -> Result<Gll, SentenceFault> {
    let position = fields.position()?;
    let time = fields.time()?;
    let valid = fields.ended() || fields.status()?;
    let mode = fields.letter("mode")?;
    Ok(Gll { talker, time, position, valid, mode })
}

fn gns(talker: Talker, fields: &mut Fields<'_>) -> Result<Gns, SentenceFault> {
    let time = fields.time()?;
    let position = fields.position()?;
    let modes = fields.next();
    if !modes.iter().all(u8::is_ascii_uppercase) {
        return Err(fields.fault("mode"));
    }
    let mode = modes.iter().copied().min_by_key(|&mode| mode_rank(mode)).unwrap_or(b'N');
    let satellites = fields.satellites();
    let hdop = fields.spare(|f| f.unsigned("HDOP")).map(|hdop| hdop.value() as f32);
    let altitude_m = fields.spare(|f| f.signed("altitude"));
    let geoid_separation_m = fields.spare(|f| f.signed("geoid separation"));
    Ok(Gns { talker, time, position, mode, satellites, hdop, altitude_m, geoid_separation_m })
}

fn zda(fields: &mut Fields<'_>) -> Result<Zda, SentenceFault> {
    let time = fields.time()?;
    let day = fields.whole("date", 31)?;
    let month = fields.whole("date", 12)?;
    let year = fields.whole("date", 9999)?;
    let date = match (year, month, day) {
        (Some(year), Some(month), Some(day)) => Some(calendar(fields, year as i32, month, day)?),
        _ => None,
    };
    Ok(Zda { time, date })
}
