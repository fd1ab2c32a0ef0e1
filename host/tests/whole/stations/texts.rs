//! Every field of every form, filled with what would do harm: refused in words with all that was
//! typed still there, or saved and shown harmless.

use super::forms::{Form, Kind, Page};
use super::house::{House, encoded};
use crate::page::client::Answer;
use std::collections::BTreeSet;
use trundle::stations::table;
use trundle::web::guard::FORM_MAX;

/// Pages that are looked for forms; names of things may lead on for ever.
const PAGES: usize = 150;
/// A form that names no fields of a person changes nothing that is typed; these would end the
/// program or the job as well.
const NEVER: [&str; 2] = ["/close", "/settings/devices"];

/// What is typed, in bytes.
fn hostile() -> Vec<(&'static str, Vec<u8>)> {
    let markup = "\"></textarea></select></title><script>alert(1)</script><img src=x onerror=a()>";
    vec![
        ("markup", markup.as_bytes().to_vec()),
        ("formula", b"=1+1|cmd".to_vec()),
        ("more formulas", b"@SUM(A1:A9)\t-2+3".to_vec()),
        ("controls", b"a\x07\x1b[31m\x7f\xc2\x9bb\r\nc\td".to_vec()),
        ("long", b"x1 &\"".repeat(2000)),
        ("right to left", "\u{202e}desrever\u{2066}\u{200f}\u{feff}".as_bytes().to_vec()),
        ("NUL", b"a\0b".to_vec()),
        ("no UTF-8", b"\xff\xfe\xc3(\xed\xa0\x80".to_vec()),
        ("an option", b"--data=/".to_vec()),
        ("nothing", Vec::new()),
        ("a number", b"12".to_vec()),
        ("quotes", b"'; DROP TABLE rig; -- ''' \"\"\" \\".to_vec()),
    ]
}

/// All forms that can be found from the first station: where they stand, and they.
fn forms(house: &House) -> Vec<(String, Form)> {
    let mut waiting: Vec<String> = table::paths()
        .iter()
        .map(|row| row.path)
        .filter(|path| !path.contains('*'))
        .map(str::to_owned)
        .collect();
    let (mut seen, mut kinds, mut all) = (BTreeSet::new(), BTreeSet::new(), Vec::new());
    let mut at = 0;
    while at < waiting.len().min(PAGES) {
        let path = waiting[at].clone();
        at += 1;
        let answer = house.get(&path);
        if answer.status != 200 || !answer.head.contains("text/html") {
            continue;
        }
        let page = Page::read(&answer.body);
        for link in page.links {
            let link = link.split('#').next().unwrap().to_owned();
            if link.starts_with('/') && seen.insert(link.clone()) && !waiting.contains(&link) {
                waiting.push(link);
            }
        }
        for form in page.forms {
            let fields = form.fields.iter();
            let names: Vec<_> = fields.map(|f| (f.name.clone(), f.kind as u8)).collect();
            if kinds.insert((form.action.clone(), form.value("deed").to_owned(), names)) {
                all.push((path.clone(), form));
            }
        }
    }
    all
}

fn typed(form: &Form) -> impl Iterator<Item = &str> {
    let all =
        form.fields.iter().filter(|f| matches!(f.kind, Kind::Text | Kind::Long | Kind::Choice));
    all.map(|field| field.name.as_str())
}

/// What is sent when these fields hold `value` and all others what stood there.
fn filled(form: &Form, names: &[&str], value: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut pairs = form.pairs();
    let mut hold = |name: &str, value: &[u8]| {
        pairs.retain(|(other, _)| other != name);
        pairs.push((name.to_owned(), value.to_vec()));
    };
    for name in names {
        hold(name, value);
    }
    // As many as a form may have: each is also sent alone.
    while encoded(&pairs).len() > FORM_MAX {
        let longest = (0..pairs.len()).max_by_key(|n| pairs[*n].1.len()).unwrap();
        pairs.remove(longest);
    }
    pairs
}

/// Whatever came back is harmless, and in a form that was refused all of it still stands.
fn judge(house: &House, told: &str, path: &str, sent: &[(String, Vec<u8>)], answer: &Answer) {
    assert!([200, 303, 404, 409, 422].contains(&answer.status), "{told}: {answer:?}");
    if answer.status == 303 {
        let to = answer.header("location").unwrap();
        assert!(to.starts_with('/') && !to.starts_with("//"), "{told}: {to}");
        assert!(to.bytes().all(|byte| byte.is_ascii_graphic()), "{told}: {to:?}");
        if to.starts_with("/live") {
            house.stop();
            return;
        }
        let led = house.get(to);
        assert!([200, 303, 404].contains(&led.status), "{told}, led to {to}: {led:?}");
        if led.status != 303 {
            Page::read(&led.body).check_text(&format!("{told}, led to {to}"));
        }
        return;
    }
    let page = Page::read(&answer.body);
    page.check_text(told);
    page.check_faults(told);
    if answer.status != 200 {
        assert!(!page.text.trim().is_empty(), "{told}: no words");
        stands(told, path, sent, &page);
    }
}

