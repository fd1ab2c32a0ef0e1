//! A session ends with the program or with new links, and no secret stands where it is kept.

use super::forms::Page;
use super::house::{House, encoded};
use trundle::stations::table;

#[test]
fn a_cookie_does_not_outlive_the_program() {
    let first = House::start();
    let old = first.full.clone();
    let tokens = first.tokens();
    let house = first.again();
    for old in [Some(old), tokens.clone().map(|[view, _]| view), tokens.map(|[_, mark]| mark)] {
        let Some(old) = old else { continue };
        // Under the old name and under the new: the port may be the same.
        assert_eq!(house.send(&house.ask("GET", "/settings", &old)).status, 403);
        assert_eq!(house.send(&house.ask("POST", "/settings", &old)).status, 403);
        assert_eq!(house.send(&house.ask("GET", &format!("/join/{old}"), "")).status, 403);
    }
}

/// A page that was left open over a restart: what is typed there is refused, and stands on the
/// page that says so, to be sent again once the browser has joined.
#[test]
fn what_was_typed_before_a_restart_is_given_back() {
    let first = House::start();
    let (old, form) = (first.full.clone(), first.form("/rig/tractor", "/rig/tractor"));
    let typed = form.with(&[("name", "A \"small\" <one>"), ("serial", "0007")]);
    let house = first.again();
    let mut ask = house.ask("POST", "/rig/tractor", &old);
    ask.body = encoded(&typed);
    let refused = house.send(&ask);
    assert_eq!(refused.status, 403, "{refused:?}");
    let page = Page::read(&refused.body);
    page.check_text("a stale form");
    // Without its origin a browser's form would be refused again.
    assert_eq!(refused.header("referrer-policy"), Some("same-origin"));
    let back = page.forms.iter().find(|form| form.action == "/rig/tractor").unwrap();
    for (name, value) in &typed {
        assert_eq!(back.value(name).as_bytes(), value, "{name}");
    }
    assert!(!house.get("/rig/tractor").body.contains("0007"), "done without a right");
    // Joined again: first the station's own form, filled; nothing is done unseen.
    let again = house.post("/rig/tractor", &back.pairs());
    assert_eq!(again.status, 409, "{again:?}");
    let filled = Page::read(&again.body).forms.into_iter();
    let filled = filled.filter(|form| form.value("serial") == "0007").collect::<Vec<_>>();
    assert_eq!(house.post("/rig/tractor", &filled[0].pairs()).status, 303);
    assert!(house.get("/rig/tractor").body.contains("A &quot;small&quot; &lt;one&gt;"));

    // What another site sends, or what comes without an origin, is never given back.
    for (origins, more) in [
        (vec!["http://elsewhere.example".to_owned()], None),
        (Vec::new(), None),
        (ask.origins.clone(), Some("Sec-Fetch-Site: cross-site")),
    ] {
        let mut other = ask.clone();
        other.origins = origins;
        other.more.extend(more);
        let answer = house.send(&other);
        assert_eq!(answer.status, 403, "{answer:?}");
        assert!(!answer.body.contains("0007") && !answer.body.contains("<form"), "{answer:?}");
    }
}

#[test]
fn new_links_end_the_old_ones() {
    let house = House::start();
    let Some([view, mark]) = house.tokens() else {
        // Without a network there are no links for others, and none to renew.
        assert!(!house.get("/settings/devices").body.contains("/join/"));
        return;
    };
    let old = house.full.clone();
    // A second start makes a link for one use, which nobody has used yet.
    let unused = house.second_start();
    let form = house.form("/settings/devices", "/settings/devices");
    let led = house.post("/settings/devices", &form.pairs());
    assert_eq!(led.status, 303, "{led:?}");
    let once = led.header("location").unwrap().to_owned();
    for old in [&old, &view, &mark, &unused] {
        assert_eq!(house.send(&house.ask("GET", "/settings", old)).status, 403);
        assert_eq!(house.send(&house.ask("GET", &format!("/join/{old}"), "")).status, 403);
    }
    // Whoever asked for them goes on; the address that led there is worth nothing afterwards.
    let joined = house.send(&house.ask("GET", &once, ""));
    assert_eq!((joined.status, joined.header("location")), (303, Some("/")), "{joined:?}");
    let cookie = joined.header("set-cookie").unwrap().to_owned();
    assert!(cookie.contains("HttpOnly; SameSite=Strict"), "{cookie}");
    let token = cookie.split(['=', ';']).nth(1).unwrap();
    assert!(!once.contains(token), "the token itself stands in the address");
    assert_eq!(house.send(&house.ask("GET", "/settings", token)).status, 200);
    assert_eq!(house.send(&house.ask("GET", &once, "")).status, 403);
    // A second start finds the program as before, by the secret that is new.
    let next = house.second_start();
    assert_eq!(house.send(&house.ask("GET", &format!("/join/{next}"), "")).status, 303);
}

/// Links stand on the page of other devices, for whoever may give them away; nowhere else.
#[test]
fn no_secret_stands_in_an_address_or_on_a_page() {
    let house = House::start();
    house.fill();
    let mut secrets = vec![house.full.clone()];
    secrets.extend(house.tokens().into_iter().flatten());
    let latch = std::fs::read_to_string(house.folder.path().join("data/page.json")).unwrap();
    let latch: serde_json::Value = serde_json::from_str(&latch).unwrap();
    let latch = latch.as_object().unwrap().values().filter_map(|value| value.as_str());
    secrets.extend(latch.filter(|value| value.len() == 32).map(str::to_owned));
    assert!(secrets.len() > 1, "{secrets:?}");
    let clean = |at: &str, text: &str| {
        for secret in &secrets {
            assert!(!text.contains(secret.as_str()), "{at} tells a secret");
        }
    };
    let joined = house.send(&house.ask("GET", &format!("/join/{}", house.full), ""));
    assert_eq!(joined.header("location"), Some("/"));
    let mut waiting: Vec<String> =
        table::paths().iter().map(|row| row.path.replace('*', "tractor")).collect();
    waiting.extend(["/live", "/page.js", "/page.css", "/stations.js"].map(str::to_owned));
    let mut at = 0;
    while at < waiting.len().min(200) {
        let path = waiting[at].clone();
        at += 1;
        let answer = house.get(&path);
        clean(&path, answer.header("location").unwrap_or(""));
        clean(&path, &path);
        if path != "/settings/devices" {
            clean(&path, &answer.body);
        }
        if answer.head.contains("text/html") {
            for link in Page::read(&answer.body).links {
                if link.starts_with('/') && !waiting.contains(&link) {
                    waiting.push(link);
                }
            }
        }
    }
    // What was done says so by a key that only shows it.
    let form = house.form("/rig/tractor", "/rig/tractor").with(&[("name", "Plain")]);
    let led = house.post("/rig/tractor", &form);
    clean("a form", led.header("location").unwrap());
    // What the program says beside its link is clean, and what it keeps but for its own file.
    let said = house.program.stdout().replacen(&house.full, "", 1) + &house.program.stderr();
    clean("the terminal", &said);
    for (path, bytes) in house.state() {
        if !path.ends_with("page.json") {
            clean(&path, &String::from_utf8_lossy(&bytes));
        }
    }
}
