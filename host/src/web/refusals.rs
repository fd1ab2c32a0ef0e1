//! Why a request is refused, in words.

/// Why a request is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// It names another host.
    #[error("This server does not go by that name.")]
    Host,
    /// A question of another site.
    #[error("No other site may ask.")]
    Options,
    /// There is no such path.
    #[error("There is nothing here.")]
    Path,
    /// The method is not allowed.
    #[error("The method is not allowed here.")]
    Method,
    /// No token, or not enough of one.
    #[error("This device has not joined, or is view only.")]
    Token,
    /// A token that is none.
    #[error("That link is not, or no longer, valid.")]
    Link,
    /// A link opened from another page.
    #[error("The link was opened from another page.")]
    Elsewhere,
    /// Too many wrong tokens.
    #[error("Too many wrong links came from this device.")]
    Locked,
    /// The request does not come from the page itself.
    #[error("The request did not come from the page.")]
    Origin,
    /// The body is too long.
    #[error("The request is too long.")]
    TooLong,
    /// The body is not JSON.
    #[error("The request is not JSON.")]
    NotJson,
    /// The body is no form.
    #[error("The request is no form.")]
    NotForm,
}

impl Refusal {
    /// All of them.
    pub const ALL: [Self; 12] = [
        Self::Host,
        Self::Options,
        Self::Path,
        Self::Method,
        Self::Token,
        Self::Link,
        Self::Elsewhere,
        Self::Locked,
        Self::Origin,
        Self::TooLong,
        Self::NotJson,
        Self::NotForm,
    ];

    /// Status code of HTTP (RFC 9110; 429: RFC 6585).
    #[must_use]
    pub const fn status(self) -> u16 {
        match self {
            Self::Host => 421,
            Self::Options | Self::Token | Self::Link | Self::Elsewhere | Self::Origin => 403,
            Self::Path => 404,
            Self::Method => 405,
            Self::Locked => 429,
            Self::TooLong => 413,
            Self::NotJson | Self::NotForm => 415,
        }
    }

    /// What that means for the measurement.
    #[must_use]
    pub const fn means(self) -> &'static str {
        "Nothing was marked and nothing was changed; the measurement goes on."
    }

    /// What to do next.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::Token | Self::Link => {
                "Open the link that the program shows in its terminal, or scan its picture."
            }
            Self::Elsewhere => {
                "Put the cursor in the address line of the browser and open the link from there, \
                 or scan the picture that the program shows in its terminal."
            }
            Self::Locked => "Wait a minute, then open the link that the program shows.",
            _ => "Open the address that the program shows in its terminal.",
        }
    }
}
