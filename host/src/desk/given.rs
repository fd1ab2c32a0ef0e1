//! Results for whoever asked for them as parts of a page: the commands give them beside what they
//! print, so that a station shows the same result and calculates nothing of its own.

use std::cell::RefCell;
use trundle_show::stations::Markup;

/// A result in the forms that a page has.
#[derive(Clone, Default)]
pub struct Given {
    /// Its parts for a station; none where its lines say it all.
    pub card: Option<Markup>,
    /// Its drawing, an SVG file.
    pub drawing: Option<String>,
    /// The page for browser and paper.
    pub paper: Option<String>,
}

thread_local! {
    /// What was given so far, where somebody on this thread asked.
    static ASKED: RefCell<Option<Given>> = const { RefCell::new(None) };
}

/// Do this, and take what results it gives.
pub fn asked<T>(act: impl FnOnce() -> T) -> (T, Given) {
    ASKED.with_borrow_mut(|asked| *asked = Some(Given::default()));
    let done = act();
    let given = ASKED.with_borrow_mut(Option::take).unwrap_or_default();
    (done, given)
}

/// Give a result, where somebody asked; what was given before is replaced.
pub fn give(result: impl FnOnce() -> Given) {
    if ASKED.with_borrow(Option::is_some) {
        let result = result();
        ASKED.with_borrow_mut(|asked| *asked = Some(result));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_result_is_made_only_for_whoever_asked() {
        give(|| unreachable!("nobody asked"));
        let paper = |words: &str| Given { paper: Some(words.to_owned()), ..Given::default() };
        let ((), given) = asked(|| {
            give(|| paper("first"));
            give(|| paper("second"));
        });
        assert_eq!(given.paper.as_deref(), Some("second"));
        give(|| unreachable!("nobody asks any more"));
    }
}
