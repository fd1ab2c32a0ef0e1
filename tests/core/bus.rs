//! The implement bus: an adapter's lines, identifiers, values, senders, distances.

mod import;
mod lines;
mod said;
mod survey;
