//! A whole job: the simulated tractor drives, `trundle drive` measures, a person sits there.

use super::tractor::{Hands, Tractor};
use super::{Finished, LIMIT, Program, TempDir, assert_honest, json};
use serde_json::Value;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::time::{Duration, Instant};
use trundle_sim::{Scenario, Truth};

/// Longest wait for an acknowledgement that a fault may have swallowed.
const MAYBE: Duration = Duration::from_secs(20);

/// How a job is to go.
pub struct Plan {
    pub scenario: Scenario,
    pub seed: u64,
    /// Simulated seconds for each second. Where the machine was too slow for the tractor, the job
    /// is driven again at half of it.
    pub pace: f64,
    pub hands: Option<Hands>,
    /// What is typed at the start and at the finish peg of a pass; the button's work otherwise.
    pub typed: Option<fn(pass: u32, start: bool) -> &'static [&'static str]>,
}

/// A job that is over.
pub struct Done {
    pub finished: Finished,
    pub result: Value,
    pub truth: Truth,
    /// The capture.
    pub capture: String,
    /// What went into the receiver's port, and how much of it before the recording began.
    pub receiver_sent: (Vec<u8>, usize),
    pub folder: TempDir,
}

/// The scenario of that name with few passes and rests long enough to get ready in: the tractor
/// does not wait for the program.
pub fn patient(name: &str, passes: u32) -> Scenario {
    let mut scenario = Scenario::named(name).unwrap();
    scenario.passes = passes;
    scenario.rest_s = 20.0;
    scenario.mark_at_share = 0.8;
    scenario.receiver.rate_hz = 5;
    scenario
}

/// The first attempt during which the machine kept up with the tractor, at this pace or a slower
/// one: the tractor does not wait, so another attempt says nothing about the program.
///
/// What fails while everything on the machine has to wait for a processor is tried again too,
/// slower; on a machine with time for it, and at an eighth of the pace, a failure is one.
pub fn kept_up<T>(pace: f64, mut attempt: impl FnMut(f64) -> Option<T>) -> T {
    for pace in [1.0, 2.0, 4.0].map(|slower| pace / slower) {
        let since = Waiting::now();
        match catch_unwind(AssertUnwindSafe(|| attempt(pace))) {
            Ok(Some(kept)) => return kept,
            Err(failure) if !since.busy() => resume_unwind(failure),
            Ok(None) | Err(_) => {}
        }
    }
    attempt(pace / 8.0).expect("even an eighth of the pace is too fast for this machine")
}

/// How long something on this machine has waited for a processor, as the kernel counts it.
struct Waiting {
    at: Instant,
    waited_us: Option<f64>,
}

impl Waiting {
    /// Share of the time with something waiting beyond which a machine is busy.
    const BUSY: f64 = 0.5;

    fn now() -> Self {
        // "some avg10=0.00 avg60=0.00 avg300=0.00 total=MICROSECONDS"; not every kernel has it.
        let told = std::fs::read_to_string("/proc/pressure/cpu").ok();
        let total = |told: String| told.lines().next()?.rsplit_once("total=")?.1.parse().ok();
        Self { at: Instant::now(), waited_us: told.and_then(total) }
    }

    fn busy(&self) -> bool {
        let (now, since) = (Self::now(), self.at.elapsed().as_secs_f64() * 1e6);
        let waited = now.waited_us.zip(self.waited_us).map(|(now, before)| now - before);
        waited.is_some_and(|waited| waited > Self::BUSY * since)
    }
}

/// Drive the job and judge it; again and slower, when the machine is too slow to keep up with the
/// tractor.
pub fn drive(plan: &Plan, judge: impl Fn(&Done)) {
    kept_up(plan.pace, |pace| {
        let done = attempt(plan, pace)?;
        done.check();
        judge(&done);
        Some(())
    });
}

