//! The same work on many things, by all processors that this program may use.
//!
//! What comes out, and every word, is in the order of the things, as if one processor had done
//! all: what a thread would say is kept, and said in its turn.

use super::out::{self, Heard};
use super::progress::Progress;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{Sender, channel};

/// More threads than this would wait for the disk and for each other.
const MOST: usize = 16;

/// Do `work` on each of `things`; `begin` gives what a thread needs for itself. Things behind one
/// that fails may be left undone, and none of their words is said.
///
/// # Errors
/// That of the first thing, by order, that has one.
pub fn each<T: Sync, S, R: Send, E: Send>(
    things: &[T],
    progress: &Progress,
    begin: impl Fn() -> Result<S, E> + Sync,
    work: impl Fn(&S, &T) -> Result<R, E> + Sync,
) -> Result<Vec<R>, E> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    by(threads.min(things.len()).min(MOST), things, progress, begin, work)
}

fn by<T: Sync, S, R: Send, E: Send>(
    threads: usize,
    things: &[T],
    progress: &Progress,
    begin: impl Fn() -> Result<S, E> + Sync,
    work: impl Fn(&S, &T) -> Result<R, E> + Sync,
) -> Result<Vec<R>, E> {
    if threads < 2 {
        let own = begin()?;
        let one = |thing| work(&own, thing).inspect(|_| progress.step());
        return things.iter().map(one).collect();
    }
    let (next, stopped) = (AtomicUsize::new(0), AtomicBool::new(false));
    let (send, done) = channel();
    // Whatever has been begun is ended, so that nothing before a thing that fails is left undone.
    let run = |send: Sender<(usize, Result<R, E>, Heard)>| {
        let mut own = None;
        while !stopped.load(Ordering::Relaxed) {
            let place = next.fetch_add(1, Ordering::Relaxed);
            let Some(thing) = things.get(place) else { return };
            let (found, heard) = out::heard_whole(|| match &own {
                Some(own) => work(own, thing),
                None => work(own.insert(begin()?), thing),
            });
            stopped.fetch_or(found.is_err(), Ordering::Relaxed);
            // Whoever listens is there until all threads have ended.
            let _ = send.send((place, found, heard));
        }
    };
    let mut all: Vec<_> = things.iter().map(|_| None).collect();
    let begun = std::thread::scope(|scope| {
        let run = &run;
        let start = |_| {
            let send = send.clone();
            std::thread::Builder::new().spawn_scoped(scope, move || run(send)).is_ok()
        };
        let begun = (0..threads).filter(|number| start(*number)).count();
        drop(send);
        for (place, found, heard) in done {
            progress.step();
            all[place] = Some((found, heard));
        }
        begun
    });
    if begun == 0 {
        // A system without another thread to give has this one.
        return by(1, things, progress, begin, work);
    }
    let mut results = Vec::new();
    for (found, heard) in all.into_iter().flatten() {
        out::say_heard(&heard);
        results.push(found?);
    }
    Ok(results)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use std::sync::Barrier;

    fn words(threads: usize, fails: &[usize]) -> (Result<Vec<usize>, usize>, Heard) {
        let things: Vec<usize> = (0..200).collect();
        let progress = Progress::start(200, "things");
        let work = |_: &(), thing: &usize| {
            // The first takes longest, so that others are ahead of it.
            let slow = if *thing == 0 { 20 } else { thing % 3 };
            std::thread::sleep(std::time::Duration::from_millis(slow as u64));
            out::notice(&format!("thing {thing}"));
            if fails.contains(thing) { Err(*thing) } else { Ok(thing * 2) }
        };
        out::heard_whole(|| by(threads, &things, &progress, || Ok(()), work))
    }

    #[test]
    fn many_give_and_say_what_one_does() {
        let one = words(1, &[]);
        assert_eq!(one.0.as_ref().unwrap()[199], 398);
        for threads in [2, 3, 7] {
            assert_eq!(words(threads, &[]), one);
        }
    }

    #[test]
    fn the_first_that_fails_is_the_one_that_is_told() {
        let one = words(1, &[40, 41, 150]);
        assert_eq!(one.0, Err(40));
        for threads in [2, 7] {
            assert_eq!(words(threads, &[40, 41, 150]), one);
        }
    }

    #[test]
    fn they_work_at_the_same_time_and_each_begins_once() {
        let (met, begun) = (Barrier::new(2), AtomicUsize::new(0));
        let begin = || {
            begun.fetch_add(1, Ordering::Relaxed);
            Ok::<(), ()>(())
        };
        let progress = Progress::start(2, "things");
        let meet = |_: &(), _: &usize| Ok(met.wait().is_leader());
        let leaders = by(2, &[0, 1], &progress, begin, meet).unwrap();
        assert_eq!(leaders.iter().filter(|leader| **leader).count(), 1);
        assert_eq!(begun.into_inner(), 2);
        assert_eq!(by(0, &[0; 0], &progress, || Ok::<(), ()>(()), |_, _| Ok(())), Ok(vec![]));
    }
}
