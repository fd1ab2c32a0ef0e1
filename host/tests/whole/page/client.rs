//! A plain client, and a program with a page.

use crate::support::tractor::Tractor;
use crate::support::{Program, TempDir};
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;
use trundle_sim::Scenario;

/// Longest wait for an answer.
const PATIENCE: Duration = Duration::from_secs(30);

/// An answer.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Answer {
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.body).unwrap_or_else(|e| panic!("{e}: {self:?}"))
    }

    pub fn header(&self, name: &str) -> Option<&str> {
        let line = self.head.lines().find_map(|line| line.strip_prefix(&format!("{name}: ")));
        line.map(str::trim)
    }
}

/// A program that serves a page, and the tractor it measures.
pub struct Served {
    pub program: Program,
    pub tractor: Tractor,
    pub at: SocketAddr,
    /// The token that may mark.
    pub token: String,
    pub capture: String,
    pub folder: TempDir,
}

impl Served {
    pub fn start(scenario: &Scenario, pace: f64) -> Self {
        Self::with(scenario, pace, &["drive", "--length", "100 m"])
    }

    /// A live command of its own.
    pub fn with(scenario: &Scenario, pace: f64, command: &[&str]) -> Self {
        let folder = TempDir::new();
        let capture = folder.file("job.capture");
        let tractor = Tractor::start(scenario, 7, pace, None);
        let (board, receiver, pace) = (tractor.board(), tractor.receiver(), pace.to_string());
        let ports = ["--board", &board, "--receiver", &receiver, "--pace", &pace];
        let bus = tractor.bus();
        let bus: &[&str] = if scenario.bus.is_some() { &["--bus", &bus] } else { &[] };
        let file = ["--capture", &capture, "--page"];
        let mut program = Program::start(&[command, &ports[..], bus, &file[..]].concat(), &[]);
        let begun = program.until("the page", |program| program.stdout().contains("k           "));
        assert!(begun, "{}{}", program.stdout(), program.stderr());
        let (at, token) = last_link(&program.stdout());
        Self { program, tractor, at: at.parse().unwrap(), token, capture, folder }
    }

    pub fn cookie(&self) -> String {
        format!("trundle-{}={}", self.at.port(), self.token)
    }

    /// Send these bytes; the answer up to its end.
    pub fn raw(&self, bytes: &[u8]) -> Option<Answer> {
        raw(self.at, bytes)
    }

    pub fn get(&self, path: &str) -> Answer {
        let request =
            format!("GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", self.at);
        self.raw(request.as_bytes()).unwrap()
    }

    /// A press as the page sends it.
    pub fn press(&self, path: &str, body: &str) -> Answer {
        press(self.at, &self.cookie(), path, body).unwrap()
    }

    /// Begin to listen to what is shown.
    pub fn listen(&self, name: &str) -> TcpStream {
        self.listen_as("", name)
    }

    /// The same as the device with this cookie.
    pub fn listen_as(&self, cookie: &str, name: &str) -> TcpStream {
        let mut stream = TcpStream::connect(self.at).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        let request = format!(
            "GET /now?page={name} HTTP/1.1\r\nHost: {}\r\nX-Requested-By: trundle\r\n\
             Cookie: {cookie}\r\n\r\n",
            self.at
        );
        stream.write_all(request.as_bytes()).unwrap();
        stream
    }

    /// What is shown now.
    pub fn shown(&self) -> serde_json::Value {
        let mut stream = self.listen("look");
        let mut text = String::new();
        let mut bytes = [0; 4096];
        loop {
            let count = stream.read(&mut bytes).unwrap();
            assert_ne!(count, 0, "the stream ended: {text}");
            text.push_str(&String::from_utf8_lossy(&bytes[..count]));
            let block = text.split("data: ").nth(1).and_then(|rest| rest.split_once("\n\n"));
            if let Some((json, _)) = block {
                // Chunk ends of HTTP may stand between; the first picture is one chunk.
                return serde_json::from_str(json).unwrap();
            }
        }
    }
}

/// The last link to mark that was told: address and token.
pub fn last_link(said: &str) -> (String, String) {
    let link = said.split("may mark: http://").last().unwrap().lines().next().unwrap();
    let (at, token) = link.split_once("/join/").unwrap();
    (at.to_owned(), token.to_owned())
}

pub fn press(at: SocketAddr, cookie: &str, path: &str, body: &str) -> Option<Answer> {
    let request = format!(
        "POST {path} HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nX-Requested-By: trundle\r\n\
         Content-Type: application/json\r\nCookie: {cookie}\r\nContent-Length: {}\r\n\
         Connection: close\r\n\r\n{body}",
        body.len()
    );
    raw(at, request.as_bytes())
}

pub fn raw(at: SocketAddr, bytes: &[u8]) -> Option<Answer> {
    let mut stream = TcpStream::connect(at).ok()?;
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    // A server that refuses need not take all of it.
    let _ = stream.write_all(bytes);
    let mut answer = Vec::new();
    let _ = stream.read_to_end(&mut answer);
    let answer = String::from_utf8_lossy(&answer);
    let (head, body) = answer.split_once("\r\n\r\n")?;
    let status = head.split(' ').nth(1)?.parse().ok()?;
    Some(Answer { status, head: head.to_owned(), body: body.to_owned() })
}
