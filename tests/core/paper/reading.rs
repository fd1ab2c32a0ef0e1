//! The reader's own time and units beside those of the record.

use super::{printed, record_html, record_short_html, seen};
use trundle_show::html::record::PaperFacts;
use trundle_show::reading::{PressureUnit, Reading, Zone};

#[test]
fn own_time_and_the_gauge_stand_beside_what_is_stored() {
    let one = printed("plain");
    let reading = Reading {
        pressure: PressureUnit::Psi,
        zone: Zone::Local(|_| Some(7200)),
        ..Reading::default()
    };
    let facts = PaperFacts { reading: Some(reading), ..one.sample.facts.clone() };
    let (record, course) = (&one.sample.record, one.course.as_ref());
    let long = seen(&record_html::page(record, course, &facts));
    let short = seen(&record_short_html::page(record, course, &facts));
    // 118 kPa are 17.1 psi and 120 kPa 17.4 psi, with 6.894757 kPa (NIST SP 811, B.8, from memory).
    for words in [
        "Issued2026-05-01 09:12:30 UTC (2026-05-01 11:12 local time)",
        "UTC (2026-05-01 10:0",
        "118 kPa (17.1 psi)",
        "120 kPa (17.4 psi)",
    ] {
        assert!(long.contains(words), "{words}: {long}");
    }
    for words in ["2026-05-01 11:12 local time (09:12 UTC)", "118 kPa (17.1 psi)"] {
        assert!(short.contains(words), "{words}: {short}");
    }
    // Nobody asked: only what is stored.
    assert!(!seen(&one.long).contains("local time") && !seen(&one.short).contains("psi"));
}
