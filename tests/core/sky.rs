//! The sky: satellites used and in view, signal, dilution, and two receivers on one line.
//!
//! Outside: sentences quoted by gpsd's "NMEA Revealed" in the documentation of the crate `nmea`
//! 0.8 (GSV of eleven satellites, GSA of four), and a recording of a real receiver whose GGA
//! counts the same satellites as its GSA (`tests/data/receivers/SOURCE.md`, number 29).

use trundle_core::capture::{Entry, PortRole, Record};
use trundle_core::figure::Work;
use trundle_core::flags::Code;
use trundle_core::result::work_v1::WorkV1;
use trundle_core::survey::sensors::check::{Mark, check};
use trundle_core::wire::receiver::{ReceiverEvent, ReceiverReader};
use trundle_core::wire::sky::Sky;
use trundle_sim::{Scenario, Sentence};
use trundle_tests::{replay, replay_with_trail, simulate, work_session};

const MS: u64 = 1_000_000;

fn line(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}\r\n")
}

fn sky_of(text: &str) -> Sky {
    let mut reader = ReceiverReader::default();
    reader.push(text.as_bytes(), 0, |_| ());
    reader.flush(|_| ());
    reader.totals().sky.last.unwrap()
}

#[test]
fn printed_sentences_give_the_satellites_they_name() {
    let sky = sky_of(
        "$GPGSV,3,1,11,03,03,111,00,04,15,270,00,06,01,010,00,13,06,292,00*74\r\n\
         $GPGSV,3,2,11,14,25,170,00,16,57,208,39,18,67,296,40,19,40,246,00*74\r\n\
         $GPGSV,3,3,11,22,42,067,42,24,14,311,43,27,05,244,00,,,,*4D\r\n\
         $GPGSA,A,3,,,,,,16,18,,22,24,,,3.6,2.1,2.2*3C\r\n",
    );
    // 39, 40, 42 and 43 dB-Hz are received: the upper of the two in the middle.
    let found = (sky.used, sky.in_view, sky.signal_db_hz, sky.pdop, sky.hdop);
    assert_eq!(found, (Some(4), Some(11), Some(42.0), Some(3.6), Some(2.1)));
}

#[test]
fn a_real_receiver_of_several_systems_and_bands() {
    let path = trundle_tests::folder().join("data/receivers/receiver-29.nmea");
    let text = std::fs::read_to_string(path).unwrap();
    let first: String = text.split_inclusive('\n').take(16).collect();
    assert!(first.contains("GNGGA") && first.contains(",1,14,0.9,"), "GGA: 14 satellites");
    let sky = sky_of(&first);
    assert_eq!((sky.used, sky.in_view, sky.hdop), (Some(14), Some(12 + 5 + 4), Some(0.9)));
}

#[test]
fn a_round_is_read_every_twenty_seconds_and_grows_old() {
    let mut reader = ReceiverReader::default();
    let gsa = |n: u64| line(&format!("GPGSA,A,3,01,02,03,04,05,,,,,,,,2.0,{}.5,1.0", n / 200));
    for n in 0..350 {
        reader.push(gsa(n).as_bytes(), n * 100 * MS, |_| ());
        // Twelve sentences are of the first round, the next round begins with the two hundredth.
        let expected = if n < 12 { None } else { Some((n - 12) / 200) };
        let hdop = reader.sky(n * 100 * MS).and_then(|sky| sky.hdop);
        assert_eq!(hdop, expected.map(|round| round as f32 + 0.5), "{n}");
    }
    assert_eq!(reader.sky(44_000 * MS).unwrap().hdop, Some(1.5));
    assert_eq!(reader.sky(46_000 * MS), None);
    reader.flush(|_| ());
    assert!(reader.totals().sky.in_view.mean().is_none(), "no GSV, nothing in view");
}

/// A receiver that sends RMC and GSA alone.
#[test]
fn the_gate_knows_the_sky_of_a_receiver_without_gga() {
    let accepted = |hdop: &str| {
        let mut reader = ReceiverReader::default();
        let mut fixes = 0;
        for n in 0..40_u64 {
            let place = "4721.6040,N,02817.5000,W,0.00,90.0,010626,,,A";
            let rmc = line(&format!("GPRMC,1200{n:02}.00,A,{place}"));
            let gsa = line(&format!("GPGSA,A,3,01,02,03,04,05,,,,,,,,9.0,{hdop},1.0"));
            reader.push((rmc + &gsa).as_bytes(), n * 1000 * MS, |event| {
                fixes += u32::from(matches!(event, ReceiverEvent::Fix { .. }));
            });
        }
        (fixes, reader.totals().sky.used.mean())
    };
    assert_eq!(accepted("1.2"), (39, Some(5.0)));
    let (fixes, _) = accepted("45.0");
    assert!(fixes <= 3, "{fixes}: only before the first round was read");
}

/// Every line of the receiver twice, as of two that send the same.
fn doubled(records: &[Record]) -> Vec<Record> {
    let mut rest = Vec::new();
    let mut twice = |record: &Record| match &record.entry {
        Entry::Bytes(PortRole::Receiver, bytes) => {
            rest.extend_from_slice(bytes);
            let end = rest.iter().rposition(|&byte| byte == b'\n').map_or(0, |at| at + 1);
            let lines: Vec<u8> = rest.drain(..end).collect();
            let both: Vec<&[u8]> =
                lines.split_inclusive(|&byte| byte == b'\n').flat_map(|l| [l, l]).collect();
            let entry = Entry::Bytes(PortRole::Receiver, both.concat());
            Record { host_ns: record.host_ns, entry }
        }
        _ => record.clone(),
    };
    records.iter().map(&mut twice).collect()
}

fn receiver_line(records: &[Record]) -> (Mark, String) {
    let session = replay_with_trail(records, 0);
    let check = check(&session.trail().unwrap(), &session.totals(), session.ended());
    let line = check.lines.iter().find(|line| line.key == "receiver").unwrap();
    (line.mark, line.what.clone())
}

#[test]
fn check_and_result_state_the_sky_and_two_receivers_on_one_line() {
    let mut scenario = Scenario::default();
    scenario.receiver.slow_sentences = vec![Sentence::Gsa, Sentence::Gsv, Sentence::Zda];
    let (records, _) = simulate(&scenario, 9, None);
    let work = |records: &[Record]| -> Work { work_session(&replay(records), None) };
    let flagged = |work: &Work| work.all_flags().any(|flag| flag.code == Code::TwoReceivers);
    let one = work(&records);
    assert!(!flagged(&one));
    let sky = WorkV1::of(&one).sky.unwrap();
    // As the simulator prints it: eight satellites and four, whose signals stay the same.
    assert_eq!(sky.satellites_in_view.unwrap().mean, 12.0);
    assert_eq!(sky.signal_db_hz.unwrap().least, sky.signal_db_hz.unwrap().most);
    assert!(sky.satellites_used.unwrap().least > 3.0 && sky.hdop.unwrap().most < 3.0, "{sky:?}");
    let words = trundle_show::text::work::render(&WorkV1::of(&one));
    assert!(words.contains("Satellites, on average:") && words.contains("dB-Hz"), "{words}");
    let (mark, what) = receiver_line(&records);
    assert!(mark == Mark::Pass && what.contains("satellites in view used"), "{what}");
    let two = doubled(&records);
    assert!(flagged(&work(&two)));
    let (mark, what) = receiver_line(&two);
    assert!(mark == Mark::Fail && what.contains("two receivers"), "{what}");
}
