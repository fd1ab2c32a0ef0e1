//! What happens to a board besides edges: its cable is pulled and put in again, its program hangs
//! and is restarted, its supply fails. No count may be lost while it has power, and the host must
//! see that a count began anew when it had none.

use crate::rig::{Rig, START, Subject};
use trundle_bench::{Start, Stimulus};
use trundle_protocol::message::{Hello, ResetCause, ToHost};
use trundle_protocol::units::Channel;
use trundle_sim::image::HostLine;

/// Times that the cable is pulled.
const PULLS: u64 = 100;
/// How long it stays out: from shorter than a host notices to longer than the board keeps what it
/// would have sent, microseconds.
const OUT_US: [u64; 4] = [1_000, 40_000, 250_000, 900_000];
/// Edges of all three inputs come all the while, microseconds apart.
const EDGE_US: [u64; 3] = [800, 1_000, 2_500];
/// The watchdog has restarted the board by then, microseconds: it is set to 1 s.
const WATCHED_US: u64 = 1_500_000;
/// Longest silence of a board that has just been started, microseconds.
const BOOT_US: u64 = 500_000;

/// Edges that never end.
struct Edges {
    next_us: [u64; 3],
    sent: [u64; 3],
}

impl Edges {
    const fn new(now_us: u64) -> Self {
        Self { next_us: [now_us; 3], sent: [0; 3] }
    }

    /// Plays those up to a time, and lets it pass.
    fn run_to(&mut self, rig: &mut Rig, at_us: u64) -> Result<(), String> {
        while let Some((n, us)) = self.first().filter(|(_, us)| *us < at_us) {
            rig.play(us, Stimulus::Edge(Channel::ALL[n]));
            self.next_us[n] += EDGE_US[n];
            self.sent[n] += 1;
        }
        rig.run_to(at_us)
    }

    fn first(&self) -> Option<(usize, u64)> {
        self.next_us.iter().copied().enumerate().min_by_key(|(_, us)| *us)
    }
}

/// The findings.
pub fn check(subject: Subject<'_>) -> Result<Vec<String>, String> {
    let mut findings = Vec::new();
    if subject.line == HostLine::Usb {
        findings.extend(pulled(subject)?);
        findings.extend(closed(subject)?);
    }
    findings.extend(restarted(subject)?);
    Ok(findings)
}

/// The cable out and in again, many times.
fn pulled(subject: Subject<'_>) -> Result<Vec<String>, String> {
    let mut out = Vec::new();
    let mut rig = Rig::connected(subject, &START)?;
    let first = rig.heard.hello.ok_or("no hello came")?;
    let mut edges = Edges::new(rig.now_us);
    for pull in 0..PULLS {
        rig.now(Stimulus::Plugged(false));
        let from_us = rig.now_us;
        edges.run_to(&mut rig, from_us + OUT_US[pull as usize % OUT_US.len()])?;
        rig.now(Stimulus::Plugged(true));
        rig.heard.said.clear();
        let plugged_us = rig.now_us;
        edges.run_to(&mut rig, plugged_us + 200_000)?;
        let hello = answer(&mut rig, &mut edges)?;
        if hello.stamp.boot_id != first.stamp.boot_id {
            out.push(format!("pull {pull}: the board began anew: {hello:?}"));
        }
        out.extend(stale(&rig, plugged_us, &first).map(|it| format!("pull {pull}: {it}")));
    }
    let end_us = rig.now_us + 100_000;
    rig.run_to(end_us)?;
    let (sent, counted, account) = (edges.sent, rig.heard.impulses(), rig.account()?);
    println!(
        "cable out and in {PULLS} times: {sent:?} sent, {counted:?} counted, host found the board \
         {} times, {:.0} s simulated",
        account.configurations,
        rig.now_us as f64 / 1e6,
    );
    if counted != sent || account.configurations != PULLS + 1 {
        out.push(format!("{counted:?} counted of {sent:?}, {account:?}"));
    }
    Ok(out)
}

/// Asks until it answers, with the edges going on.
fn answer(rig: &mut Rig, edges: &mut Edges) -> Result<Hello, String> {
    let from_us = rig.now_us;
    while rig.now_us < from_us + 2_000_000 {
        rig.hail();
        let until_us = rig.now_us + 20_000;
        edges.run_to(rig, until_us)?;
        if let Some(hello) = rig.answered() {
            return Ok(hello);
        }
    }
    Err("the board does not answer after its cable was put in again".to_owned())
}

