//! Readers of whole texts: courses, rigs, stored records, tables and sentences to be imported.

use trundle_core::capture::{BODY_MAX, encode};
use trundle_core::course::file::parse;
use trundle_core::course::tape::course_length;
use trundle_core::import::{Inputs, to_records};
use trundle_core::result::record_v1::{RecordFault, RecordV1};
use trundle_core::rig::{from_toml, to_toml};
use trundle_core::stats::budget::Sources;

/// What an import may add to its inputs, bytes: header, note, and 19 bytes a line.
const IMPORT_EXTRA: usize = 8 * 1024;

/// A sound course.
pub const COURSE: &str = "[course]\nnominal_m = 100.0\n[tape]\nclass = \"II\"\n";

/// The course file, and its length worked out.
#[must_use]
pub fn course(text: &str) -> bool {
    match parse(text) {
        Ok(file) => {
            assert!(file.unknown.len() <= text.lines().count(), "{:?}", file.unknown);
            course_length(&file.spec, &mut Sources::default()).is_ok()
        }
        // The fault shows the line in question twice at most.
        Err(fault) => {
            assert!(fault.to_string().len() <= 4 * text.len() + 1000);
            false
        }
    }
}

/// The rig file: what is read is written as it was read.
#[must_use]
pub fn rig(text: &str) -> bool {
    let Ok(rig) = from_toml(text) else { return false };
    let again = from_toml(&to_toml(&rig));
    assert_eq!(again.as_ref(), Ok(&rig));
    true
}

/// A stored record, its identity mended first if that is all that is wrong.
#[must_use]
pub fn record(text: &str, mend: bool) -> bool {
    let mended = match RecordV1::from_json(text) {
        Ok(record) => Some(record),
        Err(RecordFault::Changed { found, expected }) if mend => {
            RecordV1::from_json(&text.replacen(&found, &expected, 1)).ok()
        }
        Err(fault) => {
            assert!(fault.to_string().len() <= 4 * text.len() + 1000);
            None
        }
    };
    let Some(record) = mended else { return false };
    assert_eq!(record.identity(), record.id);
    let worked = record.worked().is_ok();
    let again = RecordV1::from_json(&record.to_json()).map(|again| again.id);
    assert_eq!(again, Ok(record.id));
    worked
}

/// The files of an import, with a sound course.
#[must_use]
pub fn import(nmea: &[u8], counts: &[u8], marks: Option<&[u8]>) -> bool {
    let length = nmea.len() + counts.len() + marks.map_or(0, <[u8]>::len);
    let input = || nmea.iter().chain(counts).chain(marks.unwrap_or_default());
    let inputs = Inputs { nmea, counts, marks, course: Some(COURSE) };
    match to_records(&inputs) {
        Ok((records, _)) => {
            let mut bytes = Vec::new();
            records.iter().for_each(|record| encode(record, &mut bytes));
            let lines = input().filter(|byte| matches!(byte, b'\n' | b'\r')).count();
            let most = length + 19 * lines + IMPORT_EXTRA + BODY_MAX;
            assert!(bytes.len() <= most, "{} bytes of {}", bytes.len(), length);
            assert!(records.is_sorted_by_key(|record| record.host_ns));
            true
        }
        Err(fault) => {
            assert!(!fault.means().is_empty() && !fault.next().is_empty());
            let what = fault.to_string();
            assert!(what.len() <= 4 * length + 1000, "{what}");
            false
        }
    }
}
