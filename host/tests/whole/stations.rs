//! The stations over their server: paths and rights, ten thousand requests, hostile text, forms
//! sent twice or too late, the end of a session, what is handed out, and a recording that does not
//! wait for any of it.

mod asked;
mod forms;
mod handed_out;
mod house;
mod keys;
mod load;
mod rights;
mod sessions;
mod texts;
mod tongues;
