//! The steps of a whole job in the order of the work: where one is, what is done, what comes next.
//!
//! Pure: what was typed and how a step ended go in, what to show comes out.

/// One step of a job.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Task {
    /// Which tractor on which tyres.
    Rig,
    /// Board, receiver and sensors.
    Check,
    /// Length of the course.
    Course,
    /// Driving.
    Passes,
    /// The value itself, without unit.
    Result,
    /// Impulses per revolution of the shaft.
    Pto,
    /// What the tractor tells the implement.
    Bus,
    /// The record.
    SignOff,
}

/// How a step stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TaskState {
    /// It was not done yet.
    Open,
    /// It was done without warnings.
    Done,
    /// Done, with something to look at: exit code 1.
    Look,
    /// It did not work.
    Failed,
    /// Skipped for now.
    Skipped,
}

/// What a person wants.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GuideWish {
    /// Do this step.
    Go,
    /// Skip it for now.
    Skip,
    /// Go to the step before.
    Back,
    /// Go to the step of this number.
    To(usize),
    /// End the guide, keep the job.
    Quit,
    /// The line was not understood.
    Unclear,
}

impl Task {
    /// All, in order.
    pub const ALL: [Task; 8] = [
        Task::Rig,
        Task::Check,
        Task::Course,
        Task::Passes,
        Task::Result,
        Task::Pto,
        Task::Bus,
        Task::SignOff,
    ];

    /// Name of the step, a word, and what it is about, in one sentence.
    #[must_use]
    pub const fn title_and_about(self) -> (&'static str, &'static str) {
        match self {
            Task::Rig => ("Rig", "Enter the tractor and its tyres."),
            Task::Check => ("Check", "Check board, receiver and sensors before taping."),
            Task::Course => {
                ("Course", "Tape the course, put a peg at each end, and enter its length.")
            }
            Task::Passes => (
                "Passes",
                "Drive the course: at least two passes in each direction, marked at both pegs.",
            ),
            Task::Result => ("Result", "Look at the value, its uncertainty, and what to enter."),
            Task::Pto => {
                ("PTO", "Find the impulses per revolution of the PTO shaft, from the seat.")
            }
            Task::Bus => (
                "Bus",
                "Listen to the speeds that the tractor tells the implement; needs an adapter that \
                 can listen only. Skip it without one.",
            ),
            Task::SignOff => ("Sign-off", "Save value, rig, conditions and capture as a record."),
        }
    }
}

/// A job under way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Guide {
    states: [TaskState; Task::ALL.len()],
    here: usize,
}

impl Default for Guide {
    fn default() -> Self {
        Self { states: [TaskState::Open; Task::ALL.len()], here: 0 }
    }
}

impl Guide {
    /// The step that is due; `None` after the last one.
    #[must_use]
    pub fn step(&self) -> Option<Task> {
        Task::ALL.get(self.here).copied()
    }

    /// The step that was due has ended with this exit code. Only what calculated leads on.
    pub fn ended(&mut self, code: u8) {
        let Some(state) = self.states.get_mut(self.here) else { return };
        *state = match code {
            0 => TaskState::Done,
            1 => TaskState::Look,
            _ => TaskState::Failed,
        };
        if code <= 1 {
            self.here += 1;
        }
    }

    /// Do what a person wants, but for [`GuideWish::Go`] and [`GuideWish::Quit`].
    pub fn wish(&mut self, wish: GuideWish) {
        match wish {
            GuideWish::Skip => {
                if let Some(state) = self.states.get_mut(self.here)
                    && *state == TaskState::Open
                {
                    *state = TaskState::Skipped;
                }
                self.here = (self.here + 1).min(Task::ALL.len());
            }
            GuideWish::Back => self.here = self.here.saturating_sub(1),
            GuideWish::To(step) => self.here = step.min(Task::ALL.len() - 1),
            GuideWish::Go | GuideWish::Quit | GuideWish::Unclear => {}
        }
    }

    /// The steps, one line each; the one that is due is marked.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let line = |(at, step): (usize, &Task)| {
            let mark = if at == self.here { '>' } else { ' ' };
            let state = match self.states[at] {
                TaskState::Open => "",
                TaskState::Done => "done",
                TaskState::Look => "done, look at its warnings",
                TaskState::Failed => "failed",
                TaskState::Skipped => "skipped",
            };
            format!("{mark} {}. {:9} {state}", at + 1, step.title_and_about().0)
                .trim_end()
                .to_owned()
        };
        Task::ALL.iter().enumerate().map(line).collect()
    }
}

/// What a typed line asks for.
#[must_use]
pub fn wish(typed: &str) -> GuideWish {
    match typed.trim() {
        "" => GuideWish::Go,
        "s" => GuideWish::Skip,
        "b" => GuideWish::Back,
        "q" => GuideWish::Quit,
        number => match number.parse::<usize>() {
            Ok(number) if (1..=Task::ALL.len()).contains(&number) => GuideWish::To(number - 1),
            _ => GuideWish::Unclear,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_step_can_be_skipped_and_come_back_to() {
        let mut guide = Guide::default();
        guide.ended(0);
        guide.wish(wish("s"));
        assert_eq!(guide.step(), Some(Task::Course));
        guide.ended(5);
        assert_eq!(guide.step(), Some(Task::Course), "what failed is still due");
        guide.wish(wish("2"));
        assert_eq!(guide.step(), Some(Task::Check));
        guide.ended(1);
        assert_eq!(guide.states[Task::Check as usize], TaskState::Look);
        guide.wish(wish("b"));
        assert_eq!(guide.step(), Some(Task::Check));
        guide.wish(wish("s"));
        assert_eq!(
            guide.states[Task::Check as usize],
            TaskState::Look,
            "what is done is not undone by going on"
        );
        for _ in 0..9 {
            guide.wish(GuideWish::Skip);
        }
        assert_eq!(guide.step(), None);
        guide.ended(0);
        guide.wish(wish("b"));
        assert_eq!(guide.step(), Some(Task::SignOff));
        assert_eq!(guide.lines()[7], "> 8. Sign-off  skipped");
        assert_eq!(
            (wish("9"), wish("x"), wish(" q ")),
            (GuideWish::Unclear, GuideWish::Unclear, GuideWish::Quit)
        );
    }
}
