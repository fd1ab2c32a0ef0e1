//! What a test program must not take over from whoever started it: a share of the processors
//! with others in it, and a closed terminal that is to be ignored.

use rustix::process::{Signal, set_parent_process_death_signal, setsid};
use std::sync::{Arc, Once};

/// Puts this test program into a session of its own, once.
///
/// What it starts listens to a closed terminal, even where it was started by `nohup`: signals that
/// are caught here are as by default there (`execve(2)`).
///
/// Linux shares the processors out among sessions (`sched(7)`, autogroup). Beside busy loops in
/// the same session, bytes in a pseudo-terminal were seen to be held up by ten seconds, which no
/// pace of a tractor outlasts; beside the same loops in another one, by a twentieth of a second.
pub fn own_session() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        signal_hook::flag::register(signal_hook::consts::SIGHUP, Arc::default()).unwrap();
        // Refused to the leader of a group, which a shell has set apart already.
        if setsid().is_ok() {
            // An interrupt typed at the old terminal ends whoever started this, and so this too.
            // Linux forgets the wish with the thread that had it (`PR_SET_PDEATHSIG(2const)`).
            std::thread::spawn(|| {
                set_parent_process_death_signal(Some(Signal::TERM)).unwrap();
                loop {
                    std::thread::park();
                }
            });
        }
    });
}
