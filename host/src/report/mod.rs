//! Results for people: text for the terminal, a page for paper and browser. Pure: a result in,
//! text out; the caller writes it.

pub mod course_text;
pub mod html;
pub mod lines;
mod page;
pub mod slip_csv;
pub mod slip_geojson;
pub mod slip_gpx;
pub mod slip_html;
pub mod svg;
pub mod text;
mod xml;
