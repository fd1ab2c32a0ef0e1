//! Text as programs write it, made the bytes that instruments send.

use std::borrow::Cow;

const UTF8_MARK: &[u8] = &[0xEF, 0xBB, 0xBF];

/// The text in single bytes: PowerShell's `>` writes UTF-16, and many programs put a mark before
/// UTF-8. What is neither is given back as it is.
pub(super) fn plain(bytes: &[u8]) -> Cow<'_, [u8]> {
    let from: fn([u8; 2]) -> u16 = match bytes {
        [0xFF, 0xFE, ..] => u16::from_le_bytes,
        [0xFE, 0xFF, ..] => u16::from_be_bytes,
        // Without a mark: no text and no sentence has a zero for every second byte.
        [a, 0, b, 0, ..] if *a != 0 && *b != 0 => u16::from_le_bytes,
        [0, a, 0, b, ..] if *a != 0 && *b != 0 => u16::from_be_bytes,
        _ => return Cow::Borrowed(bytes.strip_prefix(UTF8_MARK).unwrap_or(bytes)),
    };
    let (pairs, _) = bytes.as_chunks::<2>();
    let units = pairs.iter().map(|&pair| from(pair)).filter(|&unit| unit != 0xFEFF);
    let text: String =
        char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)).collect();
    Cow::Owned(text.into_bytes())
}
