//! Every path of the stations: who may look, who may act, and which station answers.

use super::form::Sent;
use super::house::House;
use super::records::{self, amend, paper, verify};
use super::{
    close, course, devices, drive, exports, keep, measured, practice, rig, settings, sheet, sign,
    start, value,
};
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
    read("/plugged", Role::View, start::look_ports),
    write("/practice", Role::Full, practice::look, practice::act),
    write("/close", Role::Full, close::look, close::act),
    write("/settings", Role::Full, settings::look, settings::act),
    read("/settings/doctor", Role::Full, settings::look_doctor),
    write("/settings/devices", Role::Full, devices::look, devices::act),
    write("/check", Role::View, measured::look, measured::act),
    write("/check/*", Role::View, measured::look, measured::act),
    write("/drive", Role::View, drive::look, drive::act),
    write("/value", Role::View, value::look, value::act),
    read("/value/*", Role::View, value::look_file),
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
    write("/course", Role::View, course::look, course::act),
    write("/course/length", Role::Full, course::look, course::length),
    write("/course/file", Role::Full, course::opened::look, course::opened::act),
    write("/course/plan", Role::View, course::plan::look, course::plan::act),
    read("/rig", Role::Full, rig::look),
    write("/sign", Role::Full, sign::look, sign::act),
    read("/records", Role::Full, records::look),
    write("/bin", Role::Full, keep::look_bin, keep::act_bin),
    write("/bin/back", Role::Full, keep::look_back, keep::act_back),
    read("/records/*", Role::Full, records::look_one),
    read("/paper/*", Role::Full, paper::look),
    read("/file/*", Role::Full, paper::file),
    read("/compare", Role::Full, records::compare),
    write("/amend/*", Role::Full, amend::look, amend::act),
    write("/verify", Role::Full, verify::look, verify::act),
    read("/sheet", Role::Full, sheet::look),
    read("/history", Role::Full, sheet::look_history),
    read("/exports", Role::Full, exports::look),
    read("/exports/*", Role::Full, exports::file),
    write("/backup", Role::Full, keep::look_backup, keep::act_backup),
    read("/backup/*", Role::Full, keep::download),
    write("/restore", Role::Full, keep::look_restore, keep::act_restore),
    write("/import", Role::Full, keep::look_import, keep::act_import),
    read("/rig/export", Role::Full, rig::hand::export),
    write("/rig/import", Role::Full, rig::hand::look, rig::hand::act),
    write("/rig/*", Role::Full, rig::kind::look, rig::kind::act),
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
