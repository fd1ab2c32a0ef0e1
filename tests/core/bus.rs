//! The implement bus: an adapter's lines, identifiers, values, senders, distances.

mod filters;
mod import;
mod lines;
mod said;
mod survey;
