//! A program that serves the stations, and whoever asks it.

use super::forms::{Form, Page};
use crate::page::client::{Answer, raw};
use crate::support::{LIMIT, Program, TempDir, in_tree, trundle_in};
use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr};
use std::path::Path;
use std::time::{Duration, Instant, UNIX_EPOCH};

/// What a browser calls a form.
pub const FORM: &str = "application/x-www-form-urlencoded";

/// A program with its data, and the tokens it gives.
pub struct House {
    pub program: Program,
    pub at: SocketAddr,
    /// The address for other devices, where this computer has one.
    pub lan: Option<SocketAddr>,
    pub full: String,
    pub folder: TempDir,
}

/// A request in the making; what is empty is not sent.
#[derive(Clone, Debug)]
pub struct Ask {
    pub method: &'static str,
    pub path: String,
    pub hosts: Vec<String>,
    pub origins: Vec<String>,
    pub cookie: String,
    pub kinds: Vec<&'static str>,
    pub more: Vec<&'static str>,
    pub body: Vec<u8>,
}

impl Ask {
    pub fn bytes(&self) -> Vec<u8> {
        let mut head = format!("{} {} HTTP/1.1\r\n", self.method, self.path);
        let mut add = |name: &str, value: &str| head.push_str(&format!("{name}: {value}\r\n"));
        self.hosts.iter().for_each(|host| add("Host", host));
        self.origins.iter().for_each(|origin| add("Origin", origin));
        self.kinds.iter().for_each(|kind| add("Content-Type", kind));
        if !self.cookie.is_empty() {
            add("Cookie", &self.cookie);
        }
        self.more.iter().for_each(|line| head.push_str(&format!("{line}\r\n")));
        if self.method != "GET" || !self.body.is_empty() {
            head.push_str(&format!("Content-Length: {}\r\n", self.body.len()));
        }
        head.push_str("Accept: text/html\r\nConnection: close\r\n\r\n");
        [head.as_bytes(), &self.body].concat()
    }
}

/// Names and values as a form sends them; bytes, since not all that is sent is text.
pub fn encoded(pairs: &[(String, Vec<u8>)]) -> Vec<u8> {
    let part = |bytes: &[u8]| {
        let one = |byte: &u8| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' => char::from(*byte).to_string(),
            byte => format!("%{byte:02X}"),
        };
        bytes.iter().map(one).collect::<String>()
    };
    let pair =
        |(name, value): &(String, Vec<u8>)| format!("{}={}", part(name.as_bytes()), part(value));
    pairs.iter().map(pair).collect::<Vec<_>>().join("&").into_bytes()
}

impl House {
    /// Start it, for other devices too where that can be.
    pub fn start() -> Self {
        Self::in_folder(TempDir::new())
    }

    /// The same with the data that is there.
    pub fn in_folder(folder: TempDir) -> Self {
        let lan = trundle::web::lan_address().filter(IpAddr::is_ipv4);
        let address = lan.map(|lan| lan.to_string()).unwrap_or_default();
        let mut args = vec!["--port", "0", "--no-browser"];
        if lan.is_some() {
            args.extend(["--lan", &address]);
        }
        let (data, settings) = (folder.file("data"), folder.file("settings.toml"));
        let variables = [("TRUNDLE_DATA", data.as_str()), ("TRUNDLE_SETTINGS", &settings)];
        let beside = folder.path().join("beside");
        std::fs::create_dir_all(&beside).unwrap();
        let mut program = Program::start_in(&beside, &args, &variables);
        assert!(
            program.until("the page", |p| p.stdout().contains("It goes on")),
            "{}{}",
            program.stdout(),
            program.stderr()
        );
        let said = program.stdout();
        let link = said.split("http://").nth(1).unwrap();
        let (at, token) = link.lines().next().unwrap().split_once("/join/").unwrap();
        let (at, full): (SocketAddr, _) = (at.parse().unwrap(), token.trim().to_owned());
        let own = SocketAddr::from(([127, 0, 0, 1], at.port()));
        Self { program, at: own, lan: lan.map(|_| at), full, folder }
    }

    /// The same data in a new program; what is going on ends at once.
    pub fn again(self) -> Self {
        let Self { program, folder, .. } = self;
        drop(program);
        Self::in_folder(folder)
    }

    /// A command of its own on the same data.
    pub fn typed(&self, args: &[&str]) {
        let data = self.folder.file("data");
        let end = trundle_in(args, &[("TRUNDLE_DATA", &data)]);
        assert_eq!(end.code, Some(0), "{args:?}: {end:?}");
    }

