//! Thousands of generated requests over all paths: nothing changes without every right.

use super::forms::Page;
use super::house::{Ask, FORM, House, encoded};
use super::rights::differing;
use std::collections::BTreeMap;
use std::time::{Instant, SystemTime};
use trundle::stations::table;
use trundle::web::guard::Role;
use trundle::web::own::OWN;

/// How many are asked; `.ci/71-requests.sh` asks a quick build five times as many.
const REQUESTS: usize = 2_000;
const HOW_MANY: &str = "TRUNDLE_REQUESTS";
/// A seed to repeat a run with.
const SEED: &str = "TRUNDLE_REQUESTS_SEED";
/// Stations at which a form with every right would end the program, its links or the quiet of its
/// folder: there the key is never right.
const NEVER: [&str; 14] = [
    "/close",
    "/settings/devices",
    "/check",
    "/drive",
    "/proof",
    "/pto",
    "/antenna",
    "/speeds",
    "/slip",
    "/bus",
    "/bench",
    "/practice",
    "/verify",
    "/settings",
];
const METHODS: [&str; 7] = ["PUT", "DELETE", "OPTIONS", "HEAD", "post", "PATCH", "TRACE"];
const VALUES: [&str; 9] = [
    "=1+1",
    "<script>alert(1)</script>",
    "\u{202e}txt",
    "\0\u{1b}[31m",
    "../../etc/passwd",
    "-1",
    "yes",
    "--for-good",
    "100 m",
];

/// Numbers of chance (SplitMix64; common practice, no source).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, most: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        usize::try_from((z ^ (z >> 31)) % most as u64).unwrap()
    }

    /// True but for one time of twenty.
    fn right(&mut self) -> bool {
        self.roll(20) > 0
    }

    fn pick<'a, T: ?Sized>(&mut self, from: &[&'a T]) -> &'a T {
        from[self.roll(from.len())]
    }
}

/// Keys of a form, and names and values of its fields.
type Filled = (Vec<String>, Vec<(String, Vec<u8>)>);

/// What is known of the program before it is asked.
struct Known {
    house: House,
    /// Tokens with their rights, and wrong ones without.
    tokens: Vec<(String, Option<Role>)>,
    /// Paths of stations, and their least right to act.
    paths: Vec<(String, Option<Role>)>,
    /// By the path they are for.
    forms: BTreeMap<String, Filled>,
    old_key: String,
}

fn known() -> Known {
    let first = House::start();
    first.fill();
    let old_key = first.form("/settings", "/settings").value("key").to_owned();
    let old_token = first.full.clone();
    let house = first.again();
    let mut tokens = vec![(house.full.clone(), Some(Role::Full)); 6];
    if let Some([view, mark]) = house.tokens() {
        tokens.extend([(view, Some(Role::View)), (mark, Some(Role::Mark))]);
    }
    // Few wrong ones: many would lock this sender out, and hide what else would be said.
    for wrong in [&old_token, "", "0", &"f".repeat(32)] {
        tokens.push((wrong.to_owned(), None));
    }
    let names = ["tractor", "rig", "x%2F..%2Fy", "%3Cscript%3E"];
    let mut paths = Vec::new();
    for row in table::paths() {
        match row.path.strip_suffix('*') {
            None => paths.push((row.path.to_owned(), row.act)),
            Some(front) => {
                paths.extend(names.iter().map(|name| (format!("{front}{name}"), row.act)));
            }
        }
    }
    // A path that names another row is that row.
    paths.iter_mut().for_each(|(path, act)| {
        *act = trundle::web::stations::station(table::paths(), path).unwrap().act;
    });
    let mut forms = BTreeMap::new();
    for (path, act) in &paths {
        let page = house.get(path);
        if act.is_none() || page.status != 200 || !page.head.contains("text/html") {
            continue;
        }
        for form in Page::read(&page.body).forms {
            let (keys, fields): &mut Filled = forms.entry(form.action.clone()).or_default();
            keys.push(form.value("key").to_owned());
            *fields = form.pairs();
        }
    }
    Known { house, tokens, paths, forms, old_key }
}

