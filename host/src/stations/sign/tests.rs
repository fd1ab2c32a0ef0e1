//! Signing off, amending and what there is of records afterwards, as a browser asks for it.

use crate::stations::trial::{Trial, capture, form};
use crate::store::register::{Register, insert};
use crate::web::stations::Reply;
use trundle_core::result::record_v1::RecordV1;
use trundle_show::words::records as words;

const HOSTILE: &str = "\"><script>x</script>\u{202e}=cmd|'/c'!A1";

fn records(trial: &Trial) -> usize {
    Register::read(&trial.house.place).unwrap().record_count().unwrap()
}

/// A rig to sign off for; it is there once, whichever test comes first.
fn rig(trial: &Trial, name: &str) {
    let there = Register::read(&trial.house.place).unwrap().rig(Some(name)).is_ok();
    if !there {
        trial.run(&["rig", "add", "--", name]);
    }
}

fn page(reply: Reply, wanted: u16) -> String {
    match reply {
        Reply::Page(status, page) if status == wanted => page,
        other => panic!("{other:?}"),
    }
}

fn see(reply: Reply) -> String {
    match reply {
        Reply::See(path) => path,
        other => panic!("{other:?}"),
    }
}

/// Sign off; gives the path of the record.
fn signed(trial: &Trial, rig: &str, remark: &str) -> String {
    let typed = [("other-capture", &*capture()), ("rig", rig), ("remark", remark)];
    let sent = form(&trial.page("/sign"), words::SHOW_RECORD, &typed);
    let shown = page(trial.act("/sign", &sent), 200);
    let path = see(trial.act("/sign", &form(&shown, words::SIGN_NOW, &[])));
    path.split('?').next().unwrap().to_owned()
}

#[test]
fn a_visit_is_shown_and_then_signed_off_once() {
    let mut trial = Trial::begin();
    rig(&trial, "Rig & <b>one</b>");
    let before = records(&trial);
    let capture = capture();
    let typed = [
        ("other-capture", &*capture),
        ("rig", "Rig & <b>one</b>"),
        ("as-found", "13000"),
        ("remark", "looked at twice"),
        ("gear", "C2"),
    ];
    let sent = form(&trial.page("/sign"), words::SHOW_RECORD, &typed);
    let shown = page(trial.act("/sign", &sent), 200);
    assert!(shown.contains("impulses per 100 m were signed off"), "{shown}");
    assert!(shown.contains("looked at twice") && !shown.contains("<b>one"), "{shown}");
    assert!(!shown.contains("--dry-run"), "{shown}");
    assert_eq!(records(&trial), before, "it was only shown");

    // A page of a program that has ended: shown again, and nothing typed is lost.
    let sure = form(&shown, words::SIGN_NOW, &[]);
    trial.again();
    let shown = page(trial.act("/sign", &sure), 409);
    assert!(shown.contains("older than the program") && shown.contains("looked at twice"));
    assert_eq!(records(&trial), before);

    // Two devices: what the second one was shown is no longer all that there is.
    let first = form(&shown, words::SIGN_NOW, &[]);
    let second = form(&page(trial.act("/sign", &sent), 200), words::SIGN_NOW, &[]);
    let path = see(trial.act("/sign", &first));
    assert!(path.starts_with("/records/"), "{path}");
    assert_eq!(see(trial.act("/sign", &first)), path, "sent twice it is done once");
    let late = page(trial.act("/sign", &second), 409);
    assert!(late.contains(words::MEANWHILE[0]) && late.contains("looked at twice"), "{late}");
    assert_eq!(records(&trial), before + 1);

    let page = trial.page(&path);
    assert!(page.contains("Signed off as record") && page.contains("looked at twice"), "{page}");
}

