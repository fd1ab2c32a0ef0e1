//! Forms that are sent twice, too late, by two at once, or not from our pages; and what is shown
//! of what was done.

use super::forms::Page;
use super::house::House;
use std::sync::Barrier;

const TRACTORS: &str = "/rig/tractor";

/// A tractor of this name, as its form sends it.
fn tractor(house: &House, name: &str) -> Vec<(String, Vec<u8>)> {
    house.form(TRACTORS, TRACTORS).with(&[("name", name), ("serial", "0001")])
}

fn count(house: &House, words: &str) -> usize {
    Page::read(&house.get(TRACTORS).body).text.matches(words).count()
}

#[test]
fn a_form_sent_three_times_at_once_is_done_once() {
    let house = House::start();
    for round in 0..5 {
        let name = format!("Thrice {round}");
        let (sent, ready) = (tractor(&house, &name), Barrier::new(3));
        let led: Vec<_> = std::thread::scope(|scope| {
            let one = || {
                ready.wait();
                house.post(TRACTORS, &sent)
            };
            let all = [(); 3].map(|()| scope.spawn(one));
            all.map(|one| one.join().unwrap()).into()
        });
        let places: Vec<_> = led.iter().map(|answer| answer.header("location")).collect();
        assert!(led.iter().all(|answer| answer.status == 303), "{led:?}");
        assert!(places.windows(2).all(|pair| pair[0] == pair[1]), "{places:?}");
        // By the button back to the form, and sent again an hour later: where it led before.
        let back = house.post(TRACTORS, &sent);
        assert_eq!(back.header("location"), places[0]);
        assert!(house.get(places[0].unwrap()).body.contains(&name));
    }
    house.typed(&["tractor", "list"]);
    assert_eq!(count(&house, "Thrice 3"), 1);
}

#[test]
fn two_devices_at_once_lose_nothing_of_each_other() {
    let house = House::start();
    assert_eq!(house.post(TRACTORS, &tractor(&house, "Shared")).status, 303);
    let edit = format!("{TRACTORS}?name=Shared&do=edit");
    let (one, other) = (house.form(&edit, TRACTORS), house.form(&edit, TRACTORS));
    let first = house.post(TRACTORS, &one.with(&[("serial", "1111")]));
    assert_eq!(first.status, 303, "{first:?}");
    let second = house.post(TRACTORS, &other.with(&[("make", "Typed late")]));
    assert_eq!(second.status, 409, "{second:?}");
    // Both can be seen, and what was typed stands in the form.
    let page = Page::read(&second.body);
    assert!(page.text.contains("1111"), "{}", page.text);
    let form = page.forms.iter().find(|form| form.value("deed") == "edit").unwrap();
    assert_eq!(form.value("make"), "Typed late");
    assert!(house.get(&format!("{TRACTORS}?name=Shared")).body.contains("1111"));
    // Sent again by whoever has seen that, it is done.
    let again = house.post(TRACTORS, &form.pairs());
    assert_eq!(again.status, 303, "{again:?}");
    assert!(house.get(&format!("{TRACTORS}?name=Shared")).body.contains("Typed late"));
    // Two add at the same time: both are there.
    let both = ["Left", "Right"].map(|name| tractor(&house, name));
    std::thread::scope(|scope| {
        for sent in &both {
            scope.spawn(|| assert_eq!(house.post(TRACTORS, sent).status, 303));
        }
    });
    assert_eq!((count(&house, "Left"), count(&house, "Right")), (1, 1));
}

#[test]
fn forms_of_a_program_that_was_started_again_come_back_with_all_that_was_typed() {
    let first = House::start();
    first.fill();
    let mut kept = Vec::new();
    for row in trundle::stations::table::paths().iter().filter(|row| row.act.is_some()) {
        let path = row.path.replace('*', "tractor");
        let answer = first.get(&path);
        if answer.status != 200 {
            continue;
        }
        let forms = Page::read(&answer.body).forms;
        kept.extend(forms.into_iter().filter(|form| form.action == path && form.method == "post"));
    }
    assert!(kept.len() > 10, "{}", kept.len());
    let house = first.again();
    let before = house.state();
    for form in kept {
        let text = form.fields.iter().filter(|f| f.kind != super::forms::Kind::Hidden);
        let text = text.filter(|f| f.kind == super::forms::Kind::Text).map(|f| f.name.as_str());
        let typed: Vec<_> = text.map(|name| (name, "typed before")).collect();
        let sent = form.with(&typed);
        let answer = house.post(&form.action, &sent);
        let at = &form.action;
        // A form that only calculates is no deed, and a second press is asked for anew.
        assert!([200, 409, 422].contains(&answer.status), "{at}: {answer:?}");
        let page = Page::read(&answer.body);
        let forms: Vec<_> = page.forms.iter().filter(|other| other.action == *at).collect();
        for (name, value) in &typed {
            let held = forms.iter().any(|form| form.value(name) == *value);
            assert!(held || answer.status == 200, "{at}: {name} is lost: {forms:?}");
        }
        // Sent again as it came back, it is understood.
        if answer.status == 409 && !typed.is_empty() {
            assert!(forms.iter().all(|other| other.value("key") != form.value("key")), "{at}");
        }
    }
    let after = house.state();
    assert!(before == after, "{:?}", super::rights::differing(&before, &after));
}

/// What was done is shown to whoever has the key of just that form, and to nobody for a guess.
#[test]
fn what_a_form_did_is_shown_by_its_key_alone() {
    let house = House::start();
    let sent = tractor(&house, "Seen once");
    let led = house.post(TRACTORS, &sent);
    let place = led.header("location").unwrap().to_owned();
    let key = place.split("did=").nth(1).unwrap().to_owned();
    let notices = |path: &str| house.get(path).body.matches("class=\"notice good\"").count();
    let said = notices(&place);
    assert_eq!(said, 1, "{}", house.get(&place).body);
    // Two forms never share a key, and only half of it is chance that others could repeat.
    let unlike: std::collections::BTreeSet<String> =
        (0..50).map(|_| house.form(TRACTORS, TRACTORS).value("key").to_owned()).collect();
    assert!(unlike.len() == 50 && unlike.iter().all(|key| key.len() == 64));
    let mut wrong = vec![String::new(), "0".repeat(64), key[1..].to_owned(), format!("{key}0")];
    wrong.push(key.to_uppercase().replace(|c: char| c.is_ascii_digit(), "0"));
    wrong.push("%3Cscript%3E".to_owned());
    wrong.extend(unlike);
    for guess in wrong {
        assert_eq!(notices(&format!("{TRACTORS}?did={guess}")), 0, "{guess}");
    }
    // At another station it says what was done, which is as harmless there, and does nothing.
    let before = house.state();
    for path in ["/", "/records", "/settings", "/course", "/drive", "/verify", "/bin"] {
        let page = house.get(&format!("{path}?did={key}"));
        Page::read(&page.body).check_text(path);
        assert_eq!(page.status, 200, "{path}");
    }
    assert!(before == house.state());
    // It is no key for another form.
    let stale = house.form("/course/file", "/course/file").with(&[("key", &key), ("text", "x")]);
    assert_eq!(house.post("/course/file", &stale).status, 409);
}
