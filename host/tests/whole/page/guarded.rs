//! The guard alone: nothing changes state without every one of its conditions.

use proptest::prelude::*;
use proptest::test_runner::TestRunner;
use std::cell::Cell;
use trundle::web::guard::{BODY_MAX, Decision, Deed, Read, Refusal, Request, Role, Rules, guard};
use trundle::web::token::Token;
use trundle_show::live::page::press::PressKind;

fn rules() -> Rules {
    let hosts = ["127.0.0.1:8080", "[::1]:8080", "localhost:8080", "192.0.2.7:8080"];
    Rules {
        hosts: hosts.map(str::to_owned).to_vec(),
        cookie: "trundle-8080".to_owned(),
        view: Token::new([1; 16]),
        mark: Token::new([2; 16]),
        full: None,
        stations: &[],
    }
}

const MARK: &str = "trundle-8080=02020202020202020202020202020202";
const VIEW: &str = "trundle-8080=01010101010101010101010101010101";

/// Methods, the right one first; so it is with all lists here.
const METHODS: [&str; 8] = ["POST", "GET", "PUT", "DELETE", "OPTIONS", "HEAD", "post", "PATCH"];
const PATHS: [&str; 9] =
    ["/mark", "/", "/now", "/MARK", "/mark/", "//mark", "/join/mark", "/mark%20", "/../mark"];
const HOSTS: [&[&str]; 9] = [
    &["127.0.0.1:8080"],
    &[],
    &["127.0.0.1"],
    &["127.0.0.1:8080.example"],
    &["127.0.0.1:8080", "127.0.0.1:8080"],
    &["localhost.example:8080"],
    &["127.0.0.1:80800"],
    &["LOCALHOST:8080"],
    &[""],
];
const ORIGINS: [&[&str]; 9] = [
    &["http://127.0.0.1:8080"],
    &[],
    &["null"],
    &["https://127.0.0.1:8080"],
    &["http://localhost:8080"],
    &["http://127.0.0.1:8080/"],
    &["http://127.0.0.1:8080.example"],
    &["http://127.0.0.1:8080", "http://127.0.0.1:8080"],
    &["http://example:8080"],
];
const OWN: [&[&str]; 5] = [&["trundle"], &[], &["Trundle"], &["trundle", "trundle"], &[""]];
const SITES: [&[&str]; 6] =
    [&[], &["same-origin"], &["cross-site"], &["same-site"], &["none"], &["same-origin", "none"]];
const TYPES: [&[&str]; 6] = [
    &["application/json"],
    &["application/json; charset=utf-8"],
    &[],
    &["text/plain"],
    &["application/x-www-form-urlencoded"],
    &["application/json", "text/plain"],
];
const COOKIES: [&[&str]; 8] = [
    &[MARK],
    &[],
    &[VIEW],
    &["trundle-8080=02020202020202020202020202020203"],
    &["trundle-8081=02020202020202020202020202020202"],
    &["trundle-8080=0202020202020202020202020202020"],
    &[MARK, MARK],
    &["trundle-8080="],
];
const LENGTHS: [Option<u64>; 4] = [Some(40), None, Some(BODY_MAX as u64 + 1), Some(u64::MAX)];

#[test]
fn nothing_is_done_unless_all_is_right() {
    const CASES: u32 = 10_000;
    // Most are right in all but one or two, where a hole would be.
    let pick = prop_oneof![6 => Just(0_usize), 1 => 0..9_usize];
    let picks = prop::collection::vec(pick, 9);
    let strategy = (picks, any::<bool>(), prop::bool::weighted(0.1));
    let (tried, done) = (Cell::new(0), Cell::new(0));
    let mut runner = TestRunner::new(ProptestConfig::with_cases(CASES));
    let outcome = runner.run(&strategy, |(picks, inside, locked)| {
        let (request, right) = made(&picks, inside, locked);
        let decision = guard(&request, &rules()).decision;
        prop_assert_eq!(
            decision == Decision::Do(Deed::Press(PressKind::Mark)),
            right,
            "{:?}: {:?}",
            request,
            decision
        );
        let lets = matches!(decision, Decision::Do(_) | Decision::Join(_));
        prop_assert_eq!(lets, right, "{:?}", request);
        tried.set(tried.get() + 1);
        done.set(done.get() + u32::from(right));
        Ok(())
    });
    outcome.unwrap();
    assert_eq!(tried.get(), CASES);
    assert!(done.get() > CASES / 20, "only {} of {CASES} were let through", done.get());
}

