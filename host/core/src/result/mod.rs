//! Results as they are stored and sent: one file for each format and version, append-only.

pub mod as_left;
pub mod bench_v1;
pub mod bus_v1;
pub mod check_v1;
pub mod compare_v1;
pub mod course_v1;
mod document;
pub mod history_points;
pub mod history_v1;
pub mod mount_v1;
pub mod part_of;
pub mod part_read;
pub mod part_v1;
pub mod proof_v1;
pub mod pto_v1;
pub mod record_v1;
pub mod records_v1;
pub mod register_v1;
pub mod settings_of;
pub mod settings_v1;
mod sign_clock;
pub mod sign_off;
pub mod slip_v1;
pub mod speeds_v1;
pub mod verify_v1;
mod work_of;
pub mod work_v1;
