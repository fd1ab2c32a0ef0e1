//! Boards on the bench, sound ones and ones soldered badly, with a person who moves the bridge.

use crate::{HOST_START_NS, arrival_delay_ns};
use trundle_core::capture::{
    Arrival, Entry, HEADER_FORMAT, Header, HostMark, HostMarkAction, PortRole, Record,
};
use trundle_core::session::{Keeps, Session};
use trundle_core::survey::bench::lead::{Lead, Order};
use trundle_core::survey::bench::{Bench, Input, bench};
use trundle_core::survey::sensors::check::Mark;
use trundle_protocol::WireMessage as _;
use trundle_protocol::message::{HelloRequest, ToBoard};
use trundle_protocol::units::Fixed32;
use trundle_sim::{BenchFault, BenchInput, Emission, Port, Scenario, Simulation};

/// From one look of the program to the next, microseconds.
const LOOK_US: u64 = 20_000;
/// From one judgement to the next.
const JUDGE_US: u64 = 100_000;
/// A person takes so long to move the bridge, microseconds.
const HAND_US: u64 = 1_700_000;
/// Longest check, microseconds: every input given up takes three quarters of a minute.
const LIMIT_US: u64 = 600_000_000;

/// One board.
#[derive(Clone, Debug)]
pub struct BoardCase {
    /// Its name in the table.
    pub name: &'static str,
    /// What is wrong with it.
    pub faults: Vec<BenchFault>,
    /// Which inputs are checked.
    pub inputs: Vec<Input>,
    /// The input that must fail, and a word of what is said of it; none where all must pass.
    pub fails: Option<(Input, &'static str)>,
}

/// The simulator's name for an input.
#[must_use]
pub fn of_sim(input: Input) -> BenchInput {
    BenchInput::from_word(input.word()).expect("both sides call the inputs by the same words")
}

/// Sound boards, and every fault on more than one kind of input.
#[must_use]
pub fn board_cases() -> Vec<BoardCase> {
    use BenchFault::{Dead, Drops, Joined, NoFilter, Shaky, Swapped};
    use Input::{Button, Gate, Implement, Pto, Radar, Wheel};
    let on = of_sim;
    let case = |name, fault: BenchFault, inputs: &[Input], fails: (Input, &'static str)| {
        BoardCase { name, faults: vec![fault], inputs: inputs.to_vec(), fails: Some(fails) }
    };
    vec![
        BoardCase { name: "sound", faults: vec![], inputs: Input::ALL.to_vec(), fails: None },
        case("wheel drops", Drops(on(Wheel)), &[Wheel], (Wheel, "impulses counted at")),
        case("pto drops", Drops(on(Pto)), &[Pto], (Pto, "impulses counted at")),
        case("radar dead", Dead(on(Radar)), &[Wheel, Radar, Pto], (Radar, "nothing received")),
        case("implement dead", Dead(on(Implement)), &[Implement], (Implement, "nothing received")),
        case("gate dead", Dead(on(Gate)), &[Button, Gate], (Gate, "nothing received")),
        case("wheel without filter", NoFilter(on(Wheel)), &[Wheel], (Wheel, "with the filter at")),
        case("radar without filter", NoFilter(on(Radar)), &[Radar], (Radar, "with the filter at")),
        case("wheel stamps wander", Shaky(on(Wheel)), &[Wheel], (Wheel, "wander")),
        case("radar stamps wander", Shaky(on(Radar)), &[Radar], (Radar, "wander")),
        case("wheel to radar", Joined(on(Wheel), on(Radar)), &[Wheel], (Wheel, "radar input too")),
        case("pto to gate", Joined(on(Pto), on(Gate)), &[Pto], (Pto, "gate input too")),
        case(
            "radar to implement",
            Joined(on(Radar), on(Implement)),
            &[Radar],
            (Radar, "implement input too"),
        ),
        case("gate to wheel", Joined(on(Gate), on(Wheel)), &[Gate], (Gate, "wheel input too")),
        case(
            "wheel and radar swapped",
            Swapped(on(Wheel), on(Radar)),
            &[Wheel],
            (Wheel, "arrives at the radar input"),
        ),
        case(
            "button and gate swapped",
            Swapped(on(Button), on(Gate)),
            &[Button],
            (Button, "arrives at the gate input"),
        ),
    ]
}

/// What came of one check.
pub struct Checked {
    /// The last judgement.
    pub bench: Bench,
    /// The capture.
    pub records: Vec<Record>,
    /// What the person was shown.
    pub said: Vec<String>,
    /// How long it took, simulated seconds.
    pub took_s: f64,
}

/// Check a board of this case.
#[must_use]
pub fn check_board(case: &BoardCase, seed: u64) -> Checked {
    let mut scenario = Scenario::named("bench").expect("the scenario of the bench is there");
    scenario.bench.bridge.clear();
    scenario.bench.faults.clone_from(&case.faults);
    check_with(&scenario, &case.inputs, seed, |asked| Some(of_sim(asked)))
}

/// Check the board of a scenario; `bridged` is where the person puts the bridge when an input is
/// asked for.
pub fn check_with(
    scenario: &Scenario,
    inputs: &[Input],
    seed: u64,
    bridged: impl Fn(Input) -> Option<BenchInput>,
) -> Checked {
    let mut simulation = Simulation::new(scenario, seed);
    let mut job = Job::new();
    let mut lead = Lead::new(inputs.to_vec());
    let (mut judged, mut hand): (Option<Bench>, Option<(u64, Input)>) = (None, None);
    let mut now_us = 0;
    // The board's own hello was over before anybody listened.
    let ask = ToBoard::HelloRequest(HelloRequest { nonce: Fixed32(7) });
    simulation.advance_to(LOOK_US, &mut job.out);
    simulation.board_input(ask.frame().as_bytes());
    while !lead.over() && now_us < LIMIT_US {
        now_us += LOOK_US;
        simulation.advance_to(now_us, &mut job.out);
        job.take();
        if let Some((_, input)) = hand.take_if(|(at_us, _)| *at_us <= now_us) {
            simulation.bridge(bridged(input));
        }
        if now_us.is_multiple_of(JUDGE_US) {
            judged = Some(bench(&job.session, true));
        }
        let Some(hello) = judged.as_ref().and_then(|bench| bench.hello) else { continue };
        let Some(board_us) = job.session.latest().0.map(|sample| sample.board_us) else { continue };
        for order in lead.next(board_us, &hello, judged.as_ref()) {
            match order {
                Order::Send(command) => simulation.board_input(command.frame().as_bytes()),
                Order::Note(text) => {
                    let word = text.rsplit(' ').next().unwrap_or_default();
                    if text.contains("bridge to") {
                        hand = Input::from_word(word).map(|input| (now_us + HAND_US, input));
                    }
                    job.note(now_us, &text);
                }
                Order::Say(words) => job.said.push(words),
            }
        }
    }
    job.end();
    let bench = bench(&job.session, false);
    let Job { records, said, .. } = job;
    Checked { bench, records, said, took_s: now_us as f64 * 1e-6 }
}

/// A job that is recorded and read at the same time.
struct Job {
    session: Session,
    records: Vec<Record>,
    out: Vec<Emission>,
    said: Vec<String>,
    latest_ns: u64,
}

impl Job {
    fn new() -> Self {
        let (session, records, said) = (Keeps::Trail(0).session(), Vec::new(), Vec::new());
        let mut job = Self { session, records, out: Vec::new(), said, latest_ns: 0 };
        let header = Header {
            format: HEADER_FORMAT.to_owned(),
            version: 1,
            software: env!("CARGO_PKG_VERSION").to_owned(),
            started_utc: trundle_core::units::rfc3339(0),
            arrival: Arrival::Measured,
            pace: 1.0,
            practice: true,
        };
        job.record(0, Entry::Header(header));
        job
    }