/// All that was typed stands in the forms that came back.
fn stands(told: &str, path: &str, sent: &[(String, Vec<u8>)], page: &Page) {
    let same = |text: &str| text.replace("\r\n", "\n").trim().to_owned();
    let action = path.split('?').next().unwrap();
    let mut forms = page.forms.iter().filter(|form| form.action == action).peekable();
    assert!(forms.peek().is_some(), "{told}: no form to send again");
    let forms: Vec<_> = forms.collect();
    for (name, value) in
        sent.iter().filter(|(name, _)| !["key", "seen", "press"].contains(&name.as_str()))
    {
        let value = same(&String::from_utf8_lossy(value));
        let held = forms.iter().any(|form| same(form.value(name)) == value);
        assert!(held, "{told}: {name}={value:.60?} is lost: {:?}", forms);
    }
}

#[test]
fn whatever_is_typed_is_refused_with_all_of_it_or_shown_harmless() {
    let house = House::start();
    house.fill();
    // Whatever begins to record does so on a simulated tractor.
    let practice = house.form("/practice", "/practice").pairs();
    assert_eq!(house.post("/practice", &practice).status, 303);
    let all = forms(&house);
    println!("{} forms: {:?}", all.len(), all.iter().map(|(_, f)| &f.action).collect::<Vec<_>>());
    assert!(all.len() > 20, "only {} forms were found", all.len());
    let (mut tried, mut refused, mut saved) = (0, 0, 0);
    for (at, form) in all.iter().filter(|(_, form)| !NEVER.contains(&form.action.as_str())) {
        let names: Vec<&str> = typed(form).collect();
        if names.is_empty() {
            continue;
        }
        for (n, (kind, value)) in hostile().into_iter().enumerate() {
            // All at once; then one after the other, each with another text.
            let one = [names[n % names.len()]];
            for names in [&names[..], &one[..]] {
                let Some(fresh) = again(&house, at, form) else { continue };
                let told = format!("{kind} in {names:?} of {} at {at}", form.action);
                let sent = filled(&fresh, names, &value);
                let answer = if form.method == "get" {
                    let query = String::from_utf8(encoded(&sent)).unwrap();
                    house.get(&format!("{}?{query}", form.action))
                } else {
                    house.post(&form.action, &sent)
                };
                tried += 1;
                refused += usize::from(answer.status >= 400);
                saved += usize::from(answer.status == 303);
                if form.method == "get" {
                    if answer.head.contains("text/html") {
                        Page::read(&answer.body).check_text(&told);
                    }
                    continue;
                }
                judge(&house, &told, &form.action, &sent, &answer);
                sure(&house, &told, &form.action, &answer);
            }
        }
    }
    println!("{tried} forms were sent: {refused} refused, {saved} done");
    assert!(refused > 100 && saved > 10, "{refused} refused, {saved} done");
    for path in table::paths().iter().map(|row| row.path).filter(|path| !path.contains('*')) {
        let answer = house.get(path);
        if answer.head.contains("text/html") {
            Page::read(&answer.body).check_text(path);
        }
    }
}

/// The same form with a key of its own; `None` where it is not there any more.
fn again(house: &House, at: &str, form: &Form) -> Option<Form> {
    let answer = house.get(at);
    let page = (answer.status == 200).then(|| Page::read(&answer.body))?;
    let same = |other: &Form| {
        other.action == form.action
            && other.value("deed") == form.value("deed")
            && other.fields.len() == form.fields.len()
    };
    page.forms.into_iter().find(same)
}

/// What is asked for a second time is given a second time.
fn sure(house: &House, told: &str, path: &str, answer: &Answer) {
    if answer.status != 200 {
        return;
    }
    let forms = Page::read(&answer.body).forms.into_iter();
    let sure = forms.filter(|form| form.action == path && form.value("press") == "sure");
    for form in sure {
        let sent = form.pairs();
        judge(house, &format!("{told}, for sure"), path, &sent, &house.post(path, &sent));
    }
}

/// A table that is opened by another program calculates nothing that was typed.
#[test]
fn exports_keep_formulas_harmless() {
    let house = House::start();
    house.typed(&["tractor", "add", "=1+1", "--make", "@SUM(A1)"]);
    house.typed(&["rig", "add", "+1", "--tractor", "=1+1", "--source", "wheel"]);
    let capture = crate::support::in_tree("logs/simulated-rtk.capture").canonicalize().unwrap();
    let capture = capture.display().to_string();
    house.typed(&["sign", &capture]);
    let table = house.get("/exports/records?format=csv&words=&rig=&anyway=yes");
    assert_eq!(table.status, 200, "{table:?}");
    assert!(table.head.contains("attachment"), "{table:?}");
    assert!(table.body.contains("1+1"), "{}", table.body);
    for line in table.body.lines() {
        for cell in line.split(',').map(|cell| cell.trim_start_matches('"')) {
            let number = cell.trim_end_matches('"').parse::<f64>().is_ok();
            assert!(number || !cell.starts_with(['=', '+', '-', '@']), "{cell:?} in {line}");
        }
    }
}
