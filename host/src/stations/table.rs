//! Every path of the stations: who may look, who may act, and which station answers.

use super::form::Sent;
use super::house::House;
use super::{measured, rig, start};
use crate::web::guard::Role;
use crate::web::stations::{Reply, StationPath, Visit};
use std::sync::LazyLock;

/// Shows a station.
type Look = fn(&House, &Visit) -> Reply;
/// Takes a form of it.
type Act = fn(&House, &Visit, &Sent) -> Reply;

/// A path.
#[derive(Clone, Copy)]
pub struct Row {
    /// It and its rights.
    pub at: StationPath,
    /// Shows it.
    pub look: Look,
    /// Takes its forms.
    pub act: Option<Act>,
}

/// A page without forms.
const fn read(path: &'static str, least: Role, look: Look) -> Row {
    Row { at: StationPath { path, look: least, act: None }, look, act: None }
}

/// A page with forms, which only whoever may do everything sends.
const fn write(path: &'static str, least: Role, look: Look, act: Act) -> Row {
    let at = StationPath { path, look: least, act: Some(Role::Full) };
    Row { at, look, act: Some(act) }
}

/// All paths. What only shows the job at hand, whoever sits at the computer may look at; rigs and
/// records, only whoever may do everything.
const ROWS: &[Row] = &[
    write("/", Role::View, start::look, start::act),
    write("/drive", Role::View, measured::look, measured::act),
    write("/check", Role::View, measured::look, measured::act),
    write("/check/*", Role::View, measured::look, measured::act),
    write("/proof", Role::View, measured::look, measured::act),
    write("/proof/*", Role::View, measured::look, measured::act),
    write("/pto", Role::View, measured::look, measured::act),
    write("/pto/*", Role::View, measured::look, measured::act),
    write("/antenna", Role::View, measured::look, measured::act),
    write("/antenna/*", Role::View, measured::look, measured::act),
    write("/speeds", Role::View, measured::look, measured::act),
    write("/speeds/*", Role::View, measured::look, measured::act),
    write("/slip", Role::View, measured::look, measured::act),
    write("/slip/*", Role::View, measured::look, measured::act),
    write("/bus", Role::View, measured::look, measured::act),
    write("/bus/*", Role::View, measured::look, measured::act),
    read("/rig", Role::Full, rig::look),
    write("/rig/*", Role::Full, rig::look_kind, rig::act),
];

/// The paths and rights alone, for the guard.
static PATHS: LazyLock<Vec<StationPath>> =
    LazyLock::new(|| ROWS.iter().map(|row| row.at).collect());

/// The paths and rights alone, for the guard.
#[must_use]
pub fn paths() -> &'static [StationPath] {
    &PATHS
}

/// The row of a path.
#[must_use]
pub fn row(path: &str) -> Option<&'static Row> {
    let at = crate::web::stations::station(paths(), path)?;
    ROWS.iter().find(|row| row.at == *at)
}
