//! Real recordings of wheel counts beside satellite fixes, by the mapping van of the Penn State
//! IVSG (repository ivsg-psu/FieldDataCollection_DataCollectionProcedures_TimeClean, commit
//! 259f296, MIT licence), made into plain files. `TRUNDLE_ROAD` names their folder; without it
//! there is nothing to check.

use std::path::PathBuf;
use std::process::Command;
use trundle_core::flags::Code;
use trundle_core::import::{ImportSummary, Inputs, to_records};
use trundle_tests::{replay, work_session};

/// A file of a job, unpacked; `None` where the folder is not there.
fn file(job: &str, name: &str) -> Option<Vec<u8>> {
    let Some(folder) = std::env::var_os("TRUNDLE_ROAD") else {
        println!(
            "not checked: TRUNDLE_ROAD names no folder; the head of this file says where from"
        );
        return None;
    };
    let path = PathBuf::from(folder).join(job).join(format!("{name}.gz"));
    let unpacked = Command::new("gzip").arg("-dc").arg(&path).output().expect("gzip runs");
    assert!(unpacked.status.success(), "{}: {unpacked:?}", path.display());
    Some(unpacked.stdout)
}

/// The flags of a job's result, in sentences, and what the import said.
fn worked(job: &str, counts: &str) -> Option<(Vec<(Code, String)>, ImportSummary)> {
    let (nmea, counts) = (file(job, "receiver.nmea")?, file(job, counts)?);
    let marks = file(job, "marks.csv")?;
    let inputs = Inputs { nmea: &nmea, counts: &counts, marks: Some(&marks), course: None };
    let (records, summary) = to_records(&inputs).expect("it can be imported");
    let work = work_session(&replay(&records), None);
    let flags = work.all_flags().map(|flag| (flag.code, flag.sentence())).collect();
    println!("{job}: {:?} {:?} {flags:#?}", summary.joined(), summary.bad_lines());
    Some((flags, summary))
}

#[test]
fn one_garbled_line_of_counts_costs_that_line_only() {
    let Some((flags, summary)) = worked("garbled-line", "counts.csv") else { return };
    // The one line that holds 0 in the middle of the run, found with a text tool.
    let lines: Vec<usize> = summary.bad.iter().map(|bad| bad.line).collect();
    assert_eq!(lines, [5926], "{:?}", summary.bad_lines());
    assert!(flags.iter().any(|flag| flag.0 == Code::BadImportLine), "{flags:?}");
    let reset = [Code::BoardReset, Code::CountWentBack];
    assert!(!flags.iter().any(|flag| reset.contains(&flag.0)), "{flags:?}");
}

#[test]
fn counts_that_waver_at_standstill_are_no_restart() {
    let Some((flags, summary)) = worked("curved-course", "counts.csv") else { return };
    assert_eq!(summary.bad.len(), 0, "{:?}", summary.bad_lines());
    assert!(!summary.remarks.iter().any(|r| r.contains("goes down")), "{:?}", summary.remarks);
    let reset = [Code::BoardReset, Code::CountWentBack];
    assert!(!flags.iter().any(|flag| reset.contains(&flag.0)), "{flags:?}");
}
