//! Results for people: text for the terminal, a page for paper and browser. Pure: a result in,
//! text out; the caller writes it.

pub mod check_text;
pub mod compare_text;
pub mod course_text;
pub mod history_html;
pub mod history_text;
pub mod html;
pub mod lines;
pub mod mount_text;
mod page;
pub use page::with_notice;
pub mod paper;
pub(crate) mod phrases;
pub mod pto_text;
pub mod record_html;
pub mod record_short_html;
pub mod record_text;
pub mod records_text;
pub mod register_text;
pub mod slip_html;
pub mod slip_text;
pub mod speeds_text;
pub mod svg;
pub mod text;
pub(crate) mod xml;