    /// What a second start shows behind `/join/`: a link for one use.
    pub fn second_start(&self) -> String {
        let data = self.folder.file("data");
        let end = trundle_in(&["--no-browser"], &[("TRUNDLE_DATA", &data)]);
        let (_, rest) = end.stdout.split_once("/join/").unwrap_or_else(|| panic!("{end:?}"));
        rest.split_whitespace().next().unwrap().to_owned()
    }

    /// A rig with all that belongs to it, and a record.
    pub fn fill(&self) {
        self.typed(&["tractor", "add", "Big one", "--make", "Own build", "--serial", "0007"]);
        self.typed(&["tyres", "add", "Wide", "--size", "650/65 R38", "--inflation", "1.2 bar"]);
        self.typed(&["person", "add", "A. Driver", "--company", "Field works"]);
        let rig = ["rig", "add", "Big one, wide", "--tractor", "Big one", "--tyres", "Wide"];
        self.typed(&[&rig[..], &["--operator", "A. Driver", "--source", "wheel"]].concat());
        let capture = in_tree("logs/simulated-rtk.capture").canonicalize().unwrap();
        self.typed(&["sign", &capture.display().to_string()]);
    }

    pub fn cookie(&self, token: &str) -> String {
        format!("trundle-{}={token}", self.at.port())
    }

    /// The tokens that may look and mark, as the page of other devices shows them.
    pub fn tokens(&self) -> Option<[String; 2]> {
        self.lan?;
        let page = self.get("/settings/devices").body;
        let mut all: Vec<&str> =
            page.split("/join/").skip(1).map(|rest| rest.get(..32).unwrap()).collect();
        all.retain(|token| *token != self.full);
        all.dedup();
        let [view, mark] = all[..] else { panic!("{all:?}") };
        Some([view, mark].map(str::to_owned))
    }

    /// A request of a browser with this token.
    pub fn ask(&self, method: &'static str, path: &str, token: &str) -> Ask {
        let post = method == "POST";
        Ask {
            method,
            path: path.to_owned(),
            hosts: vec![self.at.to_string()],
            origins: if post { vec![format!("http://{}", self.at)] } else { Vec::new() },
            cookie: if token.is_empty() { String::new() } else { self.cookie(token) },
            kinds: if post { vec![FORM] } else { Vec::new() },
            more: Vec::new(),
            body: Vec::new(),
        }
    }

    pub fn send(&self, ask: &Ask) -> Answer {
        raw(self.at, &ask.bytes()).unwrap_or_else(|| panic!("no answer: {ask:?}"))
    }

    pub fn get(&self, path: &str) -> Answer {
        self.send(&self.ask("GET", path, &self.full))
    }

    /// Send a form with these values.
    pub fn post(&self, path: &str, pairs: &[(String, Vec<u8>)]) -> Answer {
        self.send(&Ask { body: encoded(pairs), ..self.ask("POST", path, &self.full) })
    }

    /// The form at `path` that is sent to `action`.
    pub fn form(&self, path: &str, action: &str) -> Form {
        let page = Page::read(&self.get(path).body);
        let form = page.forms.into_iter().find(|form| form.action == action);
        form.unwrap_or_else(|| panic!("no form for {action} at {path}"))
    }

    /// Stop a recording that has begun, and wait for its end.
    pub fn stop(&self) {
        let cookie = self.cookie(&self.full);
        let (since, mut times) = (Instant::now(), 0);
        // Every page says that something is live until it is over.
        while self.get("/").body.contains("href=\"/live\"") {
            assert!(since.elapsed() < LIMIT, "the recording does not end");
            times += 1;
            let key = format!(r#"{{"key":"end{times}"}}"#);
            assert!(crate::page::client::press(self.at, &cookie, "/end", &key).is_some());
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Everything below the folder: path, and what it holds.
    pub fn state(&self) -> BTreeMap<String, Vec<u8>> {
        let mut all = BTreeMap::new();
        files(self.folder.path(), &mut |path| {
            all.insert(path.display().to_string(), std::fs::read(path).unwrap());
        });
        all
    }

    /// The same as it is seen without reading: path, length, time of the last change.
    pub fn marks(&self) -> Vec<(String, u64, u128)> {
        let mut all = Vec::new();
        files(self.folder.path(), &mut |path| {
            let Ok(found) = path.metadata() else { return };
            let changed = found.modified().unwrap().duration_since(UNIX_EPOCH).unwrap();
            all.push((path.display().to_string(), found.len(), changed.as_nanos()));
        });
        all.sort();
        all
    }
}

/// Locks are held by whoever looks, too; they hold nothing.
fn files(folder: &Path, each: &mut impl FnMut(&Path)) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            files(&path, each);
        } else if path.extension().is_none_or(|end| end != "lock") {
            each(&path);
        }
    }
}
