//! Is slip right, and is its doubt? Seeded wet headlands by class of receiver, one table.
//!
//! `cargo run --release -p trundle-sweeps --bin slip-sweep -- [SEEDS]`; exits with 1 when a limit
//! is missed.

#![allow(clippy::print_stdout)]

use trundle_core::survey::ride::parts::PartKind;
use trundle_sim::ReceiverClass;
use trundle_tests::headland::{drive, headland};

#[derive(Default)]
struct Side {
    errors: Vec<f64>,
    doubts: Vec<f64>,
    covered: usize,
}

impl Side {
    fn add(&mut self, error: f64, u: f64) {
        self.errors.push(error.abs());
        self.doubts.push(u);
        self.covered += usize::from(error.abs() <= 1.96 * u);
    }

    fn quantile(&self, share: f64) -> f64 {
        let mut sorted = self.errors.clone();
        sorted.sort_by(f64::total_cmp);
        let at = (share * sorted.len() as f64).ceil() as usize;
        sorted.get(at.saturating_sub(1)).copied().unwrap_or(f64::NAN)
    }

    fn covered(&self) -> f64 {
        self.covered as f64 / self.errors.len().max(1) as f64
    }

    /// Root mean square of errors over their uncertainties: 1 where the doubt is what it says.
    fn rms(&self) -> f64 {
        let squares = self.errors.iter().zip(&self.doubts).map(|(error, u)| (error / u).powi(2));
        (squares.sum::<f64>() / self.errors.len().max(1) as f64).sqrt()
    }

    fn mean_doubt(&self) -> f64 {
        self.doubts.iter().sum::<f64>() / self.doubts.len().max(1) as f64
    }
}

fn main() -> std::process::ExitCode {
    let seeds: u64 = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(200);
    println!(
        "{seeds} seeds; slip absolute; sections: error at 95 %, mean standard uncertainty, rms of \
         error over it, covered"
    );
    println!(
        "{:<12} {:^29}  {:^29}  {:^29} {:>8}",
        "receiver", "passes", "turns", "total: worst, u, rms, covered", "sections"
    );
    let mut missed = 0;
    for class in ReceiverClass::ALL {
        let (mut passes, mut turns, mut totals) =
            (Side::default(), Side::default(), Side::default());
        for seed in 0..seeds {
            let driven = drive(&headland(class), seed);
            let slip = driven.slip().unwrap_or_else(|e| panic!("seed {seed}: {e}"));
            let (mut theoretical, mut kept) = (0.0, 0.0);
            for window in &slip.sections {
                let truth = driven.true_slip(window);
                let side = if window.kind == PartKind::Turn { &mut turns } else { &mut passes };
                side.add(window.slip - truth, window.standard_uncertainty);
                theoretical += window.impulses;
                kept += window.impulses * (1.0 - truth);
            }
            let truth = 1.0 - kept / theoretical;
            let all = slip.totals.all;
            totals.add(all.slip - truth, all.standard_uncertainty);
        }
        let text = |side: &Side, share: f64| {
            format!(
                "{:7.4} {:7.4} {:4.2} {:6.1} %",
                side.quantile(share),
                side.mean_doubt(),
                side.rms(),
                100.0 * side.covered()
            )
        };
        println!(
            "{:<12} {}  {}  {} {:>8}",
            class.word(),
            text(&passes, 0.95),
            text(&turns, 0.95),
            text(&totals, 1.0),
            passes.errors.len() + turns.errors.len()
        );
        let honest = |side: &Side| {
            (0.90..=0.98).contains(&side.covered()) && (0.8..=1.1).contains(&side.rms())
        };
        missed += usize::from(!honest(&passes)) + usize::from(!honest(&turns));
        if class != ReceiverClass::Standalone {
            missed += usize::from(passes.quantile(0.95) > 0.01)
                + usize::from(turns.quantile(0.95) > 0.02)
                + usize::from(totals.quantile(1.0) > 0.003);
        }
    }
    println!("{missed} limits missed");
    std::process::ExitCode::from(u8::from(missed > 0))
}
