//! The program itself, end to end.
#![allow(clippy::unwrap_used, clippy::float_cmp, clippy::print_stdout, missing_docs)]

#[cfg(unix)]
mod bench_live;
#[cfg(unix)]
mod bus_live;
#[cfg(unix)]
mod check;
#[cfg(unix)]
mod conditions;
#[cfg(unix)]
mod demo;
mod demo_inside;
#[cfg(unix)]
mod drive_live;
mod escapes;
mod export;
mod frozen;
mod handbook;
mod hostile_names;
mod kept;
mod messages;
#[cfg(unix)]
mod messages_ports;
#[cfg(unix)]
mod odd_files;
#[cfg(unix)]
mod other_board;
#[cfg(unix)]
mod page;
mod piped;
mod practice;
#[cfg(unix)]
mod proof_live;
#[cfg(unix)]
mod pto_live;
mod register;
#[cfg(unix)]
mod slip_live;
#[cfg(unix)]
mod speeds_live;
#[cfg(unix)]
mod stations;
mod support;
#[cfg(target_os = "linux")]
mod terminal_closed;
