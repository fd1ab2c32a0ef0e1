//! One request: judged, then answered.

use super::answers::{
    CSS, EVENTS, HTML, JS, JSON, TEXT, answer, drawing, file, joined, refusal, result, see,
};
use super::doors::Peer;
use super::guard::{
    BODY_MAX, Decision, Deed, FORM_MAX, OWN_HEADER, Read, Refusal, Request, Role, gives_back, guard,
};
use super::hub::{Shared, lock};
use super::seats::{Doing, PATIENCE, Seat};
use super::stations::{Reply, Visit, pairs};
use super::streams::{Page, STREAMS};
use super::{Ask, answers, spoken};
use axum::body::{Body, Bytes, to_bytes};
use axum::extract::{ConnectInfo, State};
use axum::http::{self, HeaderMap, Response};
use serde::Serialize;
use std::convert::Infallible;
use std::pin::Pin;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex};
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::sync::oneshot;
use tokio::time::{Instant, timeout};
use tokio_stream::Stream;
use tokio_stream::wrappers::WatchStream;
use trundle_show::book::served;
use trundle_show::html::with_handbook;
use trundle_show::live::page::document::{Form, document};
use trundle_show::live::page::press::{LineRequest, PressRequest};
use trundle_show::live::page::{SCRIPT, STYLE};
use trundle_show::stations;
use trundle_show::stations::refused::{Sent, page};
use trundle_show::tongue::Tongue;

/// A page that broke down touches nothing else.
const BROKE: &str = "This page could not be made: a fault of the program. Nothing that is recorded \
    or saved was touched. Go back and try again, and report it.\n";
/// What stands before the token in a link.
const JOIN: &str = "/join/";
/// A press is answered that it waits when it has no answer after this; it then asks again.
const ANSWER_WAIT: Duration = Duration::from_millis(2500);

/// Answer a request.
pub(super) async fn handle(
    State(shared): State<Arc<Shared>>,
    ConnectInfo(peer): ConnectInfo<Peer>,
    request: http::Request<Body>,
) -> Response<Body> {
    peer.seat.does(Doing::Asking);
    let came_ns = shared.now_ns();
    let decision = judged(&shared, &peer, &request);
    let path = request.uri().path();
    let tongue = spoken::wanted(request.headers());
    let is_book = matches!(decision, Decision::Read(Read::Book, _));
    let response = match decision {
        Decision::Refuse(why) => refused(&shared, why, peer.inside, request).await,
        Decision::Alive => {
            let answered = shared.answer(path.trim_start_matches("/alive/"));
            answered.map_or_else(|| refusal(Refusal::Path), |digits| answer(200, TEXT, digits))
        }
        Decision::Join(role) => {
            shared.use_up(path.trim_start_matches(JOIN));
            let rules = shared.rules();
            let token = match role {
                Role::View => &rules.view,
                Role::Mark => &rules.mark,
                Role::Full => rules.full.as_ref().unwrap_or(&rules.mark),
            };
            joined(&rules.cookie, &token.link())
        }
        Decision::Read(Read::Now, role) => {
            let name = request.uri().query().unwrap_or("");
            let page = Page::new(role, name, peer.address, Arc::clone(&peer.seat));
            if let Some(stream) = stream(&shared, page, tongue) {
                return stream;
            }
            answer(503, TEXT, full())
        }
        Decision::Read(Read::Book, _) => book(&shared, tongue).await,
        Decision::Read(what, role) => read(&shared, what, role),
        Decision::Do(deed) => act(&shared, deed, came_ns, request.into_body()).await,
        Decision::Look(role) => {
            let visit = visit(&request, role, peer.inside);
            station(&shared, visit, None).await
        }
        Decision::Act(role) => {
            let visit = visit(&request, Some(role), peer.inside);
            match timeout(PATIENCE, to_bytes(request.into_body(), FORM_MAX)).await {
                Ok(Ok(body)) => station(&shared, visit, Some(pairs(&body))).await,
                _ => refusal(Refusal::TooLong),
            }
        }
    };
    // The handbook was made in its language.
    let response = match is_book {
        true => response,
        false => spoken::said(response, tongue).await,
    };
    peer.seat.does(Doing::Idle(Instant::now()));
    response
}

