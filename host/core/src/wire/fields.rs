//! The fields of one NMEA 0183 sentence, read without copying.
//!
//! A field is the bytes between two commas. Receivers pad empty fields with blanks, so blanks at
//! either end are dropped before anything is decided. Every reader names the field it was asked
//! for, and a fault carries that name: a capture with a thousand refused sentences is only of use
//! when it says what was wrong with them.
//!
//! Numbers are kept as whole digits and a count of decimals until the last step. That makes the
//! conversion to `f64` correctly rounded, and it keeps the printed resolution (the *quantum*),
//! which is a line of the uncertainty budget: a speed printed to 0.1 kn is 1.9 % of 10 km/h.

use super::sentence::SentenceFault;
pub use super::time_of_day::TimeOfDay;
use crate::units::KM_H_PER_M_S;

/// Metres per second in one knot, exactly: 1 kn = 1852 m/h (international nautical mile, 1929).
pub const KNOT_M_S: f64 = 1852.0 / 3600.0;
/// Metres per second in one kilometre per hour.
pub const KM_H_M_S: f64 = 1.0 / KM_H_PER_M_S;
/// Metres of one minute of latitude. The nautical mile is within 0.6 % of it everywhere, and the
/// value is used only for the resolution of a printed position.
pub const MINUTE_M: f64 = 1852.0;
/// Nanoseconds in a second.
pub const SECOND_NS: u64 = 1_000_000_000;
/// Decimals of a second that give nanoseconds.
const NANO_DECIMALS: usize = 9;

/// Digits of the longest number that is read.
const DIGITS_MAX: usize = 17;
/// Ten to the power of its index. All exact in `f64`.
const POW10: [f64; 18] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17,
];

/// A calendar date (UTC).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date {
    /// The year with four digits.
    pub year: i32,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the month, 1 to 31.
    pub day: u8,
}

/// A position as one sentence prints it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position {
    /// Latitude, degrees, north positive.
    pub lat_deg: f64,
    /// Longitude, degrees, east positive.
    pub lon_deg: f64,
    /// Size of the last printed digit of latitude, metres north to south.
    pub quantum_m: f64,
}

/// A speed over ground as one sentence prints it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Speed {
    /// Speed, in metres per second.
    pub m_s: f64,
    /// Size of the last printed digit, metres per second.
    pub quantum_m_s: f64,
}

/// A decimal number as printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Decimal {
    pub(crate) negative: bool,
    /// All digits, the point left out.
    pub(crate) mantissa: u64,
    /// Those before the point.
    pub(crate) whole: u64,
    pub(crate) decimals: u8,
}

impl Decimal {
    /// The value. Correctly rounded while the digits fit 53 bits, which every field of use does.
    pub(crate) fn value(self) -> f64 {
        // Signed on the way: one instruction, where the unsigned takes several.
        let magnitude = self.mantissa as i64 as f64 / POW10[usize::from(self.decimals)];
        if self.negative { -magnitude } else { magnitude }
    }

    /// The size of the last printed digit.
    pub(crate) fn quantum(self) -> f64 {
        1.0 / POW10[usize::from(self.decimals)]
    }
}

/// The same as whole numbers; a field holds at most 17 digits.
pub(crate) const POW10_WHOLE: [u64; 18] = {
    let mut powers = [1; 18];
    let mut at = 1;
    while at < powers.len() {
        powers[at] = powers[at - 1] * 10;
        at += 1;
    }
    powers
};

/// Reads the digits of an unsigned decimal; `None` when anything but digits and one point is
/// there, when there is no digit, or when there are more digits than fit.
#[inline]
fn digits(bytes: &[u8]) -> Option<Decimal> {
    let mut mantissa = 0_u64;
    let mut point = None;
    // The longest that can be: seventeen digits and a point.
    if bytes.len() > DIGITS_MAX + 1 {
        return None;
    }
    for (at, &byte) in bytes.iter().enumerate() {
        let digit = byte.wrapping_sub(b'0');
        if digit <= 9 {
            mantissa = mantissa * 10 + u64::from(digit);
        } else if byte == b'.' && point.is_none() {
            point = Some((at, mantissa));
        } else {
            return None;
        }
    }
    let count = bytes.len() - usize::from(point.is_some());
    let (places, whole) = point.unwrap_or((count, mantissa));
    let fits = (1..=DIGITS_MAX).contains(&count);
    let decimals = (count - places) as u8;
    fits.then_some(Decimal { negative: false, mantissa, whole, decimals })
}

/// Walks over the fields of one sentence from left to right.
pub(crate) struct Fields<'a> {
    rest: Option<&'a [u8]>,
    sentence: &'static str,
    /// The first field that was left out because it holds what it cannot hold.
    pub(crate) left_out: Option<SentenceFault>,
}

