//! The same on many seeds.

use std::ops::Range;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

/// How many at a time: the machines that check this have two processors.
const ABREAST: usize = 2;

/// What came of each seed, in their order, worked two at a time.
///
/// # Panics
/// Where one of them did.
#[must_use]
pub fn on_seeds<T: Send>(seeds: Range<u64>, one: impl Fn(u64) -> T + Sync) -> Vec<T> {
    let next = AtomicU64::new(seeds.start);
    let came = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..ABREAST {
            scope.spawn(|| {
                while let seed = next.fetch_add(1, Ordering::Relaxed)
                    && seed < seeds.end
                {
                    let result = one(seed);
                    came.lock().expect("no thread panics while it holds this").push((seed, result));
                }
            });
        }
    });
    let mut came = came.into_inner().expect("no thread panics while it holds this");
    came.sort_by_key(|(seed, _)| *seed);
    came.into_iter().map(|(_, result)| result).collect()
}
