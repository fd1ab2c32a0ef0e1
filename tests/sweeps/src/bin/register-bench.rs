//! How long lists and searches take among 10,000 records: `register-bench TRUNDLE CAPTURE`.
//!
//! One record is signed off by the program; the others are its copies with other remarks, each
//! with the identity that its content asks for. Prints the median time of whole programs and its
//! ratio to the limit of 100 ms.
#![allow(clippy::print_stdout, clippy::print_stderr, clippy::unwrap_used)]

use std::process::{Command, ExitCode};
use std::time::Instant;
use trundle::store::place::DataFolder;
use trundle::store::register::{Register, Wanted, insert};
use trundle_core::result::record_v1::RecordV1;

/// Records in the register.
const RECORDS: usize = 10_000;
/// Times that each question is asked.
const ASKED: usize = 11;
/// What a question may take, seconds.
const LIMIT_S: f64 = 0.1;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().collect();
    let [_, trundle, capture] = args.as_slice() else {
        eprintln!("register-bench TRUNDLE CAPTURE");
        return ExitCode::from(2);
    };
    let folder = tempfile::tempdir().unwrap();
    let place = DataFolder::at(&folder.path().join("data"));
    let ask = |question: &[&str]| {
        let mut command = Command::new(trundle);
        command.arg("--data").arg(place.folder()).args(question).output().unwrap()
    };
    assert!(ask(&["rig", "add", "Rig of the bench"]).status.success());
    assert!(ask(&["sign", capture]).status.success());
    fill(&place);
    for question in [
        &["record", "list"][..],
        &["record", "list", "remark 7345"],
        &["record", "list", "bench", "9999"],
        &["record", "list", "nowhere to be found"],
        &["record", "list", "--rig", "rig of the bench"],
        &["record", "list", "--all", "--json"],
    ] {
        let mut times: Vec<f64> = (0..ASKED)
            .map(|_| {
                let began = Instant::now();
                let end = ask(question);
                assert!(end.status.success(), "{}", String::from_utf8_lossy(&end.stderr));
                began.elapsed().as_secs_f64()
            })
            .collect();
        times.sort_by(f64::total_cmp);
        let median_s = times[ASKED / 2];
        println!(
            "{:45} {:6.1} ms, {:.2} of the limit",
            question.join(" "),
            median_s * 1e3,
            median_s / LIMIT_S
        );
    }
    ExitCode::SUCCESS
}

/// Copies of the one record, all in one transaction.
fn fill(place: &DataFolder) {
    let register = Register::read(place).unwrap();
    let id = register.records(&Wanted::default()).unwrap()[0].id.clone();
    let first = register.record(&id).unwrap();
    drop(register);
    let db = rusqlite::Connection::open(place.register()).unwrap();
    let rig = db.query_row("SELECT rig FROM record", [], |row| row.get(0)).unwrap();
    db.execute_batch("BEGIN").unwrap();
    for number in 1..RECORDS {
        let remark = Some(format!("remark {number}"));
        insert(&db, &RecordV1 { remark, ..first.clone() }.seal(), rig, None).unwrap();
    }
    db.execute_batch("COMMIT").unwrap();
}
