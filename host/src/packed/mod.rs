//! Captures that are closed, made smaller: packed in blocks that each stand on their own.
//!
//! A packed capture is a row of blocks. Each holds up to [`BLOCK`] bytes of the plain capture as
//! one frame of Zstandard (RFC 8878), behind a head in a skippable frame (3.1.2 there). So any
//! program for that format gives back the plain bytes, and passes our heads over.
//!
//! | offset | length | field of a head |
//! |---|---|---|
//! | 0 | 4 | magic number of the skippable frame, `5E 2A 4D 18` |
//! | 4 | 4 | length of what follows in it: 48 |
//! | 8 | 6 | the word `trpack` |
//! | 14 | 2 | version, 1 |
//! | 16 | 8 | bytes of the whole plain capture, at most [`MOST`] |
//! | 24 | 8 | plain bytes before this block |
//! | 32 | 8 | bytes of the packed file before this head |
//! | 40 | 4 | plain bytes in this block, at most [`BLOCK`] |
//! | 44 | 4 | bytes of its frame, which follows |
//! | 48 | 4 | CRC-32C of that frame |
//! | 52 | 4 | CRC-32C of bytes 0 to 52 |
//!
//! Numbers are little endian. A head without a frame, behind the last block, is the end. Every byte
//! of the file is under a sum, so whatever was changed, cut off or added is told: where a block is
//! not whole its plain bytes are handed on as zeros, of which the capture's reader tells how many
//! they are, and all other blocks are read.
//!
//! What a file is, its bytes say and not its name. A packed capture keeps the name it had.
//!
//! | module | duty |
//! |---|---|
//! | `block` | the head of a block |
//! | [`unpack`] | the plain bytes of a packed capture |
//! | [`pack`] | plain bytes to a packed capture |
//! | [`plain`] | the plain bytes of a capture, packed or not, and their digest |
//! | [`rewrite`] | a file packed or unpacked where it is, so that nothing can be lost |

mod block;
pub mod pack;
pub mod plain;
pub mod rewrite;
pub mod unpack;

pub use block::{BLOCK, HEAD, MOST, VERSION};