/// A report that is older than the cable's being in: what the host would take for news.
fn stale(rig: &Rig, plugged_us: u64, first: &Hello) -> Option<String> {
    // The board's clock against the bench's, from its first answer, to some milliseconds.
    let began_us = rig.first_hello_us.checked_sub(first.stamp.board_us.0)?;
    let counts = rig.heard.said.iter().find_map(|message| match message {
        ToHost::Counts(counts) => Some(counts.stamp.board_us.0 + began_us),
        _ => None,
    })?;
    let age_us = plugged_us.saturating_sub(counts);
    (age_us > 60_000).then(|| format!("a report {age_us} us older than the cable was heard"))
}

/// The host's program closes the port for a while, and another opens it.
fn closed(subject: Subject<'_>) -> Result<Vec<String>, String> {
    let mut out = Vec::new();
    let mut rig = Rig::connected(subject, &START)?;
    let first = rig.heard.hello.ok_or("no hello came")?;
    let mut edges = Edges::new(rig.now_us);
    for span_us in [100_000, 3_000_000] {
        rig.now(Stimulus::PortOpen(false));
        let until_us = rig.now_us + span_us;
        edges.run_to(&mut rig, until_us)?;
        rig.now(Stimulus::PortOpen(true));
        rig.heard.said.clear();
        let opened_us = rig.now_us;
        answer(&mut rig, &mut edges)?;
        out.extend(stale(&rig, opened_us, &first).map(|it| format!("port closed: {it}")));
    }
    rig.run(100_000)?;
    if rig.heard.impulses() != edges.sent {
        out.push(format!("port closed: {:?} of {:?}", rig.heard.impulses(), edges.sent));
    }
    Ok(out)
}

/// Watchdog, reset pin, power: each begins a new boot with its cause, and counts go on from 0.
fn restarted(subject: Subject<'_>) -> Result<Vec<String>, String> {
    let mut out = Vec::new();
    // So that it wraps soon after each start.
    let mut rig = Rig::connected(subject, &Start { timer_start: u32::MAX - 700_000, ..START })?;
    let mut boots = Vec::from([rig.heard.hello.ok_or("no hello came")?]);
    let causes = [
        (Stimulus::Hang, WATCHED_US, ResetCause::Watchdog),
        (Stimulus::PowerCut, 0, ResetCause::PowerOn),
        (Stimulus::ResetPin, 0, ResetCause::Pin),
        (Stimulus::Hang, WATCHED_US, ResetCause::Watchdog),
        (Stimulus::PowerCut, 0, ResetCause::PowerOn),
    ];
    for (number, (stimulus, after_us, cause)) in causes.into_iter().enumerate() {
        // High, and so in work, before the board starts: there is no edge to tell of it.
        let in_work = number % 2 == 0;
        rig.now(Stimulus::Working(in_work));
        rig.run(50_000)?;
        rig.now(stimulus);
        rig.run(after_us + BOOT_US)?;
        let hello = rig.connect()?;
        let working = rig.heard.counts.map(|counts| counts.working.in_work);
        let mut edges = Edges::new(rig.now_us);
        let until_us = rig.now_us + 2_000_000;
        edges.run_to(&mut rig, until_us)?;
        rig.run(100_000)?;
        let counted = rig.heard.impulses();
        println!(
            "{stimulus:?}: {:?}, boot {:08X}, in work {working:?}, {counted:?} of {:?}",
            hello.reset_cause, hello.stamp.boot_id.0, edges.sent
        );
        let fresh = boots.iter().all(|it| it.stamp.boot_id != hello.stamp.boot_id);
        let same = boots.iter().all(|it| it.board_id == hello.board_id);
        let right = hello.reset_cause == cause && working == Some(in_work);
        if !fresh || !same || !right || counted != edges.sent {
            out.push(format!("{stimulus:?}, {cause:?}, in work {in_work}: {hello:?}"));
        }
        boots.push(hello);
    }
    if boots[0].board_id.0 == 0 {
        out.push("the board has no number of its own".to_owned());
    }
    let account = rig.account()?;
    if account.starts != 1 + causes.len() as u64 {
        out.push(format!("{} starts: {account:?}", account.starts));
    }
    Ok(out)
}
