//! Records checked against their captures, and against each other.

use super::{CompareArgs, VerifyArgs};
use crate::commands::sign::work_again;
use crate::commands::work::replay;
use crate::shell::exit::{self, FLAGGED, OK, Trouble};
use crate::shell::out;
use crate::shell::progress::Progress;
use crate::store::register::{FROM_BACKUP, Register, Wanted};
use trundle_core::result::compare_v1;
use trundle_core::result::record_v1::RecordV1;
use trundle_core::result::records_v1::{DAMAGED, RecordRow};
use trundle_core::result::sign_off::{Verified, verify as verified};
use trundle_core::result::verify_v1::{self, VerifiedRecord};
use trundle_core::result::work_v1::WorkV1;
use trundle_show::text::{compare as compare_text, records as records_text};

/// The result inside a record.
///
/// # Errors
/// Exit code 5 when it cannot be read.
pub fn worked(record: &RecordV1) -> Result<WorkV1, Trouble> {
    record.worked().map_err(|fault| {
        let what = format!("Record {} is damaged: {fault}.", record.id);
        let means = "Its values cannot be shown.";
        Trouble::new(exit::INPUT, what, means, FROM_BACKUP)
    })
}

/// Recalculate captures and compare.
///
/// # Errors
/// The register's; what is wrong with a single record is part of the answer.
pub fn verify(register: &Register, args: &VerifyArgs) -> Result<u8, Trouble> {
    let wanted: Vec<(String, Option<String>)> = if args.all {
        // What may be any record is not looked up by a name that it may not have.
        let doubted = |row: RecordRow| (row.id, row.damage.filter(|_| row.state == DAMAGED));
        register.records(&Wanted::default())?.into_iter().map(doubted).collect()
    } else {
        args.ids.iter().map(|id| (id.clone(), None)).collect()
    };
    let complaints = if args.all { register.complaints()? } else { Vec::new() };
    let progress = Progress::start(wanted.len() as u64, "records");
    let mut verdicts = Vec::new();
    for (id, trouble) in wanted {
        verdicts.push(match trouble {
            None => one(register, &id),
            trouble => VerifiedRecord { id: out::scrub(&id, 40), found: None, trouble },
        });
        progress.step();
    }
    progress.end();
    let sound = complaints.is_empty() && verdicts.iter().all(VerifiedRecord::is_sound);
    out::say_either(
        args.json,
        || verify_v1::to_json(&verdicts, &complaints),
        || records_text::verdicts(&verdicts, &complaints),
    );
    let damaged = !complaints.is_empty() || verdicts.iter().any(|one| one.trouble.is_some());
    Ok(match (sound, damaged) {
        (true, _) => OK,
        (false, true) => exit::INPUT,
        (false, false) => FLAGGED,
    })
}

fn one(register: &Register, id: &str) -> VerifiedRecord {
    let again = || -> Result<(String, Verified), Trouble> {
        let record = register.whole_record(id)?;
        let session = replay(&register.capture_of(&record)?)?;
        let work = work_again(&session, &record.method, record.as_found)?;
        Ok((record.id.clone(), verified(&record, &work)))
    };
    match again() {
        Ok((id, found)) => VerifiedRecord { id, found: Some(found), trouble: None },
        Err(trouble) => {
            let trouble = Some(trouble.to_string().replace('\n', " "));
            VerifiedRecord { id: out::scrub(id, 40), found: None, trouble }
        }
    }
}

/// What is different between two records.
///
/// # Errors
/// Names (2), damage (5).
pub fn compare(register: &Register, args: &CompareArgs) -> Result<u8, Trouble> {
    let (first, second) = (register.record(&args.first)?, register.record(&args.second)?);
    let (before, after) = (worked(&first)?, worked(&second)?);
    let compared = compare_v1::compare((&first, &before), (&second, &after));
    out::say_either(
        args.json,
        || compare_v1::to_json(&compared),
        || compare_text::render(&compared),
    );
    Ok(OK)
}
