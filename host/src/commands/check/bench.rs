//! `trundle check --bench`: a counter board alone, before it meets a tractor.

use super::CheckArgs;
use crate::commands::recording::{PortArgs, replay_or_record};
use crate::desk::task::{Do, Method, News, Rendered, Standing, Task, Turn};
use crate::recorder::live::LiveJob;
use crate::shell::exit::{self, Trouble};
use crate::shell::out::Voice;
use crate::shell::stop;
use std::sync::Arc;
use std::time::Duration;
use trundle_core::capture::HostMarkAction;
use trundle_core::result::bench_v1;
use trundle_core::session::{Keeps, Session};
use trundle_core::survey::bench::lead::{Lead, Order};
use trundle_core::survey::bench::{Bench, Input, bench};
use trundle_show::live::page::Shown;
use trundle_show::live::page::document::PageKind;
use trundle_show::live::page::listed::shown_bench;
use trundle_show::model::View;
use trundle_show::stations::Markup;
use trundle_show::stations::measured as cards;
use trundle_show::text::bench as bench_text;

/// From one judgement of the capture to the next, nanoseconds of the job's clock.
const JUDGE_EVERY_NS: u64 = 100_000_000;
/// Longest wait for a board that is to be set back, nanoseconds of the job's clock: longer than the
/// lead waits for its answers, and all there is for a board that was pulled out.
const SET_BACK_NS: u64 = 2_000_000_000;
/// What the person does.
const STEPS: &str = "\
The check of the counter board on the bench:
1. Take the board off the tractor: no sensor cable, no supply but the USB cable.
2. The program names a pin. Bridge the test pin to it with a short wire, and leave it there.
3. When the input is judged, the program names the next one. No key has to be pressed.
An input at which nothing arrives is given up after 45 s. The check ends by itself; q ends it.";

/// An input by its word.
///
/// # Errors
/// Those that there are.
pub fn input(typed: &str) -> Result<Input, String> {
    Input::from_word(typed).ok_or_else(|| {
        let words = Input::ALL.map(Input::word).join(", ");
        format!("one of {words}")
    })
}

/// Run it; gives the exit code: 1 when an input failed or was not judged.
///
/// # Errors
/// [`Trouble`]: capture (5), ports (2, 3, 4), storage (2, 4, 6).
pub fn run(args: &CheckArgs) -> Result<u8, Trouble> {
    let voice = Voice { json: args.json };
    // On the bench there need be no receiver; one that is named shows the board's clock.
    let no_receiver = args.ports.no_receiver || args.ports.receiver.is_none();
    let ports = PortArgs { no_receiver, ..args.ports.clone() };
    let task = || Bridging::new(args.input.clone());
    let done =
        replay_or_record(args.recorded.as_deref(), &ports, Keeps::Trail(0), voice, STEPS, task)?;
    Ok(done.map_or_else(stop::code, |done| done.code))
}

struct OnBench;

impl Method for OnBench {
    type Worked = Bench;

    fn work(&self, session: &Session, growing: bool) -> Bench {
        bench(session, growing)
    }

    fn rendered(&self, bench: &Bench) -> Rendered {
        Rendered {
            text: bench_text::render(bench),
            json: bench_v1::to_json(bench),
            code: if bench.passes() { exit::OK } else { exit::FLAGGED },
        }
    }

    fn card(&self, bench: &Bench, _: &Session) -> Option<Markup> {
        Some(cards::bench(bench))
    }
}

/// Does what the lead asks, and has the capture judged again and again.
struct Bridging {
    lead: Lead,
    bench: Option<Bench>,
    judge_ns: u64,
    /// Lines to show at the next news.
    said: Vec<String>,
    /// What was asked of the person last.
    asked: String,
    /// Somebody asked for the end.
    ends: bool,
    /// By this time the check ends, however the board answers.
    ends_by_ns: Option<u64>,
    over: bool,
}

impl Bridging {
    fn new(inputs: Vec<Input>) -> Self {
        let (bench, said, asked) = (None, Vec::new(), String::new());
        let lead = Lead::new(inputs);
        let (ends, ends_by_ns, over) = (false, None, false);
        Self { lead, bench, judge_ns: 0, said, asked, ends, ends_by_ns, over }
    }

    fn lead(&mut self, job: &LiveJob) {
        let ends = std::mem::take(&mut self.ends);
        let now_ns = job.clock().now_ns();
        if ends {
            self.ends_by_ns = Some(now_ns + SET_BACK_NS);
        }
        self.over = self.lead.over() || self.ends_by_ns.is_some_and(|by_ns| now_ns >= by_ns);
        let Some(hello) = self.bench.as_ref().and_then(|bench| bench.hello) else { return };
        let Some(board_us) = job.look().sample.map(|sample| sample.board_us) else { return };
        let orders = if ends {
            self.lead.stop()
        } else {
            self.lead.next(board_us, &hello, self.bench.as_ref())
        };
        let said = orders.iter().filter_map(|order| match order {
            Order::Say(words) => Some(words.as_str()),
            _ => None,
        });
        let said = said.collect::<Vec<_>>().join(" ");
        if !said.is_empty() {
            self.asked = said;
        }
        for order in orders {
            match order {
                Order::Send(command) => job.command_board(&command),
                Order::Note(text) => drop(job.host_mark(HostMarkAction::Note, &text)),
                Order::Say(words) => self.said.push(words),
            }
        }
    }
}

impl Task for Bridging {
    type Method = OnBench;

    fn method(&self) -> Arc<OnBench> {
        Arc::new(OnBench)
    }

    fn shows_marks(&self) -> bool {
        false
    }

    fn typed(&mut self, line: &str, _: &Standing) -> Do {
        match line {
            // With no board there is nobody to leave in order.
            "q" if self.bench.as_ref().is_none_or(|bench| bench.hello.is_none()) => Do::End,
            "q" => {
                self.ends = true;
                Do::Say("Ending: the board is set back.".to_owned())
            }
            _ => Do::Say("q ends the check.".to_owned()),
        }
    }

    fn due(&mut self, turn: &Turn<'_>) -> bool {
        self.lead(turn.job);
        let now_ns = turn.job.clock().now_ns();
        let due = now_ns >= self.judge_ns;
        if due {
            self.judge_ns = now_ns + JUDGE_EVERY_NS;
        }
        due
    }

    fn news(&mut self, bench: Bench, _: Duration) -> News {
        self.bench = Some(bench);
        News { lines: std::mem::take(&mut self.said), over: self.over, ..News::default() }
    }

    fn page_kind(&self) -> PageKind {
        PageKind::Listed
    }

    fn shown(&self, view: &View) -> Shown {
        shown_bench(view, self.bench.as_ref(), &self.asked)
    }
}
