//! What all documents share.

use serde::Serialize;

/// Objects of a document that are only written: each key once, with its type and where it comes
/// from.
macro_rules! objects {
    ($($name:ident$(<$life:lifetime>)? of $from:tt: $source:ty {
        $($key:ident: $type:ty = $value:expr,)*
    })*) => {$(
        #[derive(serde::Serialize)]
        struct $name$(<$life>)? { $($key: $type),* }

        impl$(<$life>)? $name$(<$life>)? {
            fn of($from: $source) -> Self {
                Self { $($key: $value),* }
            }
        }
    )*};
}
pub(super) use objects;

/// One line of JSON, without a line end. Same document, same bytes.
pub(super) fn to_text(document: &impl Serialize) -> String {
    serde_json::to_string(document).expect("plain structs of text and numbers always serialise")
}

/// JSON has no word for infinity: `null`.
pub(super) fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// Why there is no result.
#[derive(Serialize)]
pub(super) struct RefusalV1 {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub code: Option<&'static str>,
    pub what: String,
    pub means: &'static str,
    pub next: &'static str,
}

impl RefusalV1 {
    pub fn without_code(what: &impl ToString, means: &'static str, next: &'static str) -> Self {
        Self { code: None, what: what.to_string(), means, next }
    }

    pub fn of(
        code: &'static str,
        what: &impl ToString,
        means: &'static str,
        next: &'static str,
    ) -> Self {
        Self { code: Some(code), ..Self::without_code(what, means, next) }
    }
}