/// The request of these picks, and whether all of it is right.
fn made(picks: &[usize], inside: bool, locked: bool) -> (Request<'static>, bool) {
    let pick = |n: usize, most: usize| picks[n] % most;
    let (site, kind, length) = (pick(5, 6), pick(6, 6), pick(8, 4));
    let must = [pick(0, 8), pick(1, 9), pick(2, 9), pick(3, 9), pick(4, 5), pick(7, 8)];
    let right = must == [0; 6] && site < 2 && kind < 2 && length < 2;
    let request = Request {
        method: METHODS[pick(0, 8)],
        path: PATHS[pick(1, 9)],
        authority: None,
        hosts: HOSTS[pick(2, 9)].to_vec(),
        origins: ORIGINS[pick(3, 9)].to_vec(),
        own: OWN[pick(4, 5)].to_vec(),
        sites: SITES[site].to_vec(),
        types: TYPES[kind].to_vec(),
        cookies: COOKIES[pick(7, 8)].to_vec(),
        length: LENGTHS[length],
        inside,
        locked,
        once: false,
    };
    (request, right)
}

fn get<'a>(path: &'a str, host: &'a str) -> Request<'a> {
    Request { method: "GET", path, hosts: vec![host], inside: true, ..Request::default() }
}

#[test]
fn only_its_own_names_are_answered() {
    let rules = rules();
    for own in &rules.hosts {
        assert!(matches!(guard(&get("/", own), &rules).decision, Decision::Read(Read::Page, None)));
    }
    let mut strangers = 0;
    for own in &rules.hosts {
        let name = own.trim_end_matches(":8080");
        let mut hosts = vec![
            name.to_owned(),
            format!("{name}."),
            format!("{name}.:8080"),
            format!("{own}."),
            format!(" {own}"),
            format!("{own} "),
            format!("{own},{own}"),
            format!("a@{own}"),
            format!("{own}/"),
            format!("http://{own}"),
            format!("{own}\t"),
        ];
        hosts.extend((0..40).map(|n| format!("{name}:{}", 8081 + n)));
        for suffix in ["example", "127.0.0.1", "localhost"] {
            hosts.push(format!("{name}.{suffix}:8080"));
            hosts.push(format!("{own}.{suffix}"));
            hosts.push(format!("{suffix}.{own}"));
        }
        strangers += hosts.len();
        for host in &hosts {
            let decision = guard(&get("/", host), &rules).decision;
            assert_eq!(decision, Decision::Refuse(Refusal::Host), "{host:?}");
        }
    }
    for host in [
        "",
        "LOCALHOST:8080",
        "[::1%1]:8080",
        "[::1%25lo]:8080",
        "[0:0:0:0:0:0:0:1]:8080",
        "127.1:8080",
        "2130706433:8080",
        "0.0.0.0:8080",
        "0:8080",
        "127.0.0.1:08080",
        "\u{ff11}",
    ] {
        strangers += 1;
        assert_eq!(
            guard(&get("/", host), &rules).decision,
            Decision::Refuse(Refusal::Host),
            "{host}"
        );
    }
    assert!(strangers >= 200, "{strangers}");
    let absolute = Request { authority: Some("example"), ..get("/", "127.0.0.1:8080") };
    assert_eq!(guard(&absolute, &rules).decision, Decision::Refuse(Refusal::Host));
}

