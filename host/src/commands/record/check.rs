//! Records checked against their captures, and against each other.

use super::{CompareArgs, VerifyArgs};
use crate::commands::parts::replay_for;
use crate::commands::sign::course::work_again;
use crate::commands::work::replay;
use crate::shell::exit::{self, FLAGGED, OK, Trouble};
use crate::shell::progress::Progress;
use crate::shell::{cores, out};
use crate::store::place::DataFolder;
use crate::store::register::{FROM_BACKUP, Register, Wanted};
use trundle_core::result::compare_v1;
use trundle_core::result::part_of::{PartVerified, verify_part};
use trundle_core::result::part_v1::PartV1;
use trundle_core::result::record_v1::RecordV1;
use trundle_core::result::records_v1::{DAMAGED, RecordRow};
use trundle_core::result::sign_off::{Verified, verify as verified};
use trundle_core::result::verify_v1::{self, VerifiedPart, VerifiedRecord};
use trundle_core::result::work_v1::WorkV1;
use trundle_show::text::{compare as compare_text, records as records_text};

/// The result of a record's course.
///
/// # Errors
/// Exit code 5 when it cannot be read.
pub fn worked(record: &RecordV1) -> Result<Option<WorkV1>, Trouble> {
    record.worked().map_err(|fault| {
        let what = format!("Record {} is damaged: {fault}.", record.id);
        let means = "Its values cannot be shown.";
        Trouble::new(exit::INPUT, what, means, FROM_BACKUP)
    })
}

/// Recalculate captures and compare, on all processors.
///
/// # Errors
/// Names (2), the register's; what is wrong with a single record is part of the answer.
pub fn verify(place: &DataFolder, args: &VerifyArgs) -> Result<u8, Trouble> {
    let register = Register::read(place)?;
    let wanted: Vec<(String, Option<String>)> = if args.all {
        // What may be any record is not looked up by a name that it may not have.
        let doubted = |row: RecordRow| (row.id, row.damage.filter(|_| row.state == DAMAGED));
        register.records(&Wanted::default())?.into_iter().map(doubted).collect()
    } else {
        args.ids.iter().map(|id| (id.clone(), None)).collect()
    };
    let complaints = if args.all { register.complaints()? } else { Vec::new() };
    let progress = Progress::start(wanted.len() as u64, "records");
    let verdict = |register: &Register, (id, trouble): &(String, Option<String>)| {
        Ok(match trouble {
            None => match one(register, id) {
                // A name that names no record says nothing of any record.
                Err(trouble) if trouble.code == exit::USAGE && !args.all => return Err(trouble),
                Err(trouble) => unread(id, in_words(trouble)),
                Ok(verdict) => verdict,
            },
            Some(trouble) => unread(id, trouble.clone()),
        })
    };
    // Each thread looks things up by a connection of its own.
    let verdicts = cores::each(&wanted, &progress, || Register::read(place), verdict);
    progress.end();
    let verdicts = verdicts?;
    let sound = complaints.is_empty() && verdicts.iter().all(VerifiedRecord::is_sound);
    out::say_either(
        args.json,
        || verify_v1::to_json(&verdicts, &complaints),
        || records_text::verdicts(&verdicts, &complaints),
    );
    let damaged = !complaints.is_empty() || verdicts.iter().any(VerifiedRecord::is_damaged);
    Ok(match (sound, damaged) {
        (true, _) => OK,
        (false, true) => exit::INPUT,
        (false, false) => FLAGGED,
    })
}

/// A record that could not be read, and why.
fn unread(id: &str, trouble: String) -> VerifiedRecord {
    let (id, trouble) = (out::scrub(id, 40), Some(trouble));
    VerifiedRecord { id, trouble, ..VerifiedRecord::default() }
}

fn in_words(trouble: Trouble) -> String {
    trouble.to_string().replace('\n', " ")
}

fn one(register: &Register, id: &str) -> Result<VerifiedRecord, Trouble> {
    let record = register.whole_record(id)?;
    let course = of_course(register, &record).map_err(in_words);
    let part = |part: &PartV1| VerifiedPart {
        word: part.method.word(),
        found: of_part(register, &record, part).map_err(in_words),
    };
    let parts = record.parts.iter().map(part).collect();
    let trouble = course.as_ref().err().cloned();
    Ok(VerifiedRecord { id: record.id.clone(), found: course.ok().flatten(), trouble, parts })
}

fn of_course(register: &Register, record: &RecordV1) -> Result<Option<Verified>, Trouble> {
    let (Some(course), Some(capture)) = (record.course(), register.capture_of(record)?) else {
        return Ok(None);
    };
    let work = work_again(&replay(&capture)?, course.method, record.as_found)?;
    Ok(Some(verified(record, course, &work)))
}

fn of_part(register: &Register, record: &RecordV1, part: &PartV1) -> Result<PartVerified, Trouble> {
    let capture = register.capture_of_part(record, part)?;
    let session = replay_for(&capture, part.method.word())?;
    verify_part(part, &session, &record.software).map_err(|fault| {
        let what = format!("Record {} is damaged: {fault}.", record.id);
        Trouble::new(exit::INPUT, what, "Its values cannot be compared.", FROM_BACKUP)
    })
}

/// What is different between two records.
///
/// # Errors
/// Names (2), damage (5).
pub fn compare(register: &Register, args: &CompareArgs) -> Result<u8, Trouble> {
    let (first, second) = (register.record(&args.first)?, register.record(&args.second)?);
    let (before, after) = (worked(&first)?, worked(&second)?);
    let compared = compare_v1::compare((&first, before.as_ref()), (&second, after.as_ref()));
    out::say_either(
        args.json,
        || compare_v1::to_json(&compared),
        || compare_text::render(&compared),
    );
    Ok(OK)
}
