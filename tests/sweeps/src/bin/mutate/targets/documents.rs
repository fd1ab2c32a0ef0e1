//! Readers of whole texts: tables and sentences to be imported, courses, rigs, stored records.
#![allow(clippy::unwrap_used)]

use super::Attempt;
use super::pools::lines;
use serde_json::value::RawValue;
use trundle_bounds::requests::{self, FORM, MARK};
use trundle_bounds::sums::sentence_of;
use trundle_bounds::texts::{self, COURSE};
use trundle_core::import::{Inputs, to_records};
use trundle_core::rig::to_toml;
use trundle_tests::Draws;
use trundle_tests::mutation::Mutator;
use trundle_tests::{papers, visit};

/// Longest text, bytes.
const LONGEST: usize = 16 * 1024;
/// Seconds of the recordings to be imported; eleven rises of a count are asked for.
const RECORDED_S: u32 = 14;

/// Every key that there is.
const FULL_COURSE: &str = r#"[course]
nominal_m = 100
sections_m = [30, 30, 40]
height_difference_m = 0.4
height_difference_u_m = 0.05
peg_placement_m = 0.003
[tape]
class = "II"
standard_uncertainty_m = 0.001
certified_length_m = 30.002
tape_length_m = 30
standard_length_m = [30.002, 0.001]
material = "steel"
expansion_per_c = 11.5e-6
temperature_c = 28.5
temperature_half_width_c = 2
reference_temperature_c = 20
tension_n = 60
reference_tension_n = 50
cross_section_mm2 = 2.6
elastic_modulus_gpa = 210
mass_kg_per_m = 0.018
hanging_spans_m = [30, 30]
join_half_width_m = 0.002
"#;

const TOML_WORDS: [&[u8]; 26] = [
    b"[",
    b"]",
    b"[[",
    b"]]",
    b"=",
    b"\n",
    b"\"",
    b"\"\"\"",
    b"'",
    b"{",
    b"}",
    b".",
    b"#",
    b"nan",
    b"inf",
    b"-inf",
    b"1e308",
    b"-1",
    b"0",
    b"9223372036854775807",
    b"true",
    b"[course]",
    b"[tape]",
    b"\\u0000",
    b"\\uD800",
    b"2026-05-01T00:00:00Z",
];

const TABLE_WORDS: [&[u8]; 24] = [
    b",",
    b"\n",
    b"\r\n",
    b"\"",
    b"\"\"",
    b"\xEF\xBB\xBF",
    b"board_s",
    b"utc",
    b"wheel",
    b"radar",
    b"pto",
    b"mark",
    b"start",
    b"finish",
    b"note",
    b"-1",
    b"4294967295",
    b"18446744073709551615",
    b"1e9",
    b"NaN",
    b"inf",
    b"2262-04-11T23:47:16.8Z",
    b"1677-09-21T00:12:44Z",
    b"2026-02-30",
];

const JSON_WORDS: [&[u8]; 18] = [
    b"{",
    b"}",
    b"[",
    b"]",
    b"\"",
    b":",
    b",",
    b"null",
    b"true",
    b"1e999",
    b"-0",
    b"18446744073709551616",
    b"\\ud800",
    b"\\u0000",
    b"\"id\":\"\"",
    b"\"version\":2",
    b"\"format\":\"trundle-record\"",
    b"[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[",
];

const REQUEST_WORDS: [&[u8]; 16] = [
    b"GET ",
    b"POST ",
    b"OPTIONS ",
    b"/join/",
    b"/mark",
    b"/../",
    b"%2f",
    b"host: 127.0.0.1:8080\n",
    b"host: localhost.example\n",
    b"origin: null\n",
    b"cookie: trundle-8080=\n",
    b"; trundle-8080=02020202020202020202020202020202",
    b"sec-fetch-site: cross-site\n",
    b"content-type: text/plain\n",
    b"content-length: 99999999999999999999\n",
    b"\n",
];

fn text(input: &[u8]) -> String {
    String::from_utf8_lossy(input).into_owned()
}

/// The course file, and its length worked out.
pub fn course() -> Attempt {
    let pool = vec![COURSE.as_bytes().to_vec(), FULL_COURSE.as_bytes().to_vec()];
    let mutator = Mutator::text(pool, &TOML_WORDS, LONGEST);
    Box::new(move |draws, input| {
        mutator.input(draws, input);
        texts::course(&text(input))
    })
}

/// The rig file: what is read is written as it was read.
pub fn rig() -> Attempt {
    let record = papers::kept("simulated-rtk");
    let small = to_toml(&record.rig).lines().take(8).fold(String::new(), |all, line| {
        if line.starts_with("[tractor") { all } else { all + line + "\n" }
    });
    let pool = vec![to_toml(&record.rig).into_bytes(), small.into_bytes()];
    let mutator = Mutator::text(pool, &TOML_WORDS, LONGEST);
    Box::new(move |draws, input| {
        mutator.input(draws, input);
        texts::rig(&text(input))
    })
}

