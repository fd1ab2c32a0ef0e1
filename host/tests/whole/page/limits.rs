//! Hostile and hanging clients: each costs one of the seats until somebody wants it, and the
//! measurement nothing.

use super::client::{Served, last_link, raw};
use crate::support::job::{kept_up, patient};
use crate::support::{self, json};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

/// A request that drips in has to be given up within 10 s; this only bounds a hang.
const DRIPPED: Duration = Duration::from_secs(60);

#[test]
fn hostile_clients_cost_the_measurement_nothing() {
    kept_up(1.0, hostile_clients);
}

/// `None` when the machine stalled: then bytes may have been lost by that.
fn hostile_clients(pace: f64) -> Option<()> {
    let mut served = Served::start(&patient("corrected", 1), pace);
    let started = Instant::now();

    headers_and_joining(&served);
    long_bodies(&served);
    many_and_dripping(&served);

    // Five streams, and no sixth; a page that comes again takes its own place.
    let mut streams: Vec<TcpStream> =
        (0..5).map(|n| opened(served.listen(&format!("page{n}")))).collect();
    let refused = first(&mut served.listen("page5"));
    assert!(refused.contains(" 503 ") && refused.contains("5 pages are open already"), "{refused}");
    streams.push(opened(served.listen("page0")));

    // New links: the old one and all that joined by it are nothing any more.
    let told = |served: &Served| last_link(&served.program.stdout()).1;
    served.program.types("k");
    let before = served.token.clone();
    while told(&served) == before {
        std::thread::sleep(Duration::from_millis(10));
    }
    assert_eq!(served.press("/note", r#"{"key":"1","text":"in vain"}"#).status, 403);
    assert_eq!(served.get(&format!("/join/{before}")).status, 403);
    served.token = told(&served);
    assert_eq!(served.press("/note", r#"{"key":"1","text":"once more"}"#).status, 200);
    streams.push(opened(served.listen("page0")));

    // Ten wrong tokens, of which the old one was the first, lock out what is wrong, and no more.
    for n in 1..10 {
        assert_eq!(served.get(&format!("/join/{n:032x}")).status, 403);
    }
    assert_eq!(served.get(&format!("/join/{before}")).status, 429);
    assert_eq!(served.get(&format!("/join/{}", served.token)).status, 303);
    assert_eq!(served.press("/note", r#"{"key":"2","text":"again"}"#).status, 200);

    // The end comes soon, with all of these open.
    let recorded = started.elapsed();
    let Served { mut program, capture, tractor, .. } = served;
    program.types("q");
    let asked = Instant::now();
    program.finish();
    let took = asked.elapsed();
    println!("ended after {took:?} with open streams");
    let starved = tractor.starved();
    for stream in &mut streams {
        let mut rest = Vec::new();
        let _ = stream.read_to_end(&mut rest);
    }
    let result = json(&support::trundle(&["work", &capture, "--json"]).stdout);
    let codes = support::codes(&result);
    let lost =
        |code: &String| code.contains("LOST") || code.contains("GAP") || code.contains("CUT");
    assert!(starved || !codes.iter().any(lost), "{codes:?} after {recorded:?}");
    (!starved).then_some(())
}

/// Headers of every answer; joining takes the token out of the address.
fn headers_and_joining(served: &Served) {
    let page = served.get("/");
    assert_eq!(page.status, 200);
    for (name, value) in [
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
    ] {
        assert_eq!(page.header(name), Some(value), "{page:?}");
    }
    let policy = page.header("content-security-policy").unwrap();
    assert!(policy.starts_with("default-src 'none'; script-src 'self'; style-src 'self';"));
    assert!(page.header("access-control-allow-origin").is_none());

    let joined = served.get(&format!("/join/{}", served.token));
    assert_eq!((joined.status, joined.header("location")), (303, Some("/")));
    let cookie = joined.header("set-cookie").unwrap();
    assert_eq!(cookie, format!("{}; HttpOnly; SameSite=Strict; Path=/", served.cookie()));
}

/// A long body is refused, whether it says so or not.
fn long_bodies(served: &Served) {
    let head = |more: &str| {
        format!(
            "POST /note HTTP/1.1\r\nHost: {0}\r\nOrigin: http://{0}\r\nX-Requested-By: trundle\r\n\
             Content-Type: application/json\r\nCookie: {1}\r\n{more}\r\n\r\n",
            served.at,
            served.cookie()
        )
    };
    let long = raw(served.at, head("Content-Length: 1073741824").as_bytes()).unwrap();
    assert_eq!(long.status, 413);
    let mut endless = TcpStream::connect(served.at).unwrap();
    endless.write_all(head("Transfer-Encoding: chunked").as_bytes()).unwrap();
    let chunk = [b"10000\r\n".as_slice(), &[b'x'; 0x10000], b"\r\n"].concat();
    let taken = (0..16_384).take_while(|_| endless.write_all(&chunk).is_ok()).count();
    assert!(taken < 1_000, "{taken} chunks of 64 KiB were taken");
}

/// A thousand connections at once, and twenty that drip.
fn many_and_dripping(served: &Served) {
    let mut dripping: Vec<TcpStream> =
        (0..20).filter_map(|_| TcpStream::connect(served.at).ok()).collect();
    let many: Vec<TcpStream> =
        (0..980).filter_map(|_| TcpStream::connect(served.at).ok()).collect();
    let since = Instant::now();
    while dripping.iter_mut().any(|stream| stream.write_all(b"G").is_ok()) {
        assert!(since.elapsed() < DRIPPED, "still open after {:?}", since.elapsed());
        std::thread::sleep(Duration::from_millis(200));
    }
    drop(many);
}

/// The stream has begun.
pub fn opened(mut stream: TcpStream) -> TcpStream {
    let begun = first(&mut stream);
    assert!(begun.contains(" 200 "), "{begun}");
    stream
}

/// What comes next on it.
pub fn first(stream: &mut TcpStream) -> String {
    let mut bytes = [0; 2048];
    let count = stream.read(&mut bytes).unwrap();
    String::from_utf8_lossy(&bytes[..count]).into_owned()
}
