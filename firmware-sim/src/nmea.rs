//! The text of NMEA 0183 sentences, as a receiver that uses several systems prints it.
//!
//! Field order follows NMEA 0183 version 2.3 and later (mode field in RMC and VTG, no
//! navigational status). Positions and speeds are rounded to the decimals the receiver prints,
//! which is part of what is simulated: printed resolution limits some estimates of distance.

use std::fmt::Write as _;

/// Knots in one metre per second: a knot is 1852 m in an hour, by definition.
const KNOTS_PER_M_S: f64 = 3600.0 / 1852.0;

/// The sentences the simulated receiver knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sentence {
    /// Time, position, quality, height.
    Gga,
    /// Time, position, speed, course, date.
    Rmc,
    /// Course and speed.
    Vtg,
    /// Satellites used and dilutions.
    Gsa,
    /// Satellites in view: several sentences.
    Gsv,
    /// Estimated errors.
    Gst,
    /// Time and date.
    Zda,
}

/// What a receiver knows at one epoch.
#[derive(Clone, Copy, Debug)]
pub struct Fix {
    /// Time tag, Unix nanoseconds (UTC, leap seconds not counted).
    pub utc_ns: i64,
    /// Latitude and longitude in degrees, ellipsoidal height in metres; `None`: no fix.
    pub place: Option<[f64; 3]>,
    /// Fix quality of GGA.
    pub quality: u8,
    /// Satellites used.
    pub satellites: u32,
    /// Horizontal dilution of precision.
    pub hdop: f64,
    /// Speed over ground, metres per second.
    pub speed_m_s: f64,
    /// Course over ground, degrees from true north; `None`: too slow to tell.
    pub course_deg: Option<f64>,
    /// Standard deviation the receiver claims for each horizontal axis, metres.
    pub claimed_m: f64,
}

/// How the receiver prints.
#[derive(Clone, Copy, Debug)]
pub struct Print {
    /// Decimals of the minutes of latitude and longitude.
    pub minute_decimals: usize,
    /// Decimals of the speed in knots.
    pub speed_decimals: usize,
    /// Ellipsoidal height minus height above mean sea level, metres.
    pub geoid_separation_m: f64,
}

/// A calendar date of the proleptic Gregorian calendar from days since 1970-01-01.
fn date(days: i64) -> (i64, i64, i64) {
    // Years are counted from March, so that the leap day is the last of its year; one era is
    // 400 years or 146 097 days. The offset moves the zero to 0000-03-01.
    let shifted = days + 719_468;
    let era = shifted.div_euclid(146_097);
    let day_of_era = shifted.rem_euclid(146_097);
    let year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    (year_of_era + era * 400 + i64::from(month <= 2), month, day)
}

/// `hhmmss.ss` of a time.
fn time_of_day(utc_ns: i64) -> String {
    let hundredths = utc_ns.div_euclid(10_000_000).rem_euclid(8_640_000);
    let (s, rest) = (hundredths / 100, hundredths % 100);
    format!("{:02}{:02}{:02}.{rest:02}", s / 3600, s / 60 % 60, s % 60)
}

/// Degrees and minutes with the hemisphere: `ddmm.mmmm,N`.
fn angle(degrees: f64, width: usize, decimals: usize, hemispheres: [char; 2]) -> String {
    let unit = 10_u64.pow(u32::try_from(decimals).unwrap_or(7));
    // Rounded once as a whole, so that 59.99996 minutes never prints as 60.0000.
    let rounded = libm::round(degrees.abs() * 60.0 * unit as f64) as u64;
    let (whole, rest) = (rounded / (60 * unit), rounded % (60 * unit));
    let hemisphere = hemispheres[usize::from(degrees < 0.0)];
    let (minutes, part) = (rest / unit, rest % unit);
    format!("{whole:0width$}{minutes:02}.{part:0decimals$},{hemisphere}")
}

fn place(fix: &Fix, print: &Print) -> String {
    fix.place.map_or_else(
        || ",,,".to_owned(),
        |[latitude, longitude, _]| {
            let decimals = print.minute_decimals;
            let latitude = angle(latitude, 2, decimals, ['N', 'S']);
            format!("{latitude},{}", angle(longitude, 3, decimals, ['E', 'W']))
        },
    )
}

/// Mode letter of RMC and VTG that goes with a quality of GGA.
const fn mode(quality: u8) -> char {
    match quality {
        0 => 'N',
        2 => 'D',
        4 => 'R',
        5 => 'F',
        6 => 'E',
        7 => 'M',
        8 => 'S',
        _ => 'A',
    }
}

fn gga(fix: &Fix, print: &Print) -> String {
    let time = time_of_day(fix.utc_ns);
    let Some([_, _, height_m]) = fix.place else {
        return format!("GNGGA,{time},,,,,0,00,99.99,,,,,,");
    };
    let sea_m = height_m - print.geoid_separation_m;
    // Differential solutions carry the age of the corrections and the station.
    let corrections = if matches!(fix.quality, 2 | 4 | 5) { "1.0,0136" } else { "," };
    format!(
        "GNGGA,{time},{},{},{:02},{:.2},{sea_m:.3},M,{:.3},M,{corrections}",
        place(fix, print),
        fix.quality,
        fix.satellites,
        fix.hdop,
        print.geoid_separation_m,
    )
}

