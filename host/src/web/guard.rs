//! Which request may do what: a function of the request and the rules, and of nothing else.
//!
//! Nothing is let through that is not named here. A deed needs all of it at once: a name this
//! server goes by, a page of its own as origin, a header no form can send, JSON, and the token
//! that may mark. Any web page open in the same browser has at most some of them.

use super::own::{self, Own};
pub use super::refusals::Refusal;
use super::stations::{StationPath, station};
use super::token::Token;
use trundle_show::live::page::press::PressKind;

/// The header no form and no link can send.
pub const OWN_HEADER: &str = "x-requested-by";
/// Value of that header.
pub const OWN_HEADER_VALUE: &str = "trundle";
/// Most bytes of a body.
pub const BODY_MAX: usize = 16 * 1024;
/// Most bytes of a form that was filled in: a rig or a course may be pasted whole.
pub const FORM_MAX: usize = 256 * 1024;
/// What a browser calls a form that was filled in (HTML, section 4.10.21.8).
const FORM: &str = "application/x-www-form-urlencoded";

/// What a token allows; more includes less.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// May look at the job.
    View,
    /// May look and mark.
    Mark,
    /// May do all that the program can do.
    Full,
}

/// What can be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Read {
    /// The page itself.
    Page,
    /// Style sheet of the page.
    Style,
    /// Script of the page.
    Script,
    /// Script of the stations.
    Forms,
    /// What it shows, as it changes.
    Now,
    /// The result that was calculated last.
    Result,
    /// The newest map of slip.
    Map,
    /// The handbook.
    Book,
}

/// A request that changes something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Give a press.
    Press(PressKind),
    /// Give a line as it would be typed.
    Line,
    /// Work the result so far.
    Result,
    /// Close the job.
    End,
}

/// A request, as far as it decides. A header that came twice is there twice.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Request<'a> {
    /// Method of the request.
    pub method: &'a str,
    /// The path without what follows a question mark.
    pub path: &'a str,
    /// The authority of a request in absolute form.
    pub authority: Option<&'a str>,
    /// Every `Host` header.
    pub hosts: Vec<&'a str>,
    /// Every `Origin` header.
    pub origins: Vec<&'a str>,
    /// Every header named [`OWN_HEADER`].
    pub own: Vec<&'a str>,
    /// Every `Sec-Fetch-Site` header.
    pub sites: Vec<&'a str>,
    /// Every `Content-Type` header.
    pub types: Vec<&'a str>,
    /// Every `Cookie` header.
    pub cookies: Vec<&'a str>,
    /// `Content-Length`, as far as it is a number.
    pub length: Option<u64>,
    /// It came over an address that only this computer has.
    pub inside: bool,
    /// Its sender guessed too often: wrong tokens are not looked at any further now.
    pub locked: bool,
    /// Its path is a link that was made for one use, and was not used yet.
    pub once: bool,
}

/// What holds for this server.
#[derive(Clone, Debug)]
pub struct Rules {
    /// Every `Host` it goes by.
    pub hosts: Vec<String>,
    /// Name of the cookie.
    pub cookie: String,
    /// The token that may look.
    pub view: Token,
    /// The token that may mark.
    pub mark: Token,
    /// The token that may do everything, where this server has stations.
    pub full: Option<Token>,
    /// The stations; none where a single job is served.
    pub stations: &'static [StationPath],
}

impl Rules {
    /// Nobody is let in.
    #[must_use]
    pub fn closed() -> Self {
        let (hosts, cookie) = (Vec::new(), String::new());
        let (view, mark) = (Token::new([0; 16]), Token::new([0; 16]));
        Self { hosts, cookie, view, mark, full: None, stations: &[] }
    }
}

/// What becomes of a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decision {
    /// Show this; what the device may do.
    Read(Read, Option<Role>),
    /// Let the device join.
    Join(Role),
    /// Show that this server is ours.
    Alive,
    /// Do what it asks.
    Do(Deed),
    /// Show a station; what the device may do.
    Look(Option<Role>),
    /// Take a form of a station.
    Act(Role),
    /// Do nothing, and say why.
    Refuse(Refusal),
}

/// The decision, and the wrong token that was shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Judged<'a> {
    /// What becomes of it.
    pub decision: Decision,
    /// A token that is none.
    pub guess: Option<&'a str>,
}

/// Judge one request by the rules.
#[must_use]
pub fn guard<'a>(request: &Request<'a>, rules: &Rules) -> Judged<'a> {
    let mut guess = None;
    let decision = judge(request, rules, &mut guess).unwrap_or_else(Decision::Refuse);
    Judged { decision, guess }
}

