//! Paths of the server's own, which are no stations.

use super::guard::{Deed, Read};
use trundle_show::live::page::press::PressKind;

/// What a path of the server's own is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Own {
    /// It is looked at.
    Read(Read),
    /// Something is done there.
    Do(Deed),
}

/// Paths that are no stations; those of `Some` are there only with stations, or only without.
pub const OWN: [(&str, Option<bool>, Own); 16] = [
    ("/live", Some(true), Own::Read(Read::Page)),
    ("/", Some(false), Own::Read(Read::Page)),
    ("/page.css", None, Own::Read(Read::Style)),
    ("/page.js", None, Own::Read(Read::Script)),
    ("/stations.js", Some(true), Own::Read(Read::Forms)),
    ("/now", None, Own::Read(Read::Now)),
    ("/handbook", None, Own::Read(Read::Book)),
    ("/result", None, Own::Read(Read::Result)),
    ("/result", None, Own::Do(Deed::Result)),
    ("/mark", None, Own::Do(Deed::Press(PressKind::Mark))),
    ("/undo", None, Own::Do(Deed::Press(PressKind::Undo))),
    ("/note", None, Own::Do(Deed::Press(PressKind::Note))),
    ("/reject", None, Own::Do(Deed::Press(PressKind::Reject))),
    ("/line", None, Own::Do(Deed::Line)),
    ("/end", None, Own::Do(Deed::End)),
    ("/map.svg", None, Own::Read(Read::Map)),
];

/// What is done at a path with this method; where it is both read and acted on, the method says
/// which, and else the guard finds the method wrong.
pub(super) fn at(method: &str, path: &str, stations: bool) -> Option<Own> {
    let here = OWN
        .iter()
        .filter(|(own, with, _)| *own == path && with.is_none_or(|with| with == stations));
    let acts = |own: &&(&str, Option<bool>, Own)| matches!(own.2, Own::Do(_)) == (method == "POST");
    here.clone().find(acts).or_else(|| here.clone().next()).map(|own| own.2)
}