#[test]
fn what_the_command_refuses_is_refused_beside_its_field_and_kept() {
    let trial = Trial::begin();
    rig(&trial, "Rig of refusals");
    let before = records(&trial);
    let capture = capture();
    let long = "<i>".repeat(3500);
    for (name, typed) in [
        ("as-found", "many"),
        ("as-left", HOSTILE),
        ("temperature", "-400 \u{b0}C"),
        ("four-wheel-drive", HOSTILE),
        ("location", &*long),
        ("remark", &*long),
        ("other-capture", HOSTILE),
        ("rig", HOSTILE),
        ("stated", HOSTILE),
    ] {
        let typed = [("other-capture", &*capture), ("rig", "Rig of refusals"), (name, typed)];
        let sent = form(&trial.page("/sign"), words::SHOW_RECORD, &typed);
        let shown = page(trial.act("/sign", &sent), 422);
        assert!(!shown.contains("<script>x") && !shown.contains("<i>"), "{name}: {shown}");
        let back = form(&shown, words::SHOW_RECORD, &[]);
        let kept = back.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str());
        assert_eq!(kept, Some(typed[2].1), "{name}");
        let beside = shown.contains("aria-invalid=\"true\"") || shown.contains("role=\"alert\"");
        assert!(beside, "{name}: {shown}");
    }
    assert_eq!(records(&trial), before);
}

#[test]
fn a_record_is_amended_printed_handed_out_compared_and_found() {
    let trial = Trial::begin();
    rig(&trial, "Rig to amend");
    let path = signed(&trial, "Rig to amend", "\u{fc}ber <u>all</u>");
    let id = path.strip_prefix("/records/").unwrap();

    let amend = format!("/amend/{id}");
    let empty = form(&trial.page(&amend), words::SHOW_RECORD, &[]);
    assert!(page(trial.act(&amend, &empty), 422).contains("aria-invalid"), "a reason is needed");
    let typed = [("reason", "other remark"), ("remark", "new")];
    let sent = form(&trial.page(&amend), words::SHOW_RECORD, &typed);
    let shown = page(trial.act(&amend, &sent), 200);
    let newer = see(trial.act(&amend, &form(&shown, words::SIGN_NOW, &[])));
    let newer = newer.split('?').next().unwrap();
    let old = trial.page(&path);
    assert!(old.contains("superseded by") && old.contains(newer), "{old}");
    assert!(!old.contains(&amend), "only the newest is amended");

    for paper in ["form=long&sheet=a4", "form=short&sheet=letter"] {
        let Reply::Paper(paper) = trial.look(&format!("/paper/{id}?{paper}")) else {
            panic!("no paper")
        };
        let says = paper.to_lowercase().contains("superseded by");
        assert!(paper.contains("way-back") && says, "{paper}");
        assert_eq!(paper.matches("<style>").count(), 1, "one style, known by its digest");
        assert!(!paper.contains("<u>") && !paper.contains("<script"), "{paper}");
    }
    for (kind, begin) in
        [("json", "{"), ("csv", "id,"), ("passes", "record,"), ("short", "<!DOCTYPE")]
    {
        let Reply::File { name, bytes } = trial.look(&format!("/file/{id}?as={kind}")) else {
            panic!("no file {kind}")
        };
        let text = String::from_utf8(bytes).unwrap();
        assert!(text.starts_with(begin), "{kind}: {}", &text[..40]);
        assert!(name.contains(id) && name.chars().all(|c| c.is_ascii_graphic()), "{name}");
    }
    let Reply::File { bytes, .. } = trial.look(&format!("/file/{id}?as=capture")) else {
        panic!("no capture")
    };
    assert_eq!(bytes, std::fs::read(capture()).unwrap());

    let second = newer.strip_prefix("/records/").unwrap();
    let compared = trial.page(&format!("/compare?first={id}&second={second}"));
    assert!(compared.contains("within the uncertainty of both"), "{compared}");
    let found = trial.page("/records?words=new+amend&rig=Rig+to+amend");
    assert!(found.contains(newer) && !found.contains(&format!("{path}\"")), "{found}");
    let sheet = trial.page("/sheet?show=yes&rig=Rig+to+amend");
    assert!(sheet.contains(second), "{sheet}");
    assert!(matches!(trial.look("/sheet?rig=Rig+to+amend&paper=a4"), Reply::Paper(_)));
    assert!(matches!(trial.look("/history?rig=Rig+to+amend&paper=a4"), Reply::Paper(_)));
}