fn judged(shared: &Shared, peer: &Peer, request: &http::Request<Body>) -> Decision {
    // Seconds of the person's time, whatever the pace of practice.
    let now_s = shared.age_s();
    let locked = lock(&shared.guesses).locked(peer.address, now_s);
    let shown = request.uri().path().strip_prefix(JOIN);
    let once = shown.is_some_and(|shown| shared.is_once(shown));
    let parts = Request { once, ..parts(request, peer.inside, locked) };
    let judged = guard(&parts, &shared.rules());
    if let Some(guess) = judged.guess {
        lock(&shared.guesses).wrong(peer.address, guess, now_s);
    }
    judged.decision
}

/// What is refused: as a page where a browser is to show it, with what was typed into a form of
/// ours: nothing was done with it, and nothing of it is lost.
async fn refused(
    shared: &Shared,
    why: Refusal,
    inside: bool,
    request: http::Request<Body>,
) -> Response<Body> {
    let accepts = all(request.headers(), "accept");
    let rights = matches!(why, Refusal::Token | Refusal::Link | Refusal::Locked);
    if !(rights && accepts.iter().any(|kinds| kinds.contains("text/html"))) {
        return refusal(why);
    }
    let back = gives_back(why, &parts(&request, inside, false), &shared.rules());
    let path = request.uri().path().to_owned();
    let posted = request.method() == http::Method::POST;
    let typed = match back {
        true => match timeout(PATIENCE, to_bytes(request.into_body(), FORM_MAX)).await {
            Ok(Ok(body)) => Some(pairs(&body)),
            _ => return refusal(Refusal::TooLong),
        },
        false => None,
    };
    let said = [why.to_string(), why.means().to_owned(), why.next().to_owned()];
    let sent = match &typed {
        Some(pairs) => Sent::Form(&path, pairs),
        None if posted => Sent::Lost,
        None => Sent::Nothing,
    };
    // A form is on it: as with every page of a station, the browser has to say where that is from.
    let mut response = answers::page(why.status(), page(&said, inside, sent));
    let close = http::HeaderValue::from_static("close");
    response.headers_mut().insert(http::header::CONNECTION, close);
    response
}

fn visit(request: &http::Request<Body>, role: Option<Role>, inside: bool) -> Visit {
    let path = request.uri().path().to_owned();
    Visit { path, query: pairs(request.uri().query().unwrap_or("").as_bytes()), role, inside }
}

/// Ask a station, on a thread of its own: it may read files, and streams must not wait for it.
async fn station(
    shared: &Arc<Shared>,
    visit: Visit,
    form: Option<Vec<(String, String)>>,
) -> Response<Body> {
    let Some(stations) = shared.stations() else { return refusal(Refusal::Path) };
    let given = tokio::task::spawn_blocking(move || match form {
        Some(form) => stations.act(&visit, &form),
        None => stations.look(&visit),
    });
    match given.await {
        Ok(Reply::Page(status, page)) => answers::page(status, page),
        Ok(Reply::Paper(page)) => result(page),
        Ok(Reply::Drawing(svg)) => drawing(svg),
        Ok(Reply::See(path)) => see(&path),
        Ok(Reply::File { name, bytes }) => file(&name, bytes),
        Err(_) => answer(500, TEXT, BROKE),
    }
}

fn parts(request: &http::Request<Body>, inside: bool, locked: bool) -> Request<'_> {
    let headers = request.headers();
    Request {
        method: request.method().as_str(),
        path: request.uri().path(),
        authority: request.uri().authority().map(http::uri::Authority::as_str),
        hosts: all(headers, "host"),
        origins: all(headers, "origin"),
        own: all(headers, OWN_HEADER),
        sites: all(headers, "sec-fetch-site"),
        types: all(headers, "content-type"),
        cookies: all(headers, "cookie"),
        length: all(headers, "content-length").first().and_then(|length| length.parse().ok()),
        inside,
        locked,
        once: false,
    }
}