enum Route<'a> {
    Join(&'a str),
    Alive,
    Read(Read),
    Do(Deed),
    Station(&'static StationPath),
}

fn judge<'a>(
    request: &Request<'a>,
    rules: &Rules,
    guess: &mut Option<&'a str>,
) -> Result<Decision, Refusal> {
    if request.method == "OPTIONS" {
        return Err(Refusal::Options);
    }
    let host = own_host(request, rules).ok_or(Refusal::Host)?;
    let paths = rules.stations;
    match route(request.method, request.path, paths).ok_or(Refusal::Path)? {
        Route::Station(path) => visit(request, rules, host, path, guess),
        Route::Join(shown) => {
            method(request, "GET")?;
            by_hand(request)?;
            let once = request.once.then_some(Role::Full);
            let Some(joins) = role_of(shown, rules).max(once) else {
                return Err(wrong(request, shown, guess, Refusal::Link));
            };
            // A device that may mark goes on doing so, whatever link it is sent.
            let known = cookies(request, &rules.cookie).filter_map(|shown| role_of(shown, rules));
            Ok(Decision::Join(known.fold(joins, Role::max)))
        }
        // Another start of the program asks, on this computer; no page of anybody's.
        Route::Alive => {
            method(request, "GET")?;
            from_page(request)?;
            if request.inside { Ok(Decision::Alive) } else { Err(Refusal::Path) }
        }
        Route::Read(what) => {
            method(request, "GET")?;
            let files = matches!(what, Read::Style | Read::Script | Read::Forms);
            let role = role(request, rules, guess);
            if !files && !request.inside && role.is_none() {
                return Err(if request.locked { Refusal::Locked } else { Refusal::Token });
            }
            // A stream takes a seat; no other site may take one.
            if what == Read::Now {
                from_page(request)?;
            }
            Ok(Decision::Read(what, role))
        }
        Route::Do(deed) => {
            method(request, "POST")?;
            fits(request, BODY_MAX)?;
            from_page(request)?;
            own_origin(request, host)?;
            at_least(Role::Mark, role(request, rules, guess), request)?;
            match request.types[..] {
                ["application/json" | "application/json; charset=utf-8"] => Ok(Decision::Do(deed)),
                _ => Err(Refusal::NotJson),
            }
        }
    }
}

/// May what was typed be shown again to whoever was refused for this reason? Only a form that a
/// page of ours sent from the same browser: what another site sends is never given back.
#[must_use]
pub fn gives_back(why: Refusal, request: &Request<'_>, rules: &Rules) -> bool {
    let ours = |host| own_origin(request, host).is_ok();
    let site = matches!(request.sites[..], [] | ["same-origin"]);
    let form = request.method == "POST" && request.types == [FORM];
    let acts = station(rules.stations, request.path).is_some_and(|path| path.act.is_some());
    why == Refusal::Token
        && form
        && acts
        && site
        && fits(request, FORM_MAX).is_ok()
        && own_host(request, rules).is_some_and(ours)
}

/// A station: looked at, or a form of it taken.
fn visit<'a>(
    request: &Request<'a>,
    rules: &Rules,
    host: &str,
    path: &StationPath,
    guess: &mut Option<&'a str>,
) -> Result<Decision, Refusal> {
    if request.method == "GET" {
        let role = role(request, rules, guess);
        // Whoever sits at this computer may look at a job without having joined.
        if !(request.inside && role.is_none() && path.look == Role::View) {
            at_least(path.look, role, request)?;
        }
        return Ok(Decision::Look(role));
    }
    method(request, "POST")?;
    let needed = path.act.ok_or(Refusal::Method)?;
    fits(request, FORM_MAX)?;
    // A form is sent by the browser itself, which cannot be given a header of ours: where it is
    // from stands in its origin, and in a key that only our own pages hold.
    if !matches!(request.sites[..], [] | ["same-origin"]) {
        return Err(Refusal::Origin);
    }
    own_origin(request, host)?;
    let role = at_least(needed, role(request, rules, guess), request)?;
    if request.types == [FORM] { Ok(Decision::Act(role)) } else { Err(Refusal::NotForm) }
}

/// The length first: a long body is not worth a look at anything else.
fn fits(request: &Request<'_>, most: usize) -> Result<(), Refusal> {
    match request.length {
        Some(length) if length > most as u64 => Err(Refusal::TooLong),
        _ => Ok(()),
    }
}