#[test]
fn names_that_nothing_has_are_told_so_and_nothing_in_them_acts() {
    let trial = Trial::begin();
    rig(&trial, "Rig of names");
    let part = trundle_show::stations::records::path_part(HOSTILE);
    let long = "x".repeat(10_000);
    for path in [
        format!("/records/{part}"),
        format!("/paper/{part}?form=short"),
        format!("/file/{part}?as=capture&part={part}"),
        format!("/file/{part}?as=csv"),
        format!("/amend/{part}"),
        format!("/compare?first={part}&second={long}"),
        format!("/records?words={part}&rig={part}&from=99999999999999999999"),
        format!("/records/{long}"),
        format!("/sheet?show=yes&rig={part}&printed={part}"),
        format!("/sheet?paper=a4&rig={part}"),
        format!("/history?show=yes&rig={part}&channel={part}"),
        format!("/exports/records?format=csv&words={part}&rig={part}"),
        format!("/exports/slip?format=gpx&which={part}"),
        format!("/exports/{part}"),
        format!("/verify?records={part}"),
    ] {
        match trial.look(&path) {
            Reply::Page(_, page) => {
                assert!(!page.contains("<script>x"), "{path}: {page}");
                let typed = page.matches('\u{202e}').count();
                assert!(typed == page.matches("value=\"&quot;&gt;").count(), "{path}: {page}");
            }
            Reply::See(to) => assert!(to == "/exports", "{path}: {to}"),
            other => panic!("{path}: {other:?}"),
        }
    }
}

/// For measuring by hand: makes a register of 10,000 records of 100 rigs in the folder that is
/// named, and says how long its pages take.
#[test]
#[ignore = "measures, and takes a minute"]
fn pages_among_ten_thousand_records() {
    let trial = Trial::begin();
    rig(&trial, "Rig of the many");
    let path = signed(&trial, "Rig of the many", "the first");
    let place = &trial.house.place;
    let register = Register::read(place).unwrap();
    let first = register.record(path.strip_prefix("/records/").unwrap()).unwrap();
    drop(register);
    let others: Vec<String> = (1..100).map(|number| format!("Rig {number}")).collect();
    others.iter().for_each(|name| rig(&trial, name));
    let register = Register::read(place).unwrap();
    let names = others.iter().map(String::as_str).chain(["Rig of the many"]);
    let rigs: Vec<_> = names.map(|name| (register.rig(Some(name)).unwrap().0, name)).collect();
    drop(register);
    let db = rusqlite::Connection::open(place.register()).unwrap();
    db.execute_batch("BEGIN").unwrap();
    for number in records(&trial)..10_000 {
        let remark = Some(format!("remark {number}"));
        let (key, name) = rigs[number % rigs.len()];
        let mut record = RecordV1 { remark, ..first.clone() };
        name.clone_into(&mut record.rig.rig.name);
        insert(&db, &record.seal(), Some(key), None).unwrap();
    }
    db.execute_batch("COMMIT").unwrap();
    for path in [
        "/records",
        "/records?words=remark+7345",
        "/records?from=9900",
        "/records?rig=rig+of+the+many",
        &path,
        "/sign",
        "/sheet",
        "/sheet?show=yes&rig=rig+of+the+many",
        "/history",
        "/history?show=yes&rig=rig+of+the+many",
        "/exports",
        "/verify",
        "/backup",
        "/bin",
    ] {
        let mut times: Vec<f64> = (0..11)
            .map(|_| {
                let began = std::time::Instant::now();
                drop(trial.page(path));
                began.elapsed().as_secs_f64() * 1e3
            })
            .collect();
        times.sort_by(f64::total_cmp);
        crate::shell::out::notice(&format!("{path}: {:.1} ms", times[5]));
    }
    crate::shell::out::notice(&format!("in {}", place.folder().display()));
}