impl<'a> Fields<'a> {
    /// Fields of `body`, the bytes after the comma that ends the address; `None` when the
    /// sentence ends with its address.
    pub(crate) fn new(body: Option<&'a [u8]>) -> Self {
        Self { rest: body, sentence: "", left_out: None }
    }

    /// The same, named in faults by the three letters of the sentence.
    pub(crate) fn of(&mut self, sentence: &'static str) -> &mut Self {
        self.sentence = sentence;
        self
    }

    /// The fault of this sentence for the named field.
    pub(crate) fn fault(&self, field: &'static str) -> SentenceFault {
        SentenceFault::Field { sentence: self.sentence, field }
    }

    /// The next field, blanks trimmed; empty when it is empty or the sentence has ended.
    #[inline]
    pub(crate) fn next(&mut self) -> &'a [u8] {
        self.next_untrimmed().trim_ascii()
    }

    #[inline]
    fn next_untrimmed(&mut self) -> &'a [u8] {
        let Some(rest) = self.rest else { return &[] };
        match rest.iter().position(|&byte| byte == b',') {
            Some(at) => {
                self.rest = Some(&rest[at + 1..]);
                &rest[..at]
            }
            None => {
                self.rest = None;
                rest
            }
        }
    }

    /// Passes over a field of no use here.
    pub(crate) fn skip(&mut self) {
        self.next_untrimmed();
    }

    /// A value that the sentence is of use without: where it holds what it cannot hold it is left
    /// out, and noted.
    pub(crate) fn spare<T>(
        &mut self,
        read: impl FnOnce(&mut Self) -> Result<Option<T>, SentenceFault>,
    ) -> Option<T> {
        read(self).unwrap_or_else(|fault| {
            self.left_out.get_or_insert(fault);
            None
        })
    }

    /// Whether every field has been taken.
    pub(crate) fn ended(&self) -> bool {
        self.rest.is_none()
    }

    /// An unsigned decimal.
    pub(crate) fn unsigned(
        &mut self,
        field: &'static str,
    ) -> Result<Option<Decimal>, SentenceFault> {
        let bytes = self.next();
        if bytes.is_empty() {
            return Ok(None);
        }
        digits(bytes).map(Some).ok_or_else(|| self.fault(field))
    }

    /// A decimal that may carry a sign.
    pub(crate) fn signed(&mut self, field: &'static str) -> Result<Option<f64>, SentenceFault> {
        let bytes = self.next();
        let (negative, magnitude) = match bytes.first() {
            None => return Ok(None),
            Some(b'-') => (true, &bytes[1..]),
            Some(b'+') => (false, &bytes[1..]),
            Some(_) => (false, bytes),
        };
        match digits(magnitude) {
            Some(decimal) => Ok(Some(Decimal { negative, ..decimal }.value())),
            None => Err(self.fault(field)),
        }
    }

    /// A whole number up to `max`.
    pub(crate) fn whole(
        &mut self,
        field: &'static str,
        max: u64,
    ) -> Result<Option<u64>, SentenceFault> {
        match self.unsigned(field)? {
            None => Ok(None),
            Some(Decimal { decimals: 0, mantissa, .. }) if mantissa <= max => Ok(Some(mantissa)),
            Some(_) => Err(self.fault(field)),
        }
    }

    /// One letter, or nothing.
    pub(crate) fn letter(&mut self, field: &'static str) -> Result<Option<u8>, SentenceFault> {
        match self.next() {
            [] => Ok(None),
            [letter] if letter.is_ascii_alphabetic() => Ok(Some(*letter)),
            _ => Err(self.fault(field)),
        }
    }

    /// A unit letter, which may be left out but must not be another one.
    pub(crate) fn unit(&mut self, unit: u8, field: &'static str) -> Result<(), SentenceFault> {
        match self.letter(field)? {
            Some(found) if found != unit => Err(self.fault(field)),
            _ => Ok(()),
        }
    }

    /// A value and the letter of its unit: two fields, taken whatever they hold.
    pub(crate) fn with_unit<T>(
        &mut self,
        read: impl FnOnce(&mut Self) -> Result<Option<T>, SentenceFault>,
        unit: u8,
        field: &'static str,
    ) -> Result<Option<T>, SentenceFault> {
        let value = read(self);
        self.unit(unit, field)?;
        value
    }

    /// A length or height with its unit, metres.
    pub(crate) fn metres(&mut self, field: &'static str) -> Result<Option<f64>, SentenceFault> {
        self.with_unit(|fields| fields.signed(field), b'M', field)
    }

    /// How many satellites are used.
    pub(crate) fn satellites(&mut self) -> Option<u8> {
        self.spare(|fields| fields.whole("satellites", 255)).map(|count| count as u8)
    }

    /// Status A (valid) or V (void).
    pub(crate) fn status(&mut self) -> Result<bool, SentenceFault> {
        match self.letter("status")? {
            Some(b'A') => Ok(true),
            Some(b'V') | None => Ok(false),
            Some(_) => Err(self.fault("status")),
        }
    }

    /// `hhmmss` or `hhmmss.s…`, to the nanosecond. Second 60 is accepted and marked.
    pub(crate) fn time(&mut self) -> Result<Option<TimeOfDay>, SentenceFault> {
        let Some(decimal) = self.unsigned("time")? else { return Ok(None) };
        if usize::from(decimal.decimals) > NANO_DECIMALS {
            return Err(self.fault("time"));
        }
        let decimals = usize::from(decimal.decimals);
        let clock = decimal.whole;
        let fraction = decimal.mantissa - clock * POW10_WHOLE[decimals];
        let (hour, minute, second) = (clock / 10_000, clock / 100 % 100, clock % 100);
        if hour > 23 || minute > 59 || second > 60 {
            return Err(self.fault("time"));
        }
        let fraction_ns = fraction * POW10_WHOLE[NANO_DECIMALS - decimals];
        let ns = ((hour * 60 + minute) * 60 + second) * SECOND_NS + fraction_ns;
        let decimals = decimal.decimals;
        Ok(Some(TimeOfDay { ns, leap_second: second == 60, decimals }))
    }

    /// A track in degrees, 0 to 360.
    pub(crate) fn track(&mut self) -> Result<Option<f64>, SentenceFault> {
        match self.unsigned("track")?.map(Decimal::value) {
            Some(degrees) if degrees > 360.0 => Err(self.fault("track")),
            track => Ok(track),
        }
    }

    /// A speed in a unit of `unit_m_s` metres per second.
    pub(crate) fn speed(&mut self, unit_m_s: f64) -> Result<Option<Speed>, SentenceFault> {
        let decimal = self.unsigned("speed")?;
        Ok(decimal.map(|decimal| Speed {
            m_s: decimal.value() * unit_m_s,
            quantum_m_s: decimal.quantum() * unit_m_s,
        }))
    }

    /// Latitude, hemisphere, longitude, hemisphere: four fields. All of a position or none of it.
    pub(crate) fn position(&mut self) -> Result<Option<Position>, SentenceFault> {
        let lat = self.angle("latitude", 4, 90)?;
        let lat_negative = self.hemisphere(lat.is_some(), "north or south", b'N', b'S')?;
        let lon = self.angle("longitude", 5, 180)?;
        let lon_negative = self.hemisphere(lon.is_some(), "east or west", b'E', b'W')?;
        match (lat, lon) {
            (None, None) => Ok(None),
            (Some((lat, decimals)), Some((lon, _))) => Ok(Some(Position {
                lat_deg: if lat_negative { -lat } else { lat },
                lon_deg: if lon_negative { -lon } else { lon },
                quantum_m: MINUTE_M / POW10[usize::from(decimals)],
            })),
            (None, _) => Err(self.fault("latitude")),
            (_, None) => Err(self.fault("longitude")),
        }
    }

    /// `ddmm.m…` or `dddmm.m…`: at most `width` digits before the point. The standard has leading
    /// zeros; some receivers leave them out, and behind a sound checksum no digit is lost. Returns
    /// degrees and the number of decimals of the minutes.
    fn angle(
        &mut self,
        field: &'static str,
        width: usize,
        limit_deg: u64,
    ) -> Result<Option<(f64, u8)>, SentenceFault> {
        let bytes = self.next();
        if bytes.is_empty() {
            return Ok(None);
        }
        let fault = self.fault(field);
        let decimal = digits(bytes).ok_or(fault)?;
        let fraction = usize::from(decimal.decimals);
        let point = usize::from(bytes.contains(&b'.'));
        // Eleven decimals (20 nm) keep the sum below exact; nothing prints more.
        if fraction > 11 || !(1..=width).contains(&(bytes.len() - point - fraction)) {
            return Err(fault);
        }
        let scale = POW10_WHOLE[fraction];
        let degrees = decimal.whole / 100;
        let minutes = decimal.mantissa - degrees * 100 * scale;
        let total = degrees * 60 * scale + minutes;
        if minutes >= 60 * scale || total > limit_deg * 60 * scale {
            return Err(fault);
        }
        // One division of two exact numbers: correctly rounded below 2^53.
        Ok(Some((total as i64 as f64 / (60 * scale) as i64 as f64, decimal.decimals)))
    }

    /// Whether the coordinate before it is to be negated. Must be there when the coordinate is.
    fn hemisphere(
        &mut self,
        needed: bool,
        field: &'static str,
        positive: u8,
        negative: u8,
    ) -> Result<bool, SentenceFault> {
        match self.letter(field)? {
            Some(letter) if letter == positive => Ok(false),
            Some(letter) if letter == negative => Ok(true),
            None if !needed => Ok(false),
            _ => Err(self.fault(field)),
        }
    }
}