/// One attempt; `None` when the program was not ready before the first mark was due, or the
/// machine stalled.
fn attempt(plan: &Plan, pace: f64) -> Option<Done> {
    let folder = TempDir::new();
    let capture = folder.file("job.capture");
    let tractor = Tractor::start(&plan.scenario, plan.seed, pace, plan.hands.clone());
    let (board, receiver, pace) = (tractor.board(), tractor.receiver(), pace.to_string());
    let mut program = Program::start(
        &[
            "drive",
            "--board",
            &board,
            "--receiver",
            &receiver,
            "--length",
            "100 m",
            "--pace",
            &pace,
            "--capture",
            &capture,
            "--json",
        ],
        &[],
    );
    let recording = program.until("recording", |program| program.said("Recording to ") > 0);
    assert!(recording, "drive did not begin:\n{}", program.stderr());
    let before = tractor.receiver_sent().len();
    program.until("counts and fixes", |program| {
        program.said("counts live; fix ") > program.said("counts live; fix STALE")
    });
    if tractor.now_s() > plan.scenario.mark_at_share * plan.scenario.rest_s {
        return None;
    }
    match plan.typed {
        Some(typed) => type_marks(&tractor, &mut program, typed)?,
        None => wait_for_marks(&tractor, &mut program, plan.scenario.passes)?,
    }
    let receiver_sent = (tractor.receiver_sent(), before);
    program.types("q");
    let finished = program.finish();
    let result = json(&finished.stdout);
    let starved = tractor.starved();
    let truth = tractor.stop();
    let done = Done { finished, result, truth, capture, receiver_sent, folder };
    (!starved).then_some(done)
}

/// Wait until the tractor has done its job and the marks have come, as far as they do; `None`
/// when the machine stalled.
fn wait_for_marks(tractor: &Tractor, program: &mut Program, passes: u32) -> Option<()> {
    let over = program.until("the job", |_| tractor.done() || tractor.starved());
    assert!(over, "{}", program.stderr());
    if tractor.starved() {
        return None;
    }
    let since = Instant::now();
    let last = format!("Pass {passes}: end saved");
    program.until("the last mark", |p| p.said(&last) > 0 || since.elapsed() > MAYBE);
    Some(())
}

/// Type at every peg; `None` when the tractor did not wait for it.
fn type_marks(
    tractor: &Tractor,
    program: &mut Program,
    typed: fn(u32, bool) -> &'static [&'static str],
) -> Option<()> {
    let mut at = 0;
    loop {
        let started = Instant::now();
        while tractor.activities().len() <= at {
            assert!(started.elapsed() < LIMIT, "the tractor stands still");
            std::thread::sleep(Duration::from_millis(2));
        }
        let doing = tractor.activities()[at].clone();
        at += 1;
        if doing.starts_with("the job is done") {
            return Some(());
        }
        if !doing.contains("mark now") {
            continue;
        }
        let number = doing.split(' ').nth(1).unwrap().parse().unwrap();
        let lines = typed(number, doing.contains("start peg"));
        let answers = |p: &Program| p.said(" saved") + p.said(" undone") + p.said(" is rejected");
        let before = answers(program);
        lines.iter().for_each(|line| program.types(line));
        let said = |p: &Program| answers(p) >= before + lines.len();
        let not_taken = |p: &Program| p.said("not counted") + p.said("nothing was marked") > 0;
        let answered = program.until(&doing, |p| said(p) || not_taken(p)) && said(program);
        assert!(answered, "{doing}: {lines:?} was not taken:\n{}", program.stderr());
        if tractor.activities().len() > at || tractor.starved() {
            return None;
        }
    }
}

impl Done {
    /// What every job owes: the capture gives the same bytes again, here and elsewhere, and the
    /// result is honest.
    fn check(&self) {
        for variables in [&[][..], &super::ELSEWHERE] {
            let again = super::trundle_in(&["work", &self.capture, "--json"], variables);
            assert_eq!(again.stdout, self.finished.stdout, "replay differs under {variables:?}");
            assert_eq!(again.code, self.finished.code, "{variables:?}");
        }
        let truth = &self.truth;
        let (wheel, radar) = (truth.wheel_impulses_per_100m, truth.radar_impulses_per_100m);
        assert_honest(&self.result, self.finished.code, wheel, radar);
    }

    /// In short, for messages.
    pub fn story(&self) -> String {
        let figures = super::best(&self.result, "wheel");
        let flags = &self.result["flags"];
        let (code, truth) = (self.finished.code, self.truth.wheel_impulses_per_100m);
        format!(
            "code {code:?}, wheel {figures:?}, truly {truth:.2}, flags {flags:#}\n{}",
            self.finished.stderr
        )
    }
}
