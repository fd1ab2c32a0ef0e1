//! What all documents share.

use serde::Serialize;

/// Functions that give the objects of a document that is only written: each key once, and where
/// its value comes from.
macro_rules! objects {
    ($($name:ident($($from:ident: $source:ty),*) { $($key:ident = $value:expr,)* })*) => {$(
        #[allow(non_camel_case_types)]
        pub(super) fn $name($($from: $source),*) -> impl serde::Serialize {
            #[derive(serde::Serialize)]
            struct Object<$($key),*> { $($key: $key),* }
            Object { $($key: $value),* }
        }
    )*};
}
pub(super) use objects;

objects! {
    // Why there is no result.
    refusal(code: &str, what: &impl ToString, means: &str, next: &str) {
        code = code,
        what = what.to_string(),
        means = means,
        next = next,
    }
}

/// An object of each.
pub(super) fn list<T, O>(items: impl IntoIterator<Item = T>, object: impl Fn(T) -> O) -> Vec<O> {
    items.into_iter().map(object).collect()
}

/// One line of JSON, without a line end. Same document, same bytes.
pub(super) fn to_text(document: &impl Serialize) -> String {
    serde_json::to_string(document).expect("plain structs of text and numbers always serialise")
}

/// JSON has no word for infinity: `null`.
pub(super) fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}