/// A stored record, its identity mended half of the time.
pub fn record() -> Attempt {
    let mut pool = Vec::new();
    for name in ["simulated-rtk", "joined-real-receiver"] {
        let mut record = papers::kept(name);
        // One pass and no plan keep the text short; every kind of value stays.
        let held = record.work.take().unwrap();
        let mut work: serde_json::Value = serde_json::from_str(held.get()).unwrap();
        if let Some(passes) = work.get_mut("passes").and_then(|passes| passes.as_array_mut()) {
            passes.truncate(1);
        }
        record.work = Some(RawValue::from_string(work.to_string()).unwrap());
        pool.push(record.seal().to_json().into_bytes());
    }
    pool.push(visit::without_course(&papers::kept("simulated-rtk")).seal().to_json().into_bytes());
    let mutator = Mutator::text(pool, &JSON_WORDS, LONGEST);
    Box::new(move |draws, input| {
        mutator.input(draws, input);
        texts::record(&text(input), draws.below(2) == 0)
    })
}

/// The files of an import, one or more of them damaged.
pub fn import() -> Attempt {
    let [nmea, utc, board_s, marks] = recording();
    let sound = Inputs { nmea: &nmea, counts: &utc, marks: Some(&marks), course: Some(COURSE) };
    assert_eq!(to_records(&sound).err().map(|fault| fault.to_string()), None);
    let mut own = lines();
    own.truncate(40);
    let sentences = Mutator::text(vec![nmea, own.concat()], &TABLE_WORDS, LONGEST);
    let counts = Mutator::text(vec![utc, board_s], &TABLE_WORDS, LONGEST);
    let marks = Mutator::text(vec![marks], &TABLE_WORDS, LONGEST);
    let mut files = [Vec::new(), Vec::new(), Vec::new()];
    Box::new(move |draws, input| {
        let damaged = draws.below(8);
        for (at, (mutator, file)) in
            [&sentences, &counts, &marks].into_iter().zip(&mut files).enumerate()
        {
            if damaged & (1 << at) == 0 {
                file.clone_from(&mutator.pool[0]);
            } else {
                mutator.input(draws, file);
            }
        }
        *input = files.join(&b"\n---\n"[..]);
        let marks = (draws.below(4) > 0).then_some(files[2].as_slice());
        texts::import(&files[0], &files[1], marks)
    })
}

/// Requests to the live page.
pub fn request() -> Attempt {
    let looks = MARK.replace("POST /mark", "GET /now").replace("0202", "0101");
    let joins = MARK.replace("POST /mark", "GET /join/02020202020202020202020202020202");
    let station = FORM.replace("POST", "GET");
    let texts = [MARK.to_owned(), looks, joins, FORM.to_owned(), station];
    let pool = texts.map(String::into_bytes).to_vec();
    let mutator = Mutator::text(pool, &REQUEST_WORDS, LONGEST);
    Box::new(move |draws, input| {
        mutator.input(draws, input);
        requests::request(&text(input), draws.below(2) == 0, draws.below(8) == 0)
    })
}

/// Sentences, counts by UTC and by the board's clock, and marks, of one way.
fn recording() -> [Vec<u8>; 4] {
    let mut draws = Draws::new(5);
    let mut nmea = Vec::new();
    let mut utc = String::from("utc,wheel,radar,working\n");
    let mut board_s = String::from("board_s,wheel,pto\n");
    let mut marks = String::from("utc,mark,note\n");
    for second in 0..RECORDED_S {
        let minutes = 21.604 + f64::from(second) * 0.0016;
        let place = format!("47{minutes:07.4},N,02817.5000,W");
        let gga = format!("GNGGA,1200{second:02}.00,{place},4,12,0.7,31.7,M,58.2,M,,");
        let rmc = format!("GNRMC,1200{second:02}.00,A,{place},5.83,0.0,010526,,,R");
        nmea.extend(sentence_of(gga.as_bytes()));
        nmea.extend(sentence_of(rmc.as_bytes()));
        let time = format!("2026-05-01T12:00:{second:02}Z");
        // Across the end of 32 bits.
        let wheel = 4_294_966_000_u64.wrapping_add(u64::from(second) * 390) % (1 << 32);
        let jitter = draws.below(2);
        utc += &format!("{time},{wheel},{},{}\n", second as usize * 400 + jitter, second % 2);
        board_s += &format!("{second}.25,{wheel},{}\n", second * 9);
        if second % 3 == 1 {
            let mark = if second == 1 { "start" } else { "finish" };
            marks += &format!("{time},{mark},\"a \"\"b\"\", c\"\n");
        }
    }
    [nmea, utc.into_bytes(), board_s.into_bytes(), marks.into_bytes()]
}
