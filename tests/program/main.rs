//! What reaches the world: ports, files, threads and the terminal, at hand-made ends of them.
#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    clippy::print_stdout,
    clippy::print_stderr,
    missing_docs
)]

mod bus_adapter;
#[cfg(unix)]
mod capture_moved;
mod desk;
mod disk;
mod fakes;
mod faults_port;
#[cfg(unix)]
mod files;
mod handbook;
mod packed;
mod parquet;
mod practice;
mod replay_shared;
#[cfg(target_os = "linux")]
mod screen_breaks;
mod shell_again;
mod shell_live;
#[cfg(unix)]
mod shell_ports;
mod sim_disk;
