//! A session ends with the program or with new links, and no secret stands where it is kept.

use super::forms::Page;
use super::house::House;
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

#[test]
fn new_links_end_the_old_ones() {
    let house = House::start();
    let Some([view, mark]) = house.tokens() else {
        // Without a network there are no links for others, and none to renew.
        assert!(!house.get("/settings/devices").body.contains("/join/"));
        return;
    };
    let old = house.full.clone();
    let form = house.form("/settings/devices", "/settings/devices");
    let led = house.post("/settings/devices", &form.pairs());
    assert_eq!(led.status, 303, "{led:?}");
    let once = led.header("location").unwrap().to_owned();
    for old in [&old, &view, &mark] {
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
