//! Result documents and live state as words, pictures, pages and tables. No file, port, clock or
//! socket; no calculation of a value.

pub mod book;
pub mod export;
pub mod html;
pub mod live;
pub mod model;
pub mod paper;
pub mod phrases;
pub mod reading;
pub mod stations;
pub mod svg;
pub mod text;
pub mod tongue;
pub mod words;
pub mod xml;
