//! The commands, one file each. They read arguments, call the core and print.

pub mod args;
pub mod check;
pub mod course;
pub mod demo;
pub mod desk;
pub mod drive;
pub mod export;
pub mod import;
pub mod mount;
pub mod ports;
pub mod pto;
pub mod recording;
pub mod result;
pub mod slip;
pub mod speeds;
pub mod work;