fn course(fix: &Fix) -> String {
    fix.course_deg.map_or_else(String::new, |degrees| format!("{degrees:.2}"))
}

fn rmc(fix: &Fix, print: &Print) -> String {
    let (year, month, day) = date(fix.utc_ns.div_euclid(86_400_000_000_000));
    let (status, speed) = if fix.place.is_some() {
        ('A', format!("{:.*}", print.speed_decimals, fix.speed_m_s * KNOTS_PER_M_S))
    } else {
        ('V', String::new())
    };
    format!(
        "GNRMC,{},{status},{},{speed},{},{day:02}{month:02}{:02},,,{}",
        time_of_day(fix.utc_ns),
        place(fix, print),
        course(fix),
        year.rem_euclid(100),
        mode(fix.quality),
    )
}

fn vtg(fix: &Fix, print: &Print) -> String {
    if fix.place.is_none() {
        return "GNVTG,,T,,M,,N,,K,N".to_owned();
    }
    let decimals = print.speed_decimals;
    format!(
        "GNVTG,{},T,,M,{:.decimals$},N,{:.decimals$},K,{}",
        course(fix),
        fix.speed_m_s * KNOTS_PER_M_S,
        fix.speed_m_s * 3.6,
        mode(fix.quality),
    )
}

fn gsa(fix: &Fix) -> String {
    if fix.place.is_none() {
        return "GNGSA,A,1,,,,,,,,,,,,,99.99,99.99,99.99".to_owned();
    }
    let (h, v) = (fix.hdop, fix.hdop * 1.4);
    let p = libm::hypot(h, v);
    format!("GNGSA,A,3,02,05,07,09,13,15,20,24,28,30,,,{p:.2},{h:.2},{v:.2}")
}

fn gst(fix: &Fix) -> String {
    let time = time_of_day(fix.utc_ns);
    if fix.place.is_none() {
        return format!("GNGST,{time},,,,,,,");
    }
    let (one, up) = (fix.claimed_m, fix.claimed_m * 1.5);
    format!("GNGST,{time},{one:.3},{one:.3},{one:.3},0.0,{one:.3},{one:.3},{up:.3}")
}

fn zda(fix: &Fix) -> String {
    let (year, month, day) = date(fix.utc_ns.div_euclid(86_400_000_000_000));
    format!("GNZDA,{},{day:02},{month:02},{year:04},00,00", time_of_day(fix.utc_ns))
}

/// An invented sky that stands still: it carries no measurement.
const SKY: [&str; 3] = [
    "GPGSV,2,1,08,02,61,112,47,05,33,296,44,07,18,184,41,09,44,061,45",
    "GPGSV,2,2,08,13,72,251,49,15,25,143,42,20,12,022,38,30,51,207,46",
    "GLGSV,1,1,04,68,40,090,43,69,66,310,47,78,21,231,40,79,35,170,44",
];

/// Appends `body` with `$`, checksum and line end.
fn push(out: &mut Vec<u8>, body: &str) {
    let sum = body.bytes().fold(0_u8, |sum, byte| sum ^ byte);
    let mut text = String::with_capacity(body.len() + 6);
    // Writing to a string cannot fail.
    let _ = write!(text, "${body}*{sum:02X}\r\n");
    out.extend_from_slice(text.as_bytes());
}

/// Appends the text of one kind of sentence, line ends included.
pub fn write(out: &mut Vec<u8>, sentence: Sentence, fix: &Fix, print: &Print) {
    match sentence {
        Sentence::Gga => push(out, &gga(fix, print)),
        Sentence::Rmc => push(out, &rmc(fix, print)),
        Sentence::Vtg => push(out, &vtg(fix, print)),
        Sentence::Gsa => push(out, &gsa(fix)),
        Sentence::Gsv => SKY.iter().for_each(|body| push(out, body)),
        Sentence::Gst => push(out, &gst(fix)),
        Sentence::Zda => push(out, &zda(fix)),
    }
}

#[cfg(test)]
mod tests {
    use super::{angle, date, time_of_day};

    #[test]
    fn dates_and_times_of_known_instants() {
        // The Unix epoch, the leap day of 2000, and the instant 1 000 000 000 s, which is
        // 2001-09-09T01:46:40Z (common knowledge).
        assert_eq!(date(0), (1970, 1, 1));
        assert_eq!(date(11_016), (2000, 2, 29));
        assert_eq!(date(1_000_000_000 / 86_400), (2001, 9, 9));
        assert_eq!(time_of_day(1_000_000_000_250_000_000), "014640.25");
    }

    #[test]
    fn minutes_never_print_as_sixty() {
        assert_eq!(angle(51.999_999_999_9, 2, 4, ['N', 'S']), "5200.0000,N");
        assert_eq!(angle(-0.125, 3, 5, ['E', 'W']), "00007.50000,W");
    }
}