fn own_origin(request: &Request<'_>, host: &str) -> Result<(), Refusal> {
    let own = request.origins == [format!("http://{host}").as_str()];
    if own { Ok(()) } else { Err(Refusal::Origin) }
}

fn at_least(needed: Role, role: Option<Role>, request: &Request<'_>) -> Result<Role, Refusal> {
    match role {
        Some(role) if role >= needed => Ok(role),
        None if request.locked => Err(Refusal::Locked),
        _ => Err(Refusal::Token),
    }
}

fn route<'a>(method: &str, path: &'a str, paths: &'static [StationPath]) -> Option<Route<'a>> {
    if let Some(shown) = path.strip_prefix("/join/") {
        return Some(Route::Join(shown));
    }
    if !paths.is_empty() && path.starts_with("/alive/") {
        return Some(Route::Alive);
    }
    if let Some(station) = station(paths, path) {
        return Some(Route::Station(station));
    }
    Some(match own::at(method, path, !paths.is_empty())? {
        Own::Read(what) => Route::Read(what),
        Own::Do(deed) => Route::Do(deed),
    })
}

/// The one `Host`, if the server goes by it: as a whole, since a beginning would let
/// `localhost.example` pass.
fn own_host<'a>(request: &Request<'a>, rules: &Rules) -> Option<&'a str> {
    let [host] = request.hosts[..] else { return None };
    let named = request.authority.is_none_or(|authority| authority == host);
    (named && rules.hosts.iter().any(|own| own == host)).then_some(host)
}

fn method(request: &Request<'_>, wanted: &str) -> Result<(), Refusal> {
    if request.method == wanted { Ok(()) } else { Err(Refusal::Method) }
}

/// The page's own script sent it: browsers that say so say `same-origin`, and all need leave of
/// the server, which never gives it, before another site sends this header.
fn from_page(request: &Request<'_>) -> Result<(), Refusal> {
    let site = matches!(request.sites[..], [] | ["same-origin"]);
    if site && request.own == [OWN_HEADER_VALUE] { Ok(()) } else { Err(Refusal::Origin) }
}

/// A person opened the link: typed, scanned, from another program or from this page. Any page can
/// send its browser to a link, and then neither lets the device join nor counts as its guess; a
/// right one gets the same answer as a wrong one. Browsers say where a request is from to
/// addresses of this computer, not to those of a network without encryption.
fn by_hand(request: &Request<'_>) -> Result<(), Refusal> {
    match request.sites[..] {
        [] | ["none" | "same-origin"] => Ok(()),
        _ => Err(Refusal::Elsewhere),
    }
}

/// Why a wrong token is refused. It is a guess, unless its sender is locked already.
fn wrong<'a>(
    request: &Request<'a>,
    shown: &'a str,
    guess: &mut Option<&'a str>,
    why: Refusal,
) -> Refusal {
    if request.locked {
        return Refusal::Locked;
    }
    *guess = Some(shown);
    why
}

/// What the cookie allows. The token comes first, whatever others at the same address did.
fn role<'a>(request: &Request<'a>, rules: &Rules, guess: &mut Option<&'a str>) -> Option<Role> {
    let role = cookies(request, &rules.cookie).filter_map(|shown| role_of(shown, rules)).max();
    if role.is_none()
        && let Some(shown) = cookies(request, &rules.cookie).next()
    {
        wrong(request, shown, guess, Refusal::Token);
    }
    role
}

fn role_of(shown: &str, rules: &Rules) -> Option<Role> {
    // All are compared, so that the time reveals nothing.
    let (view, mark) = (rules.view.is(shown), rules.mark.is(shown));
    let full = rules.full.as_ref().is_some_and(|full| full.is(shown));
    match (full, mark, view) {
        (true, _, _) => Some(Role::Full),
        (_, true, _) => Some(Role::Mark),
        (_, _, view) => view.then_some(Role::View),
    }
}

/// Every cookie of that name. Other servers at the same address share a browser's cookies, and
/// may set some of this name beside the right one.
fn cookies<'a, 'b>(request: &Request<'a>, name: &'b str) -> impl Iterator<Item = &'a str> + 'b
where
    'a: 'b,
{
    let line = if let [line] = request.cookies[..] { line } else { "" };
    let pairs = line.split(';').filter_map(|pair| pair.trim().split_once('='));
    pairs.filter(move |(other, _)| *other == name).map(|(_, value)| value)
}
