//! The computer's clock: off by hours or years it changes no value, and is said by the receiver's
//! time, in the result, in a record and on paper.

use trundle_core::capture::Entry;
use trundle_core::flags::{Code, Flag};
use trundle_core::result::record_v1::{CaptureV1, RecordV1};
use trundle_core::result::sign_off::{Said, Visit, sign_off};
use trundle_core::result::work_v1::WorkV1;
use trundle_core::session::Session;
use trundle_core::units::rfc3339;
use trundle_show::html::record::{self, PaperFacts};
use trundle_show::html::record_short;
use trundle_show::text::record as record_text;
use trundle_sim::Scenario;
use trundle_tests::{plain_course, replay, simulate, work_session};

const HOUR_NS: i64 = 3_600_000_000_000;
const DAY_NS: i64 = 24 * HOUR_NS;
/// Before the year in which there was anything to measure with.
const LONG_AGO: &str = "1970-01-01T00:05:00.000Z";

/// A job of four passes on a computer whose clock is `off_ns` ahead, and when it truly began.
fn job(off_ns: i64) -> (Session, i64) {
    let (mut records, truth) = simulate(&Scenario { passes: 4, ..Scenario::default() }, 7, None);
    for record in &mut records {
        if let Entry::Header(header) = &mut record.entry {
            header.started_utc = rfc3339(truth.start_utc_ns + off_ns);
            header.practice = false;
        }
    }
    (replay(&records), truth.start_utc_ns)
}

fn worked(session: &Session) -> WorkV1 {
    WorkV1::of(&work_session(session, Some(&plain_course(100.0))))
}

/// What is said of the clocks.
fn said(session: &Session) -> Option<String> {
    let work = work_session(session, Some(&plain_course(100.0)));
    let mut flags = work.all_flags().filter(|flag| flag.code == Code::ClocksDiffer);
    let said = flags.next().map(Flag::sentence);
    assert!(flags.next().is_none(), "said twice");
    said
}

#[test]
fn a_computers_clock_that_is_hours_or_years_off_is_said_and_changes_no_value() {
    let (sound, start_ns) = job(0);
    let value = |session: &Session| {
        let work = worked(session);
        (work.state.clone(), work.channels["wheel"].value_to_enter)
    };
    for off_ns in [0, 3 * 60_000_000_000, -3 * 60_000_000_000] {
        assert_eq!(said(&job(off_ns).0), None, "{off_ns} ns is no finding");
    }
    for (off_ns, words) in [
        (2 * HOUR_NS, "2 h 0 min ahead of the receiver's time"),
        (-5 * HOUR_NS, "5 h 0 min behind the receiver's time"),
        (-start_ns, "years behind the receiver's time"),
        (400 * DAY_NS, "400 days ahead of the receiver's time"),
    ] {
        let session = job(off_ns).0;
        let said = said(&session).unwrap_or_else(|| panic!("{words}: nothing said"));
        assert!(said.contains(words), "{said}");
        assert!(said.contains("the value does not use them"), "{said}");
        assert_eq!(value(&session), value(&sound), "{words}");
        assert!(worked(&session).to_json().contains("\"CLOCKS_DIFFER\""));
    }
}

#[test]
fn a_demonstration_has_its_day_from_its_scenario() {
    let (mut records, truth) = simulate(&Scenario { passes: 4, ..Scenario::default() }, 7, None);
    for record in &mut records {
        if let Entry::Header(header) = &mut record.entry {
            assert!(header.practice, "simulated");
            header.started_utc = rfc3339(truth.start_utc_ns + 200 * DAY_NS);
        }
    }
    assert_eq!(said(&replay(&records)), None);
}

#[test]
fn a_receiver_whose_weeks_rolled_over_proves_nothing_against_the_computer() {
    for (off_ns, more) in [(0, None), (-3 * HOUR_NS, Some("is 3 h 0 min behind"))] {
        let said = said(&job(1024 * 7 * DAY_NS + off_ns).0).unwrap();
        for words in ["rolled over (1024 weeks)", "else the computer's clock is"] {
            assert!(said.contains(words), "{said}");
        }
        assert_eq!(said.contains("time of day says"), more.is_some(), "{said}");
        assert!(more.is_none_or(|more| said.contains(more)), "{said}");
    }
}

fn signed(session: &Session, issued_utc: &str, newest_utc: Option<&str>) -> RecordV1 {
    let started_utc = session.header().unwrap().started_utc.clone();
    let (name, sha256) = ("job.capture".to_owned(), "0".repeat(64));
    let capture = CaptureV1 { name, sha256, bytes: 1, started_utc };
    let told = Said {
        issued_utc: issued_utc.to_owned(),
        channel: Some("wheel".to_owned()),
        accepted_because: Some("a test".to_owned()),
        newest_utc: newest_utc.map(str::to_owned),
        clocks: session.totals().receiver.clock,
        ..Said::default()
    };
    let work = worked(session);
    let visit = Visit { course: Some((&work, capture)), parts: Vec::new(), practice: true };
    sign_off(visit, told).unwrap()
}

/// A record signed off by a clock that cannot be right says so, in its text and on both papers.
#[test]
fn a_date_that_cannot_be_is_said_at_sign_off_and_stands_in_the_record() {
    let (sound, start_ns) = job(0);
    let later = rfc3339(start_ns + HOUR_NS);
    let next_day = rfc3339(start_ns + DAY_NS);
    let (behind, _) = job(-30 * DAY_NS);
    let early = rfc3339(start_ns - 30 * DAY_NS + HOUR_NS);
    for (session, issued, newest, words) in [
        (&sound, LONG_AGO, None, "before this program was made"),
        (&sound, LONG_AGO, None, "before the measurement began"),
        (&sound, &*later, Some(&*next_day), "another record was signed off later already"),
        (&behind, &*early, None, "before the measurement, by the receiver's time"),
        (&behind, &*next_day, None, "30 days behind the receiver's time"),
    ] {
        let record = signed(session, issued, newest);
        let clock = record.clock.clone().unwrap_or_else(|| panic!("{words}: nothing said"));
        assert!(clock.contains(words), "{clock}");
        let again = RecordV1::from_json(&record.to_json()).unwrap();
        assert_eq!(again.clock.as_ref(), Some(&clock));
        let (work, facts) = (record.worked().unwrap(), PaperFacts::default());
        let text = record_text::render(&record, work.as_ref(), &facts);
        assert!(text.contains("The date "), "{text}");
        let start = "may be wrong: ";
        for page in [record::page, record_short::page] {
            assert!(page(&record, work.as_ref(), &facts).contains(start), "{words}: not on paper");
        }
    }
    let record = signed(&sound, &later, Some(&rfc3339(start_ns)));
    assert_eq!(record.clock, None);
    assert!(!record.to_json().contains("\"clock\":\""), "{}", record.to_json());
}