/// Every header of that name; one that is no text is an empty one, which is nowhere allowed.
fn all<'a>(headers: &'a HeaderMap, name: &str) -> Vec<&'a str> {
    headers.get_all(name).iter().map(|value| value.to_str().unwrap_or("")).collect()
}

fn read(shared: &Shared, what: Read, role: Option<Role>) -> Response<Body> {
    match what {
        Read::Style => answer(200, CSS, format!("{STYLE}{}", stations::STYLE)),
        Read::Forms => answer(200, JS, stations::SCRIPT),
        Read::Script => answer(200, JS, SCRIPT),
        Read::Result => match lock(&shared.result).clone() {
            Some(page) => {
                shared.taken.fetch_add(1, Ordering::SeqCst);
                result(with_handbook(&page))
            }
            None => {
                answer(404, TEXT, "No result has been calculated yet. Go back and calculate it.\n")
            }
        },
        Read::Map => match lock(&shared.map).to_string() {
            map if map.is_empty() => answer(404, TEXT, "There is no map yet.\n"),
            map => drawing(map),
        },
        Read::Page | Read::Now | Read::Book => {
            let Some(job) = shared.job() else { return see("/") };
            let marks = role >= Some(Role::Mark);
            let form = Form { marks, kind: job.kind, lines: job.lines, after: job.after };
            let shown = lock(&shared.last).clone();
            answer(200, HTML, document(job.title, shown.as_ref(), form))
        }
    }
}

/// The handbook, which is made in each language by itself.
async fn book(shared: &Shared, tongue: Tongue) -> Response<Body> {
    let Some(made) = shared.handbook() else {
        return spoken::said(refusal(Refusal::Path), tongue).await;
    };
    // The first time it takes a while, for which presses must not wait.
    match tokio::task::spawn_blocking(move || served(made(tongue), tongue)).await {
        Ok(page) => answers::book(page),
        Err(_) => answer(500, TEXT, BROKE),
    }
}

