//! The steps of a whole job in the order of the work: where one is, what is done, what comes next.
//!
//! Pure: what was typed and how a step ended go in, what to show comes out.

/// One step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Which tractor on which tyres.
    Rig,
    /// Board, receiver and sensors.
    Check,
    /// Length of the course.
    Course,
    /// Driving.
    Passes,
    /// The figure.
    Result,
    /// Impulses per revolution of the shaft.
    Pto,
    /// The record.
    SignOff,
}

/// How a step stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Not yet.
    Open,
    /// Done.
    Done,
    /// Done, with something to look at: exit code 1.
    Look,
    /// It did not work.
    Failed,
    /// Left out for now.
    Skipped,
}

/// What a person wants.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wish {
    /// Do this step.
    Go,
    /// Leave it out for now.
    Skip,
    /// The step before.
    Back,
    /// That step.
    To(usize),
    /// End.
    Quit,
    /// Not understood.
    Unclear,
}

impl Step {
    /// All, in order.
    pub const ALL: [Step; 7] = [
        Step::Rig,
        Step::Check,
        Step::Course,
        Step::Passes,
        Step::Result,
        Step::Pto,
        Step::SignOff,
    ];

    /// Its name.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Step::Rig => "Rig",
            Step::Check => "Check",
            Step::Course => "Course",
            Step::Passes => "Passes",
            Step::Result => "Result",
            Step::Pto => "PTO",
            Step::SignOff => "Sign-off",
        }
    }

    /// What it is about, in one sentence.
    #[must_use]
    pub const fn about(self) -> &'static str {
        match self {
            Step::Rig => "Enter the tractor and its tyres.",
            Step::Check => "Check board, receiver and sensors before taping.",
            Step::Course => "Tape the course, put a peg at each end, and enter its length.",
            Step::Passes => {
                "Drive the course: at least two passes in each direction, marked at \
                             both pegs."
            }
            Step::Result => "Look at the value, its uncertainty, and what to enter.",
            Step::Pto => "Find the impulses per revolution of the PTO shaft, from the seat.",
            Step::SignOff => "Save value, rig, conditions and capture as a record.",
        }
    }
}

/// A job under way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Guide {
    states: [State; Step::ALL.len()],
    here: usize,
}

impl Default for Guide {
    fn default() -> Self {
        Self { states: [State::Open; Step::ALL.len()], here: 0 }
    }
}

impl Guide {
    /// The step that is due; `None` after the last one.
    #[must_use]
    pub fn step(&self) -> Option<Step> {
        Step::ALL.get(self.here).copied()
    }

    /// How a step stands.
    #[must_use]
    pub fn state(&self, step: Step) -> State {
        self.states[step as usize]
    }

    /// The step that was due has ended with this exit code. Only what worked leads on.
    pub fn ended(&mut self, code: u8) {
        let Some(state) = self.states.get_mut(self.here) else { return };
        *state = match code {
            0 => State::Done,
            1 => State::Look,
            _ => State::Failed,
        };
        if code <= 1 {
            self.here += 1;
        }
    }

    /// Do what a person wants, but for [`Wish::Go`] and [`Wish::Quit`].
    pub fn wish(&mut self, wish: Wish) {
        match wish {
            Wish::Skip => {
                if let Some(state) = self.states.get_mut(self.here)
                    && *state == State::Open
                {
                    *state = State::Skipped;
                }
                self.here = (self.here + 1).min(Step::ALL.len());
            }
            Wish::Back => self.here = self.here.saturating_sub(1),
            Wish::To(step) => self.here = step.min(Step::ALL.len() - 1),
            Wish::Go | Wish::Quit | Wish::Unclear => {}
        }
    }

    /// The steps, one line each; the one that is due is marked.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let line = |(at, step): (usize, &Step)| {
            let mark = if at == self.here { '>' } else { ' ' };
            let state = match self.states[at] {
                State::Open => "",
                State::Done => "done",
                State::Look => "done, look at its warnings",
                State::Failed => "failed",
                State::Skipped => "left out",
            };
            format!("{mark} {}. {:9} {state}", at + 1, step.title()).trim_end().to_owned()
        };
        Step::ALL.iter().enumerate().map(line).collect()
    }
}

/// What was typed.
#[must_use]
pub fn wish(typed: &str) -> Wish {
    match typed.trim() {
        "" => Wish::Go,
        "s" => Wish::Skip,
        "b" => Wish::Back,
        "q" => Wish::Quit,
        number => match number.parse::<usize>() {
            Ok(number) if (1..=Step::ALL.len()).contains(&number) => Wish::To(number - 1),
            _ => Wish::Unclear,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_step_can_be_left_out_and_come_back_to() {
        let mut guide = Guide::default();
        guide.ended(0);
        guide.wish(wish("s"));
        assert_eq!(guide.step(), Some(Step::Course));
        guide.ended(5);
        assert_eq!(guide.step(), Some(Step::Course), "what failed is still due");
        guide.wish(wish("2"));
        assert_eq!(guide.step(), Some(Step::Check));
        guide.ended(1);
        assert_eq!(guide.state(Step::Check), State::Look);
        guide.wish(wish("b"));
        assert_eq!(guide.step(), Some(Step::Check));
        guide.wish(wish("s"));
        assert_eq!(guide.state(Step::Check), State::Look, "what is done is not undone by going on");
        for _ in 0..9 {
            guide.wish(Wish::Skip);
        }
        assert_eq!(guide.step(), None);
        guide.ended(0);
        guide.wish(wish("b"));
        assert_eq!(guide.step(), Some(Step::SignOff));
        assert_eq!(guide.lines()[6], "> 7. Sign-off  skipped");
        assert_eq!((wish("8"), wish("x"), wish(" q ")), (Wish::Unclear, Wish::Unclear, Wish::Quit));
    }
}