impl Known {
    /// A request, and whether it has every right to change something.
    fn request(&self, dice: &mut Dice, fresh: &mut Vec<(String, String)>) -> (Ask, bool) {
        let (house, own) = (&self.house, OWN.map(|own| own.0));
        let (token, role) = self.tokens[dice.roll(self.tokens.len())].clone();
        if dice.roll(6) == 0 {
            let junk = ["/join/x", "/alive/x", "//", "/rig/", "/..%2f", "/live/x", "*", "/LIVE"];
            let path = if dice.right() { own[dice.roll(own.len())] } else { dice.pick(&junk) };
            let path = if path == "/now" { "/now?page=x" } else { path };
            // Nothing is recorded: there is nothing that a press could change.
            let mut ask = house.ask(dice.pick(&["GET", "POST"]), path, &token);
            ask.kinds = vec!["application/json"];
            if path != "/now?page=x" && dice.right() {
                ask.more.push("X-Requested-By: trundle");
            }
            ask.body = br#"{"key":"1","text":"x"}"#.to_vec();
            return (ask, false);
        }
        let (path, act) = loop {
            let one = &self.paths[dice.roll(self.paths.len())];
            // A form of ours is where a hole would be.
            if dice.roll(3) == 0 || self.forms.contains_key(&one.0) {
                break one;
            }
        };
        let mut right = act.is_some() && role >= *act;
        let method = if dice.roll(8) > 0 { "POST" } else { "GET" };
        let other = dice.pick(&METHODS);
        let method = if dice.right() { method } else { other };
        right &= method == "POST";
        let mut ask = Ask { kinds: vec![FORM], ..house.ask(method, path, &token) };
        ask.origins = vec![format!("http://{}", house.at)];
        if !dice.right() {
            let own = house.at.to_string();
            let wrong = [&[][..], &["localhost.example"], &[own.as_str(), &own], &["127.0.0.1"]];
            ask.hosts = wrong[dice.roll(4)].iter().map(|host| (*host).to_owned()).collect();
            right = false;
        }
        if !dice.right() {
            let own = format!("http://{}", house.at);
            let wrong = [&[][..], &["null"], &["http://example.invalid"], &[own.as_str(), &own]];
            ask.origins = wrong[dice.roll(4)].iter().map(|one| (*one).to_owned()).collect();
            right = false;
        }
        if !dice.right() {
            let wrong = [&[][..], &["text/plain"], &["multipart/form-data"], &[FORM, FORM]];
            ask.kinds = wrong[dice.roll(4)].to_vec();
            right = false;
        }
        if !dice.right() {
            ask.more.push(dice.pick(&["Sec-Fetch-Site: cross-site", "Sec-Fetch-Site: same-site"]));
            right = false;
        }
        right &= self.fill(path, &mut ask, dice, fresh);
        (ask, right)
    }

    /// Fill the form in; tells whether its key is right.
    fn fill(
        &self,
        path: &str,
        ask: &mut Ask,
        dice: &mut Dice,
        fresh: &mut Vec<(String, String)>,
    ) -> bool {
        let none = (Vec::new(), Vec::new());
        let (keys, fields) = self.forms.get(path).unwrap_or(&none);
        let mut pairs: Vec<_> = fields.iter().filter(|(name, _)| name != "key").cloned().collect();
        for (_, value) in &mut pairs {
            if dice.roll(3) == 0 {
                *value = dice.pick(&VALUES).as_bytes().to_vec();
            }
        }
        for name in ["do", "deed", "press", "sure"] {
            if dice.roll(8) == 0 {
                let values =
                    ["add", "edit", "remove", "use", "sure", "yes", "new-job", "calculate"];
                pairs.push((name.to_owned(), dice.pick(&values).as_bytes().to_vec()));
            }
        }
        let own = fresh.iter().position(|(at, _)| at == path).map(|at| fresh.remove(at).1);
        let own = own.or_else(|| keys.get(dice.roll(keys.len().max(1))).cloned());
        let other = self.forms.iter().find(|(at, _)| *at != path).unwrap().1.0[0].clone();
        let right = !NEVER.contains(&path) && dice.roll(3) > 0 && own.is_some();
        let key = match (right, dice.roll(4)) {
            (true, _) => own.unwrap(),
            (_, 0) => other,
            (_, 1) => self.old_key.clone(),
            (_, 2) => "0".repeat(64),
            _ => String::new(),
        };
        pairs.push(("key".to_owned(), key.into_bytes()));
        ask.body = encoded(&pairs);
        right
    }
}

#[test]
fn thousands_of_requests_change_nothing_without_every_right() {
    let said = |name| std::env::var(name).ok().and_then(|said| said.parse().ok());
    let requests = said(HOW_MANY).map_or(REQUESTS, |said| usize::try_from(said).unwrap());
    let seed = said(SEED).unwrap_or_else(|| {
        SystemTime::UNIX_EPOCH.elapsed().unwrap().as_nanos() as u64 % 1_000_000_007
    });
    println!("{SEED}={seed}");
    let (known, mut dice, mut fresh) = (known(), Dice(seed), Vec::new());
    let began = Instant::now();
    let (mut marks, mut state) = (known.house.marks(), known.house.state());
    let (mut righted, mut changed, mut through) = (0, 0, 0);
    for n in 0..requests {
        let (ask, right) = known.request(&mut dice, &mut fresh);
        let told = format!("{SEED}={seed}, request {n}: {ask:?}");
        let answer = crate::page::client::raw(known.house.at, &ask.bytes());
        // Not every malformed request is worth an answer; the program goes on.
        let status = answer.as_ref().map_or(0, |answer| answer.status);
        assert_ne!(status, 500, "{told}");
        righted += usize::from(right);
        if right {
            assert!(![403, 405, 415, 421, 429].contains(&status), "{status}: {told}");
        }
        if let Some(answer) = answer.filter(|one| one.head.contains("text/html")) {
            through += 1;
            if right {
                let forms = Page::read(&answer.body).forms.into_iter();
                let keys = forms.map(|form| (form.action.clone(), form.value("key").to_owned()));
                fresh.extend(keys.filter(|(_, key)| !key.is_empty()));
                let len = fresh.len();
                fresh.drain(..len.saturating_sub(200));
            }
        }
        let now = known.house.marks();
        if now == marks {
            continue;
        }
        let is = known.house.state();
        assert!(right || is == state, "{told}\nchanged {:?}", differing(&state, &is));
        changed += usize::from(is != state);
        (marks, state) = (now, is);
    }
    let took = began.elapsed();
    println!("{requests} in {took:?}: {righted} had every right, {changed} changed something");
    println!("{through} were answered with a page");
    assert!(
        righted > requests / 50 && changed > requests / 500,
        "{righted} right, {changed} changed"
    );
    assert_eq!(known.house.get("/").status, 200);
}