async fn act(shared: &Shared, deed: Deed, came_ns: u64, body: Body) -> Response<Body> {
    let Ok(Ok(body)) = timeout(PATIENCE, to_bytes(body, BODY_MAX)).await else {
        return refusal(Refusal::TooLong);
    };
    let kind = match deed {
        Deed::Press(kind) => kind,
        Deed::Line => return line(shared, came_ns, &body).await,
        Deed::Result => return work(shared).await,
        Deed::End => return end(shared).await,
    };
    let sent: Option<PressRequest> = serde_json::from_slice(&body).ok();
    let press = sent.and_then(|sent| Some((sent.key()?, sent.wish(kind)?)));
    let Some((key, wish)) = press else {
        return answer(400, TEXT, "The press is not whole. Nothing was marked. Press again.\n");
    };
    let give = |reply| Ask::Press { key, host_ns: came_ns, wish, reply };
    let Some(answered) = ask(shared, give) else { return busy() };
    match timeout(ANSWER_WAIT, answered).await {
        Ok(Ok(answered)) => json(&answered),
        _ => answer(200, JSON, r#"{"answer":"waiting","stands":false,"words":""}"#),
    }
}

async fn line(shared: &Shared, came_ns: u64, body: &[u8]) -> Response<Body> {
    let sent: Option<LineRequest> = serde_json::from_slice(body).ok();
    let Some((key, text)) = sent.and_then(|sent| Some((sent.key()?, sent.line()?))) else {
        return answer(400, TEXT, "Nothing was typed. Nothing was saved. Type it again.\n");
    };
    let give = |reply| Ask::Line { key, host_ns: came_ns, text, reply };
    let Some(answered) = ask(shared, give) else { return busy() };
    match timeout(ANSWER_WAIT, answered).await {
        Ok(Ok(answered)) => json(&answered),
        _ => busy(),
    }
}

/// Ask the job; `None` when it is busy or over.
fn ask<T>(
    shared: &Shared,
    what: impl FnOnce(oneshot::Sender<T>) -> Ask,
) -> Option<oneshot::Receiver<T>> {
    let (reply, answered) = oneshot::channel();
    let asks = shared.job()?.asks;
    asks.try_send(what(reply)).ok().map(|()| answered)
}

async fn work(shared: &Shared) -> Response<Body> {
    let Some(worked) = ask(shared, Ask::Result) else { return busy() };
    match worked.await {
        Ok(Ok(page)) => {
            *lock(&shared.result) = Some(page);
            let words = "The result is calculated.";
            json(&serde_json::json!({"answer": "done", "stands": true, "words": words}))
        }
        Ok(Err(words)) => {
            json(&serde_json::json!({"answer": "not_due", "stands": false, "words": words}))
        }
        Err(_) => busy(),
    }
}

async fn end(shared: &Shared) -> Response<Body> {
    let Some(answered) = ask(shared, Ask::End) else { return busy() };
    match timeout(ANSWER_WAIT, answered).await {
        Ok(Ok(answered)) => json(&answered),
        _ => busy(),
    }
}

fn json(answered: &impl Serialize) -> Response<Body> {
    serde_json::to_string(answered).map_or_else(|_| busy(), |json| answer(200, JSON, json))
}

fn busy() -> Response<Body> {
    answer(503, TEXT, "The job is busy or over. Nothing is lost: the same press is sent again.\n")
}

/// What is shown, as it changes; `None` when there is no place for the page.
fn stream(shared: &Shared, page: Page, tongue: Tongue) -> Option<Response<Body>> {
    let seat = page.seat();
    let ended = lock(&shared.streams).open(page, Instant::now())?;
    let pictures = WatchStream::new(shared.pictures());
    let last_said = Arc::clone(&shared.last_said);
    Some(answer(
        200,
        EVENTS,
        Body::from_stream(Pictures { pictures, ended, seat, tongue, last_said }),
    ))
}

fn full() -> String {
    format!("{STREAMS} pages are open already. Close one of them; this one then goes on by itself.")
}

/// The last picture that was said in another language than English: which, of which, and it.
pub(super) type LastSaid = Mutex<Option<(Tongue, Arc<str>, Arc<str>)>>;

/// The newest picture, again and again, until the page or the job ends.
struct Pictures {
    pictures: WatchStream<Arc<str>>,
    ended: oneshot::Receiver<()>,
    seat: Arc<Seat>,
    tongue: Tongue,
    last_said: Arc<LastSaid>,
}

impl Drop for Pictures {
    fn drop(&mut self) {
        self.seat.does(Doing::Idle(Instant::now()));
    }
}

impl Pictures {
    /// A picture in the language of its page; said once for all pages of a language.
    fn said(&self, picture: &Arc<str>) -> Arc<str> {
        if self.tongue == Tongue::English {
            return Arc::clone(picture);
        }
        let mut last = lock(&self.last_said);
        match &*last {
            Some((tongue, english, said))
                if *tongue == self.tongue && Arc::ptr_eq(english, picture) =>
            {
                Arc::clone(said)
            }
            _ => {
                let said: Arc<str> = self.tongue.json(picture).into();
                *last = Some((self.tongue, Arc::clone(picture), Arc::clone(&said)));
                said
            }
        }
    }
}

impl Stream for Pictures {
    type Item = Result<Bytes, Infallible>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        if Pin::new(&mut self.ended).poll(context).is_ready() {
            return Poll::Ready(None);
        }
        loop {
            match Pin::new(&mut self.pictures).poll_next(context) {
                // Nothing is shown before the first look.
                Poll::Ready(Some(json)) if json.is_empty() => {}
                next => {
                    let block =
                        |json: Arc<str>| Ok(Bytes::from(format!("data: {}\n\n", self.said(&json))));
                    return next.map(|json| json.map(block));
                }
            }
        }
    }
}