    fn record(&mut self, host_ns: u64, entry: Entry) {
        self.latest_ns = self.latest_ns.max(host_ns);
        let record = Record { host_ns: self.latest_ns, entry };
        self.session.feed(&record, &mut Vec::new());
        self.records.push(record);
    }

    fn take(&mut self) {
        for emission in std::mem::take(&mut self.out) {
            let role = match emission.port {
                Port::Board => PortRole::Board,
                Port::Receiver => PortRole::Receiver,
                Port::Bus => PortRole::Bus,
            };
            let us = emission.sim_us;
            let host_ns = HOST_START_NS + us * 1000 + arrival_delay_ns(us);
            self.record(host_ns, Entry::Bytes(role, emission.bytes));
        }
    }

    fn note(&mut self, now_us: u64, text: &str) {
        let host_ns = HOST_START_NS + now_us * 1000;
        let mark = HostMark { key: host_ns, action: HostMarkAction::Note, text: text.to_owned() };
        self.record(host_ns, Entry::HostMark(mark));
    }

    fn end(&mut self) {
        self.record(self.latest_ns + 1_000_000, Entry::End);
        self.session.finish(&mut Vec::new());
    }
}

/// Whether the case came out as it must: nothing faulty passes, nothing sound fails, and what is
/// wrong is named.
///
/// # Errors
/// What came out otherwise.
pub fn as_it_must(case: &BoardCase, checked: &Checked) -> Result<(), String> {
    let bench = &checked.bench;
    let marks = || bench.lines.iter().map(|line| format!("{}: {}", line.key, line.what));
    let wrong = |why: &str| Err(format!("{why}: {:#?}", marks().collect::<Vec<_>>()));
    let Some((input, word)) = case.fails else {
        return if bench.passes() { Ok(()) } else { wrong("a sound board fails") };
    };
    if bench.passes() {
        return wrong("a faulty board passes");
    }
    let Some(line) = bench.line(input) else { return wrong("the input has no line") };
    if line.mark != Mark::Fail || !line.what.contains(word) || line.next.is_empty() {
        return wrong("the fault is not named");
    }
    let others = bench.planned.iter().filter(|other| **other != input);
    let blamed = others.filter_map(|other| bench.line(*other)).any(|line| line.mark != Mark::Pass);
    if blamed { wrong("a sound input is blamed") } else { Ok(()) }
}
