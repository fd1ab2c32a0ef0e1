//! Something that takes long and goes on by itself: records that are verified.

use super::form;
use super::house::{House, Ran, lock};
use crate::shell::progress;
use std::sync::{Arc, Mutex};

/// What goes on, and what came of the last one.
#[derive(Default)]
pub struct Long(Arc<Mutex<State>>);

/// How far it is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct State {
    /// Steps done, and all of them, while it goes on.
    pub now: Option<(u64, u64)>,
    /// What came of the last one: what was said, and the command.
    pub last: Option<(Ran, String)>,
}

impl Long {
    /// How far it is.
    #[must_use]
    pub fn state(&self) -> State {
        lock(&self.0).clone()
    }

    /// Begin a command; false when another one goes on.
    pub fn begin(&self, house: &House, argv: Vec<String>) -> bool {
        let Some(house) = house.own.upgrade() else { return false };
        {
            let mut state = lock(&self.0);
            if state.now.is_some() {
                return false;
            }
            state.now = Some((0, 0));
        }
        let state = Arc::clone(&self.0);
        std::thread::spawn(move || {
            let seen = Arc::clone(&state);
            let eye = move |done, all| lock(&seen).now = Some((done, all));
            let ran = progress::seen(|| house.run(&argv), eye);
            let ran = ran.unwrap_or_else(|refused| refused.as_ran());
            let mut state = lock(&state);
            state.now = None;
            state.last = Some((ran, form::shown(&argv)));
        });
        true
    }
}
