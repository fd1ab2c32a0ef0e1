//! Results as they are stored and sent: one file for each format and version, append-only.

pub mod course_v1;
pub mod mount_v1;
pub mod work_v1;
