//! Backup, restore, bin and verifying, as a browser asks for them.

use crate::stations::trial::{Trial, capture, form};
use crate::store::place::DataFolder;
use crate::store::register::Register;
use crate::web::stations::Reply;
use trundle_show::words::records as words;

fn page(reply: Reply, wanted: u16) -> String {
    match reply {
        Reply::Page(status, page) if status == wanted => page,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_backup_is_written_handed_out_looked_into_and_restored_beside() {
    let trial = Trial::begin();
    trial.run(&["tape", "add", "--", "Tape of the backup"]);
    let folder = trial.house.place.folder().join("elsewhere");
    let file = folder.join("a backup.db");
    std::fs::create_dir_all(&folder).unwrap();
    let _ = std::fs::remove_file(&file);
    let file = file.display().to_string();
    let sent = form(&trial.page("/backup"), words::BACKUP_WRITE, &[("file", &file)]);
    let Reply::See(path) = trial.act("/backup", &sent) else { panic!("not written") };
    assert!(trial.page(&path).contains("Backed up into"));
    // Another form for the same file: a backup never overwrites.
    let sent = form(&trial.page("/backup"), words::BACKUP_WRITE, &[("file", &file)]);
    assert!(page(trial.act("/backup", &sent), 422).contains("exists."));
    let Reply::File { bytes, .. } = trial.look("/backup/download") else { panic!("no file") };
    assert!(bytes.starts_with(b"SQLite format 3"));

    let to = folder.join("restored").join("here");
    let to = to.display().to_string();
    let _ = std::fs::remove_dir_all(&to);
    let typed = [("file", &*file), ("folder", &*to)];
    let sent = form(&trial.page("/restore"), words::RESTORE_LOOK, &typed);
    let shown = page(trial.act("/restore", &sent), 200);
    assert!(shown.contains("The backup holds") && !std::path::Path::new(&to).exists());
    let sure = form(&shown, words::RESTORE_NOW, &[]);
    let Reply::See(_) = trial.act("/restore", &sure) else { panic!("not restored") };
    let place = DataFolder::at(std::path::Path::new(&to));
    let tape = trundle_core::rig::Thing::Tape;
    assert!(Register::read(&place).unwrap().get(tape, "Tape of the backup").is_ok());
    // Into the folder in use, which holds a register: refused in the command's words.
    let sent = form(&trial.page("/restore"), words::RESTORE_LOOK, &[("file", &file)]);
    let shown = page(trial.act("/restore", &sent), 200);
    let sure = form(&shown, words::RESTORE_NOW, &[]);
    assert!(page(trial.act("/restore", &sure), 422).contains("holds a register already"));
}

#[test]
fn the_bin_is_emptied_only_of_what_was_seen_and_gives_back() {
    let trial = Trial::begin();
    let hostile = "<script>x</script> & \"tape\"";
    trial.run(&["tape", "add", "--", hostile]);
    trial.run(&["tape", "remove", "--", hostile]);
    let bin = trial.page("/bin");
    assert!(!bin.contains("<script>x"), "{bin}");
    let button = "Bring back the tape &quot;&lt;script&gt;x&lt;/script&gt; &amp; &quot;tape&quot;";
    let button = bin.lines().flat_map(|line| line.split('>')).find(|text| text.starts_with(button));
    let button = button.map(|text| text.trim_end_matches("</button")).unwrap().to_owned();
    let back = form(&bin, &button, &[]);
    assert!(matches!(trial.act("/bin/back", &back), Reply::See(_)));
    let tape = trundle_core::rig::Thing::Tape;
    let there = |name: &str| Register::read(&trial.house.place).unwrap().get(tape, name).is_ok();
    assert!(there(hostile));
    assert!(matches!(trial.act("/bin/back", &back), Reply::See(_)), "sent twice");

    trial.run(&["tape", "remove", "--", hostile]);
    let sent = form(&trial.page("/bin"), words::EMPTY, &[]);
    let shown = page(trial.act("/bin", &sent), 200);
    assert!(shown.contains("would be deleted"), "{shown}");
    trial.run(&["tape", "add", "--", "another one"]);
    trial.run(&["tape", "remove", "--", "another one"]);
    let sure = form(&shown, words::EMPTY_NOW, &[]);
    let shown = page(trial.act("/bin", &sure), 409);
    assert!(shown.contains("another one"), "{shown}");
    let sure = form(&shown, words::EMPTY_NOW, &[]);
    assert!(matches!(trial.act("/bin", &sure), Reply::See(_)));
    assert!(Register::read(&trial.house.place).unwrap().bin().unwrap().is_empty());
}

#[test]
fn records_are_verified_beside_everything_else() {
    let trial = Trial::begin();
    let there = Register::read(&trial.house.place).unwrap().rig(Some("Rig to verify")).is_ok();
    if !there {
        trial.run(&["rig", "add", "--", "Rig to verify"]);
    }
    trial.run(&["sign", "--rig=Rig to verify", "--remark=verified", "--", &capture()]);
    let sent = form(&trial.page("/verify"), words::VERIFY_NOW, &[]);
    assert!(matches!(trial.act("/verify", &sent), Reply::See(_)));
    assert!(matches!(trial.act("/verify", &sent), Reply::See(_)), "sent twice it is begun once");
    while trial.house.long.state().now.is_some() {
        assert!(trial.page("/verify").contains(words::VERIFY_ALL));
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    let done = trial.page("/verify");
    assert!(done.contains(words::ALL_HOLD) && done.contains("the same bytes"), "{done}");
}

#[test]
fn recordings_made_elsewhere_become_a_capture_of_the_job_or_are_refused() {
    let trial = Trial::begin();
    let sent = form(&trial.page("/import"), words::IMPORT_NOW, &[("nmea", "/not/there")]);
    let shown = page(trial.act("/import", &sent), 422);
    assert!(shown.contains("/not/there"), "what was typed is kept: {shown}");
}