#[test]
fn other_devices_see_nothing_before_they_have_joined() {
    let rules = rules();
    let outside = |path, cookies: &'static [&str]| Request {
        inside: false,
        cookies: cookies.to_vec(),
        own: vec!["trundle"],
        ..get(path, "192.0.2.7:8080")
    };
    for path in ["/", "/now", "/result"] {
        let refused = guard(&outside(path, &[]), &rules).decision;
        assert_eq!(refused, Decision::Refuse(Refusal::Token), "{path}");
        for (cookies, role) in [(&[MARK][..], Role::Mark), (&[VIEW][..], Role::View)] {
            let decision = guard(&outside(path, cookies), &rules).decision;
            assert!(matches!(decision, Decision::Read(_, Some(got)) if got == role), "{path}");
        }
    }
    let wrong = guard(&outside("/", &["trundle-8080=1"]), &rules);
    assert_eq!((wrong.decision, wrong.guess), (Decision::Refuse(Refusal::Token), Some("1")));
    let join = guard(&get("/join/02020202020202020202020202020202", "192.0.2.7:8080"), &rules);
    assert_eq!((join.decision, join.guess), (Decision::Join(Role::Mark), None));
    // A stream is not for other sites, though they could not read it.
    let foreign = Request { own: Vec::new(), ..get("/now", "localhost:8080") };
    assert_eq!(guard(&foreign, &rules).decision, Decision::Refuse(Refusal::Origin));
}

/// A link to this server, opened from there by a device with these cookies.
fn link(shown: &'static str, sites: &[&'static str], cookies: &[&'static str]) -> Request<'static> {
    let request = get(shown, "localhost:8080");
    Request { sites: sites.to_vec(), cookies: cookies.to_vec(), ..request }
}

#[test]
fn a_lock_answers_wrong_tokens_alone() {
    let rules = rules();
    let right = "/join/02020202020202020202020202020202";
    let wrong = "/join/0202020202020202020202020202020";
    for locked in [false, true] {
        let judge = |request: Request<'static>| {
            let judged = guard(&Request { locked, ..request }, &rules);
            (judged.decision, judged.guess)
        };
        for sites in [&[][..], &["none"], &["same-origin"]] {
            assert_eq!(judge(link(right, sites, &[])), (Decision::Join(Role::Mark), None));
            let (why, guess) = judge(link(wrong, sites, &[]));
            let expected = if locked { Refusal::Locked } else { Refusal::Link };
            assert_eq!((why, guess.is_none()), (Decision::Refuse(expected), locked), "{sites:?}");
        }
        // From elsewhere a wrong one is no guess, and a right one looks the same.
        for sites in [&["cross-site"][..], &["same-site"], &["none", "none"], &[""]] {
            for shown in [right, wrong] {
                let refused = (Decision::Refuse(Refusal::Elsewhere), None);
                assert_eq!(judge(link(shown, sites, &[])), refused, "{sites:?}");
            }
        }
        let outside = |cookies| Request { inside: false, ..link("/", &[], cookies) };
        assert_eq!(judge(outside(&[MARK])), (Decision::Read(Read::Page, Some(Role::Mark)), None));
        assert_eq!(judge(outside(&[VIEW])), (Decision::Read(Read::Page, Some(Role::View)), None));
        let why = if locked { Refusal::Locked } else { Refusal::Token };
        assert_eq!(judge(outside(&[])), (Decision::Refuse(why), None));
    }
}

#[test]
fn a_marker_stays_one_whatever_links_and_cookies_it_is_sent() {
    let rules = rules();
    let view = "/join/01010101010101010101010101010101";
    for (cookie, role) in [(MARK, Role::Mark), (VIEW, Role::View), ("trundle-8080=1", Role::View)] {
        let judged = guard(&link(view, &[], &[cookie]), &rules);
        assert_eq!((judged.decision, judged.guess), (Decision::Join(role), None), "{cookie}");
    }
    // Another server at this address set one of the same name.
    for line in [format!("trundle-8080=1; {MARK}"), format!("{MARK}; trundle-8080=1; {VIEW}")] {
        let judged = guard(&Request { cookies: vec![&line], ..get("/", "localhost:8080") }, &rules);
        let marks = Decision::Read(Read::Page, Some(Role::Mark));
        assert_eq!((judged.decision, judged.guess), (marks, None), "{line}");
    }
}
