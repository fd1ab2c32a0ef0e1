//! A line's bytes, eight or sixteen at a time: a long log is mostly lines.

/// Whether a byte cannot stand inside a sentence.
#[inline(always)]
fn ends_line(byte: u8) -> bool {
    !(b' '..=b'~').contains(&byte) | (byte == b'$') | (byte == b'!')
}

/// Where the first byte stands that ends a line. Sixteen bytes are tested at a time without a
/// branch, which compilers turn into one vector step; the exact place is looked for only in the
/// block that has one. The last block reaches back over what is known to hold none.
pub(crate) fn find_end(bytes: &[u8]) -> Option<usize> {
    let (blocks, tail) = bytes.as_chunks::<16>();
    for (at, block) in blocks.iter().enumerate() {
        if block.iter().fold(false, |any, &byte| any | ends_line(byte)) {
            return end_in_block(block).map(|place| at * 16 + place);
        }
    }
    match bytes.last_chunk::<16>() {
        Some(block) => end_in_block(block).map(|place| bytes.len() - 16 + place),
        None => tail.iter().position(|&byte| ends_line(byte)),
    }
}

#[inline]
fn end_in_block(block: &[u8; 16]) -> Option<usize> {
    let (words, _) = block.as_chunks::<8>();
    end_in_word(words[0]).or_else(|| end_in_word(words[1]).map(|place| place + 8))
}

/// The same within one word. `x - n` borrows into the top bit of a byte only where that byte is
/// below `n`, or one under it was, so the lowest top bit is exact; bytes of 80 and above have
/// theirs set from the start.
#[inline]
fn end_in_word(word: [u8; 8]) -> Option<usize> {
    const TOP: u64 = repeat(0x80);
    let word = u64::from_le_bytes(word);
    let below = |word: u64, limit: u64| word.wrapping_sub(limit) & !word;
    let is = |byte: u8| below(word ^ repeat(byte), repeat(1));
    let ends = word | below(word, repeat(b' ')) | is(0x7F) | is(b'$') | is(b'!');
    let place = (ends & TOP).trailing_zeros() / 8;
    (place < 8).then_some(place as usize)
}

const fn repeat(byte: u8) -> u64 {
    u64::from_le_bytes([byte; 8])
}

/// All bytes together, eight at a time.
#[inline]
pub(crate) fn exclusive_or(bytes: &[u8]) -> u8 {
    let (words, tail) = bytes.as_chunks::<8>();
    let mut word = words.iter().fold(0, |sum, word| sum ^ u64::from_le_bytes(*word));
    match bytes.last_chunk::<8>() {
        // The last bytes again, shifted until only those are left that no word had.
        Some(last) if !tail.is_empty() => {
            word ^= u64::from_le_bytes(*last) >> (64 - 8 * tail.len());
        }
        _ => word ^= tail.iter().fold(0, |sum, byte| sum ^ u64::from(*byte)),
    }
    let half = word ^ word >> 32;
    let quarter = half ^ half >> 16;
    (quarter ^ quarter >> 8) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_together_are_those_of_one_at_a_time() {
        let bytes: [u8; 90] = std::array::from_fn(|at| (at as u8).wrapping_mul(73) ^ 0x35);
        for from in 0..bytes.len() {
            for to in from..=bytes.len() {
                let part = &bytes[from..to];
                let plain = part.iter().fold(0, |sum, byte| sum ^ byte);
                assert_eq!(exclusive_or(part), plain, "{from}..{to}");
            }
        }
    }

    #[test]
    fn finds_the_first_byte_that_ends_a_line_whatever_stands_around_it() {
        for length in 0..40 {
            for at in 0..length {
                for byte in 0..=255_u8 {
                    for around in [b' ', b'0', b'~', b'\"', b'#', b'%'] {
                        let mut bytes = [around; 40];
                        bytes[at] = byte;
                        // What follows must not be found instead.
                        bytes[at + 1..].fill(byte.wrapping_add(1));
                        let bytes = &bytes[..length];
                        let plain = bytes.iter().position(|&byte| ends_line(byte));
                        assert_eq!(find_end(bytes), plain, "{bytes:?}");
                    }
                }
            }
        }
    }
}
