//! One request: judged, then answered.

use super::Ask;
use super::answers::{CSS, EVENTS, HTML, JS, JSON, TEXT, answer, drawing, joined, refusal, result};
use super::doors::Peer;
use super::guard::{
    BODY_MAX, Decision, Deed, OWN_HEADER, Read, Refusal, Request, Role, Rules, guard,
};
use super::guesses::Guesses;
use super::seats::{Doing, PATIENCE, Seat};
use super::streams::{Page, STREAMS, Streams};
use crate::shell::clock::Clock;
use axum::body::{Body, Bytes, to_bytes};
use axum::extract::{ConnectInfo, State};
use axum::http::{self, HeaderMap, Response};
use serde::Serialize;
use std::convert::Infallible;
use std::pin::Pin;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::SyncSender;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::sync::{oneshot, watch};
use tokio::time::{Instant, timeout};
use tokio_stream::Stream;
use tokio_stream::wrappers::WatchStream;
use trundle_show::live::page::document::{Form, document};
use trundle_show::live::page::press::PressRequest;
use trundle_show::live::page::{SCRIPT, STYLE};

/// A press is answered that it waits when it has no answer after this; it then asks again.
const ANSWER_WAIT: Duration = Duration::from_millis(2500);

/// What all requests share.
pub(super) struct Shared {
    /// They change when all that joined are to join again.
    pub rules: Mutex<Rules>,
    pub title: String,
    pub passes: bool,
    pub clock: Clock,
    pub asks: SyncSender<Ask>,
    pub now: watch::Receiver<Arc<str>>,
    /// Streams that go out.
    pub streams: Mutex<Streams>,
    pub guesses: Mutex<Guesses>,
    pub result: Mutex<Option<String>>,
    /// The newest map; empty: none yet.
    pub map: Mutex<Arc<str>>,
    /// How often the result was given out.
    pub taken: AtomicUsize,
}

impl Shared {
    /// Whoever joined has to join again, with these rules.
    pub fn begin_again(&self, rules: Rules) {
        *lock(&self.rules) = rules;
        // Whoever was locked out guessed at links that are none any more.
        *lock(&self.guesses) = Guesses::default();
        lock(&self.streams).clear(Instant::now());
    }

    /// The result of the job that is over; how many pages listen.
    pub fn last_result(&self, page: String) -> usize {
        *lock(&self.result) = Some(page);
        self.taken.store(0, Ordering::SeqCst);
        lock(&self.streams).listening()
    }
}

pub(super) fn lock<T>(of: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Answer a request.
pub(super) async fn handle(
    State(shared): State<Arc<Shared>>,
    ConnectInfo(peer): ConnectInfo<Peer>,
    request: http::Request<Body>,
) -> Response<Body> {
    peer.seat.does(Doing::Asking);
    let came_ns = shared.clock.now_ns();
    let decision = judged(&shared, &peer, &request);
    let response = match decision {
        Decision::Refuse(why) => refusal(why),
        Decision::Join(role) => {
            let rules = lock(&shared.rules);
            let token = if role == Role::Mark { &rules.mark } else { &rules.view };
            joined(&rules.cookie, &token.link())
        }
        Decision::Read(Read::Now, role) => {
            let name = request.uri().query().unwrap_or("");
            let page = Page::new(role, name, peer.address, Arc::clone(&peer.seat));
            if let Some(stream) = stream(&shared, page) {
                return stream;
            }
            answer(503, TEXT, full())
        }
        Decision::Read(what, role) => read(&shared, what, role),
        Decision::Do(deed) => act(&shared, deed, came_ns, request.into_body()).await,
    };
    peer.seat.does(Doing::Idle(Instant::now()));
    response
}

fn judged(shared: &Shared, peer: &Peer, request: &http::Request<Body>) -> Decision {
    // Seconds of the person's time, whatever the pace of practice.
    let now_s = shared.clock.age_s(0);
    let locked = lock(&shared.guesses).locked(peer.address, now_s);
    let parts = parts(request, peer.inside, locked);
    let judged = guard(&parts, &lock(&shared.rules));
    if let Some(guess) = judged.guess {
        lock(&shared.guesses).wrong(peer.address, guess, now_s);
    }
    judged.decision
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
    }
}

/// Every header of that name; one that is no text is an empty one, which is nowhere allowed.
fn all<'a>(headers: &'a HeaderMap, name: &str) -> Vec<&'a str> {
    headers.get_all(name).iter().map(|value| value.to_str().unwrap_or("")).collect()
}

fn read(shared: &Shared, what: Read, role: Option<Role>) -> Response<Body> {
    match what {
        Read::Style => answer(200, CSS, STYLE),
        Read::Script => answer(200, JS, SCRIPT),
        Read::Result => match lock(&shared.result).clone() {
            Some(page) => {
                shared.taken.fetch_add(1, Ordering::SeqCst);
                result(page)
            }
            None => {
                answer(404, TEXT, "No result has been calculated yet. Go back and calculate it.\n")
            }
        },
        Read::Map => match lock(&shared.map).to_string() {
            map if map.is_empty() => answer(404, TEXT, "There is no map yet.\n"),
            map => drawing(map),
        },
        Read::Page | Read::Now => {
            let form = Form { marks: role == Some(Role::Mark), passes: shared.passes };
            answer(200, HTML, document(&shared.title, None, form))
        }
    }
}

async fn act(shared: &Shared, deed: Deed, came_ns: u64, body: Body) -> Response<Body> {
    let Ok(Ok(body)) = timeout(PATIENCE, to_bytes(body, BODY_MAX)).await else {
        return refusal(Refusal::TooLong);
    };
    let kind = match deed {
        Deed::Press(kind) => kind,
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

/// Ask the job; `None` when it is busy or over.
fn ask<T>(
    shared: &Shared,
    what: impl FnOnce(oneshot::Sender<T>) -> Ask,
) -> Option<oneshot::Receiver<T>> {
    let (reply, answered) = oneshot::channel();
    shared.asks.try_send(what(reply)).ok().map(|()| answered)
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
fn stream(shared: &Shared, page: Page) -> Option<Response<Body>> {
    let seat = page.seat();
    let ended = lock(&shared.streams).open(page, Instant::now())?;
    let pictures = WatchStream::new(shared.now.clone());
    Some(answer(200, EVENTS, Body::from_stream(Pictures { pictures, ended, seat })))
}

fn full() -> String {
    format!("{STREAMS} pages are open already. Close one of them; this one then goes on by itself.")
}

/// The newest picture, again and again, until the page or the job ends.
struct Pictures {
    pictures: WatchStream<Arc<str>>,
    ended: oneshot::Receiver<()>,
    seat: Arc<Seat>,
}

impl Drop for Pictures {
    fn drop(&mut self) {
        self.seat.does(Doing::Idle(Instant::now()));
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
                    let block = |json| Ok(Bytes::from(format!("data: {json}\n\n")));
                    return next.map(|json| json.map(block));
                }
            }
        }
    }
}
