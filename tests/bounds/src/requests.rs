//! Requests to the live page.

use trundle::web::guard::{Decision, OWN_HEADER, OWN_HEADER_VALUE, Request, Role, Rules, guard};
use trundle::web::stations::StationPath;
use trundle::web::token::Token;

const HOST: &str = "127.0.0.1:8080";
const COOKIE: &str = "trundle-8080";

/// A request that marks, in the form that [`request`] takes.
pub const MARK: &str = "POST /mark\nhost: 127.0.0.1:8080\norigin: http://127.0.0.1:8080\n\
                        x-requested-by: trundle\nsec-fetch-site: same-origin\n\
                        content-type: application/json\ncontent-length: 20\n\
                        cookie: trundle-8080=02020202020202020202020202020202\n";

/// A station that everybody may look at, and one that is for whoever may do everything.
const STATIONS: &[StationPath] = &[
    StationPath { path: "/drive", look: Role::View, act: Some(Role::Full) },
    StationPath { path: "/rig/*", look: Role::Full, act: Some(Role::Full) },
];

/// A request that sends a form, in the same form.
pub const FORM: &str = "POST /rig/x\nhost: 127.0.0.1:8080\norigin: http://127.0.0.1:8080\n\
                        sec-fetch-site: same-origin\n\
                        content-type: application/x-www-form-urlencoded\ncontent-length: 20\n\
                        cookie: trundle-8080=03030303030303030303030303030303\n";

/// A request as its lines: method and path, then headers. Nothing is done unless everything that
/// a deed needs stands in those lines, and nobody joins without a token in the path.
///
/// Three tokens hold: of sixteen bytes 01, to look, of 02, to mark, and of 03, for everything. A
/// lock for wrong tokens keeps out nobody who shows a right one.
#[must_use]
pub fn request(text: &str, inside: bool, locked: bool) -> bool {
    let asked = read(text, inside, locked);
    let rules = Rules {
        hosts: vec![HOST.to_owned()],
        cookie: COOKIE.to_owned(),
        view: Token::new([1; 16]),
        mark: Token::new([2; 16]),
        full: Some(Token::new([3; 16])),
        stations: STATIONS,
    };
    held(&asked, &rules, text)
}

/// The lines as a request.
fn read(text: &str, inside: bool, locked: bool) -> Request<'_> {
    let mut lines = text.lines();
    let (method, path) = lines.next().and_then(|line| line.split_once(' ')).unwrap_or_default();
    let mut asked = Request { method, path, inside, locked, ..Request::default() };
    for (name, value) in lines.filter_map(|line| line.split_once(": ")) {
        match name {
            "authority" => asked.authority = Some(value),
            "host" => asked.hosts.push(value),
            "origin" => asked.origins.push(value),
            OWN_HEADER => asked.own.push(value),
            "sec-fetch-site" => asked.sites.push(value),
            "content-type" => asked.types.push(value),
            "cookie" => asked.cookies.push(value),
            "content-length" => asked.length = value.parse().ok(),
            _ => {}
        }
    }
    asked
}

/// Whether it is let in, and that nothing was that must not be.
fn held(asked: &Request<'_>, rules: &Rules, text: &str) -> bool {
    let Request { method, path, .. } = *asked;
    let (view, mark, full) = ("01".repeat(16), "02".repeat(16), "03".repeat(16));
    let judged = guard(asked, rules);
    let named = asked.hosts == [HOST];
    match judged.decision {
        Decision::Do(_) => {
            assert!(named && method == "POST", "{text}");
            assert!(asked.origins == [format!("http://{HOST}")], "{text}");
            assert!(asked.own == [OWN_HEADER_VALUE], "{text}");
            assert!(asked.sites.iter().all(|site| *site == "same-origin"), "{text}");
            assert!(asked.types.iter().all(|kind| kind.starts_with("application/json")), "{text}");
            let shown = asked.cookies.concat();
            assert!(shown.contains(&mark) || shown.contains(&full), "{text}");
        }
        Decision::Act(role) => {
            assert!(named && method == "POST" && role == Role::Full, "{text}");
            assert!(asked.origins == [format!("http://{HOST}")], "{text}");
            assert!(asked.sites.iter().all(|site| *site == "same-origin"), "{text}");
            assert!(asked.types == ["application/x-www-form-urlencoded"], "{text}");
            assert!(asked.cookies.concat().contains(&full), "{text}");
        }
        Decision::Alive => {
            assert!(named && method == "GET" && asked.inside, "{text}");
            assert!(asked.own == [OWN_HEADER_VALUE], "{text}");
        }
        Decision::Look(role) => {
            assert!(named && method == "GET", "{text}");
            let full = asked.cookies.concat().contains(&full);
            assert!(path == "/drive" || full, "{text}");
            assert!(role != Some(Role::Full) || full, "{text}");
        }
        Decision::Join(role) => {
            assert!(named && method == "GET", "{text}");
            let link = path.strip_prefix("/join/").unwrap_or_default();
            assert!([&view, &mark, &full].iter().any(|token| *token == link), "{text}");
            // A device keeps a right that it has, whatever link it is sent; no more than that.
            let shown = asked.cookies.concat();
            let token = match role {
                Role::View => &view,
                Role::Mark => &mark,
                Role::Full => &full,
            };
            assert!(link == token || shown.contains(token), "{text}");
        }
        Decision::Read(_, role) => {
            assert!(named && method == "GET", "{text}");
            let shown = asked.cookies.concat();
            assert!(role != Some(Role::Mark) || shown.contains(&mark), "{text}");
            assert!(role != Some(Role::View) || shown.contains(&view), "{text}");
        }
        Decision::Refuse(why) => {
            assert!(why.status() >= 400 && !why.next().is_empty(), "{text}");
            return false;
        }
    }
    // What was let through is no wrong token, except beside what anybody may see.
    assert!(
        judged.guess.is_none() || matches!(judged.decision, Decision::Read(..) | Decision::Look(_)),
        "{text}"
    );
    true
}
