//! What a server of stations needs to know of them: their paths, who may do what there, and whom
//! to ask. The stations themselves are made elsewhere.

use super::guard::Role;

/// A path of a station and the least right that it needs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StationPath {
    /// The path; one that ends with `/*` stands for one further part of any name.
    pub path: &'static str,
    /// Least right to look at it; [`Role::View`] is had by whoever sits at this computer.
    pub look: Role,
    /// Least right to send a form; `None` where nothing can be changed.
    pub act: Option<Role>,
}

/// A request to a station, let in by the guard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Visit {
    /// The path that was asked for, with percent signs as they came.
    pub path: String,
    /// What followed the question mark, in pairs.
    pub query: Vec<(String, String)>,
    /// What the device may do; `None` for one of this computer that has not joined.
    pub role: Option<Role>,
    /// It came over an address that only this computer has.
    pub inside: bool,
}

impl Visit {
    /// The part of the path that stands for any name, decoded; empty where it has none.
    #[must_use]
    pub fn name(&self) -> String {
        let last = self.path.rsplit_once('/').map_or("", |(_, last)| last);
        // A plus sign is itself in a path, and a space only in a form.
        let pairs = format!("x={}", last.replace('+', "%2B").replace('&', "%26"));
        form_urlencoded::parse(pairs.as_bytes())
            .next()
            .map_or_else(String::new, |(_, value)| value.into_owned())
    }

    /// The first value of this name behind the question mark; empty where there is none.
    #[must_use]
    pub fn asked(&self, name: &str) -> &str {
        value(&self.query, name)
    }
}

/// The first value of this name; empty where there is none.
#[must_use]
pub fn value<'a>(pairs: &'a [(String, String)], name: &str) -> &'a str {
    pairs.iter().find(|(key, _)| key == name).map_or("", |(_, value)| value)
}

/// The answer of a station.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reply {
    /// A page of ours, with this status of HTTP.
    Page(u16, String),
    /// A page that carries its own style, as papers and results do.
    Paper(String),
    /// A drawing.
    Drawing(String),
    /// Go on to this path of ours: done, and a reload does nothing again.
    See(String),
    /// A file to be saved under this name.
    File {
        /// Name of the file, without anything but letters, digits, points, dashes and underlines.
        name: String,
        /// Its content.
        bytes: Vec<u8>,
    },
}

/// Whoever has the stations.
pub trait Stations: Send + Sync + 'static {
    /// Show a station.
    fn look(&self, visit: &Visit) -> Reply;

    /// Take a form that was filled in.
    fn act(&self, visit: &Visit, form: &[(String, String)]) -> Reply;
}

/// The station at a path.
#[must_use]
pub fn station(paths: &'static [StationPath], path: &str) -> Option<&'static StationPath> {
    let fits = |one: &&StationPath| match one.path.strip_suffix("/*") {
        None => one.path == path,
        Some(front) => path.strip_prefix(front).is_some_and(|rest| {
            rest.strip_prefix('/').is_some_and(|name| !name.is_empty() && !name.contains('/'))
        }),
    };
    paths.iter().find(fits)
}

/// Names and values of a form or of what follows a question mark.
#[must_use]
pub fn pairs(encoded: &[u8]) -> Vec<(String, String)> {
    form_urlencoded::parse(encoded).into_owned().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const PATHS: &[StationPath] = &[
        StationPath { path: "/", look: Role::View, act: None },
        StationPath { path: "/rig", look: Role::Full, act: Some(Role::Full) },
        StationPath { path: "/rig/*", look: Role::Full, act: None },
    ];

    #[test]
    fn a_path_is_found_whole_or_not_at_all() {
        for (path, found) in [
            ("/", Some("/")),
            ("/rig", Some("/rig")),
            ("/rig/x%2Fy", Some("/rig/*")),
            ("/rig/", None),
            ("/rig/a/b", None),
            ("/rigs", None),
            ("", None),
        ] {
            assert_eq!(station(PATHS, path).map(|one| one.path), found, "{path}");
        }
    }

    #[test]
    fn names_are_read_as_they_were_written() {
        let visit = |path: &str| Visit {
            path: path.to_owned(),
            query: pairs(b"a=1+2&b=%C3%BC&a=3"),
            role: None,
            inside: true,
        };
        assert_eq!(visit("/rig/Big%20one%2C+wide&x=1").name(), "Big one,+wide&x=1");
        assert_eq!(visit("/rig/%C3%BC%2F").name(), "\u{fc}/");
        assert_eq!((visit("/").asked("a"), visit("/").asked("b")), ("1 2", "\u{fc}"));
    }
}
