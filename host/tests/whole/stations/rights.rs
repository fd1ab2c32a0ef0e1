//! All paths and rights as a table, and each row of it tried on the program.

use super::house::{Ask, House, encoded};
use crate::support::in_tree;
use std::fmt::Write as _;
use trundle::stations::table;
use trundle::web::guard::{Decision, Request, Role, Rules, guard};
use trundle::web::own::OWN;
use trundle::web::token::Token;

/// Who asks: nobody that joined at this computer or from elsewhere, then whoever may look, mark,
/// do everything.
const WHO: [(Option<u8>, bool, &str); 5] = [
    (None, false, "anyone"),
    (None, true, "anyone here"),
    (Some(1), false, "view"),
    (Some(2), false, "mark"),
    (Some(3), false, "full"),
];

fn rules() -> Rules {
    let token = |n: u8| Token::new([n; 16]);
    Rules {
        hosts: vec!["127.0.0.1:9".to_owned()],
        cookie: "t".to_owned(),
        view: token(1),
        mark: token(2),
        full: Some(token(3)),
        stations: table::paths(),
    }
}

/// The least right with which this gets through; a dash for none.
fn least(method: &str, path: &str, kind: &str) -> &'static str {
    let gets = |&&(token, inside, _): &&(Option<u8>, bool, &str)| {
        let cookie = token.map(|n| format!("t={}", format!("{n:02x}").repeat(16)));
        let request = Request {
            method,
            path,
            hosts: vec!["127.0.0.1:9"],
            origins: vec!["http://127.0.0.1:9"],
            own: vec!["trundle"],
            types: vec![kind],
            cookies: cookie.iter().map(String::as_str).collect(),
            inside,
            ..Request::default()
        };
        !matches!(guard(&request, &rules()).decision, Decision::Refuse(_))
    };
    WHO.iter().find(gets).map_or("-", |(_, _, word)| word)
}

/// All paths: stations, then the server's own.
fn written() -> String {
    let mut all = "path                 looked at by   changed by\n".to_owned();
    let mut own: Vec<&str> = OWN.iter().map(|own| own.0).filter(|path| *path != "/").collect();
    own.dedup();
    let stations = table::paths().iter().map(|row| row.path);
    let mut row = |path: &str, kind: &str| {
        let asked = path.replace('*', "x");
        let (look, act) = (least("GET", &asked, kind), least("POST", &asked, kind));
        writeln!(all, "{path:20} {look:14} {act}").unwrap();
    };
    let mut stations: Vec<&str> = stations.collect();
    stations.sort_unstable();
    stations.into_iter().for_each(|path| row(path, super::house::FORM));
    own.into_iter().for_each(|path| row(path, "application/json"));
    all
}

/// A new path, or another right, is a decision: it is written down where it can be read.
#[test]
fn paths_and_rights_are_those_that_were_written_down() {
    let file = in_tree("tests/data/page-paths.txt");
    let held = std::fs::read_to_string(&file).unwrap_or_default();
    let now = written();
    assert_eq!(
        now, held,
        "\nThe paths of the page or their rights have changed. If that is meant, make \
         tests/data/page-paths.txt this:\n{now}"
    );
}

/// What the program says to a row: let through, or refused.
fn expected(method: &str, role: Option<Role>, inside: bool, look: Role, act: Option<Role>) -> u16 {
    match method {
        "GET" if role >= Some(look) || inside && role.is_none() && look == Role::View => 200,
        "GET" => 403,
        _ => match act {
            None => 405,
            Some(act) if role >= Some(act) => 200,
            Some(_) => 403,
        },
    }
}

#[test]
fn every_row_of_the_table_is_so_on_the_program() {
    let house = House::start();
    house.fill();
    let view_mark = house.tokens();
    let mut roles = vec![(String::new(), None), (house.full.clone(), Some(Role::Full))];
    if let Some([view, mark]) = view_mark {
        roles.extend([(view, Some(Role::View)), (mark, Some(Role::Mark))]);
    }
    let wrong = "0123456789abcdef0123456789abcdef";
    roles.push((wrong.to_owned(), None));
    let before = house.state();
    let mut let_through = 0;
    let doors = [Some((house.at, true)), house.lan.map(|at| (at, false))];
    for (at, inside) in doors.into_iter().flatten() {
        for row in table::paths() {
            let path = row.path.replace('*', "tractor");
            for (token, role) in &roles {
                for method in ["GET", "POST"] {
                    // A form without a key of ours does nothing, whoever sends it.
                    let ask = Ask {
                        hosts: vec![at.to_string()],
                        origins: vec![format!("http://{at}")],
                        body: encoded(&[("key".to_owned(), b"0".to_vec())]),
                        ..house.ask(method, &path, token)
                    };
                    let ask = if method == "GET" { Ask { body: Vec::new(), ..ask } } else { ask };
                    let answer = crate::page::client::raw(at, &ask.bytes()).unwrap();
                    let wanted = expected(method, *role, inside, row.look, row.act);
                    let (got, at) = (answer.status, format!("{method} {path} {role:?} {inside}"));
                    if wanted == 200 {
                        let_through += 1;
                        assert!([200, 303, 404, 409, 422].contains(&got), "{at}: {got}");
                    } else {
                        assert_eq!(got, wanted, "{at}");
                    }
                }
            }
        }
    }
    assert!(let_through > table::paths().len(), "only {let_through} were let through");
    let (after, changed) = (house.state(), "something was changed without a key");
    assert!(before == after, "{changed}: {:?}", differing(&before, &after));
}

/// Files that are not what they were.
pub fn differing<'a>(
    before: &'a std::collections::BTreeMap<String, Vec<u8>>,
    after: &'a std::collections::BTreeMap<String, Vec<u8>>,
) -> Vec<&'a String> {
    let all = before.keys().chain(after.keys());
    let mut all: Vec<_> = all.filter(|path| before.get(*path) != after.get(*path)).collect();
    all.sort();
    all.dedup();
    all
}
