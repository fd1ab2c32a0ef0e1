//! `trundle proof` at the pseudo-terminals of the simulator, at a raised pace: what the simulated
//! terminal shows is typed at the pegs, and the capture calculated again.

use crate::support::job::{kept_up, patient};
use crate::support::tractor::Tractor;
use crate::support::{ELSEWHERE, Finished, LIMIT, Program, TempDir, json, trundle, trundle_in};
use serde_json::Value;
use std::time::{Duration, Instant};
use trundle_sim::{Scenario, Simulation};

/// Simulated seconds for each second.
const PACE: f64 = 10.0;
/// The same with a bus, whose messages come ten times a second.
const PACE_BUS: f64 = 6.0;
const SEED: u64 = 3;

#[test]
fn an_old_value_is_found_out_live_and_from_the_capture_alone() {
    let scenario = patient("proof-old", 2);
    kept_up(PACE, |pace| {
        let (result, finished, text) = live(&scenario, pace)?;
        assert_eq!(result["state"], "did_not_take", "{result:#}\n{}", finished.stderr);
        assert_eq!(finished.code, Some(1), "{result:#}");
        let named: Vec<&Value> = result["candidates"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|one| one["fits"] == true)
            .map(|one| &one["cause"])
            .collect();
        assert!(named.contains(&&Value::from("OLD")), "{result:#}");
        assert!(text.starts_with("PROOF: IT DID NOT TAKE."), "{text}");
        Some(())
    });
}

/// The result of a live drive, which is that of its replay, and its text; `None` when the machine
/// stalled.
fn live(scenario: &Scenario, pace: f64) -> Option<(Value, Finished, String)> {
    let truth = Simulation::new(scenario, SEED).truth();
    let entered = truth.wheel_impulses_per_100m.round().to_string();
    let old = truth.terminal.unwrap().value_per_100m.to_string();
    let (tractor, folder) = (Tractor::start(scenario, SEED, pace, None), TempDir::new());
    let (board, receiver) = (tractor.board(), tractor.receiver());
    let (capture, pace) = (folder.file("c"), pace.to_string());
    let ports = ["--board", &board, "--receiver", &receiver, "--pace", &pace];
    let values = ["--length", "100 m", "--entered", &entered, "--old", &old];
    let stated =
        ["--step", "0.1 m", "--speed-step", "0.1 mph", "--wrap", "10000 m", "--rate", "200"];
    let files = ["--capture", &capture, "--json"];
    let args: Vec<&str> =
        std::iter::once("proof").chain(ports).chain(values).chain(stated).chain(files).collect();
    let mut program = Program::start(&args, &[]);
    assert!(program.until("recording", |p| p.said("Recording to ") > 0), "{}", program.stderr());
    type_readings(&tractor, &mut program)?;
    program.types("q");
    let finished = program.finish();
    let cautions = finished.stderr.find("Touch and read nothing while driving").unwrap();
    assert!(cautions < finished.stderr.find("Looking for the ports").unwrap());
    // What is known and was stated stands in the capture: nothing has to be given again.
    assert!(json(&finished.stdout)["cost"]["difference_l_per_ha"].is_f64(), "{finished:?}");
    for variables in [&[][..], &ELSEWHERE] {
        let again = trundle_in(&["proof", &capture, "--json"], variables);
        assert_eq!((&again.stdout, again.code), (&finished.stdout, finished.code));
    }
    let text = trundle(&["proof", &capture]).stdout;
    (!tractor.starved()).then(|| (json(&finished.stdout), finished, text))
}

/// At each invitation to mark, type what the terminal shows; the board's button marks. `None` when
/// the tractor did not wait for it.
fn type_readings(tractor: &Tractor, program: &mut Program) -> Option<()> {
    let mut at = 0;
    let mut typed = 0;
    loop {
        let started = Instant::now();
        while tractor.activities().len() <= at {
            assert!(started.elapsed() < LIMIT, "the tractor stands still");
            std::thread::sleep(Duration::from_millis(2));
        }
        let doing = tractor.activities()[at].clone();
        at += 1;
        if doing.starts_with("the job is done") {
            let last = "Pass 2: end saved";
            program.until(last, |p| p.said(last) > 0);
            return Some(());
        }
        if !doing.contains("mark now") {
            continue;
        }
        let shown = doing.split("shows ").nth(1).unwrap().split(' ').next().unwrap();
        program.types(&format!("d {shown}"));
        typed += 1;
        let said = if typed == 1 { "One reading".to_owned() } else { format!("{typed} readings") };
        assert!(program.until(&said, |p| p.said(&said) > 0), "{}", program.stderr());
        if tractor.activities().len() > at + 1 || tractor.starved() {
            return None;
        }
    }
}

#[test]
fn an_old_value_is_found_out_by_the_bus_live_and_nothing_is_typed() {
    let scenario = patient("proof-bus-old", 2);
    kept_up(PACE_BUS, |pace| {
        let (result, finished, text) = by_bus(&scenario, pace)?;
        assert_eq!(result["state"], "did_not_take", "{result:#}\n{}", finished.stderr);
        assert_eq!((&result["by"], finished.code), (&Value::from("bus"), Some(1)));
        let old = result["candidates"]
            .as_array()
            .unwrap()
            .iter()
            .any(|one| one["fits"] == true && one["cause"] == "OLD");
        assert!(old && result["bus"]["handed_on"] == "wheel", "{result:#}");
        assert!(text.starts_with("PROOF: IT DID NOT TAKE."), "{text}");
        // It is said while it goes on, too.
        assert!(finished.stderr.contains("So far: IT DID NOT TAKE"), "{}", finished.stderr);
        Some(())
    });
}

/// The same at three ports, with marks by the board's button alone; the adapter is sent nothing
/// but its set-up.
fn by_bus(scenario: &Scenario, pace: f64) -> Option<(Value, Finished, String)> {
    let truth = Simulation::new(scenario, SEED).truth();
    let entered = truth.wheel_impulses_per_100m.round().to_string();
    let old = truth.terminal.unwrap().value_per_100m.to_string();
    let (tractor, folder) = (Tractor::start(scenario, SEED, pace, None), TempDir::new());
    let (board, receiver, bus) = (tractor.board(), tractor.receiver(), tractor.bus());
    let (capture, pace) = (folder.file("c"), pace.to_string());
    let ports = ["--board", &board, "--receiver", &receiver, "--bus", &bus, "--pace", &pace];
    let values = ["--length", "100 m", "--entered", &entered, "--old", &old];
    let files = ["--capture", &capture, "--json"];
    let args: Vec<&str> =
        std::iter::once("proof").chain(ports).chain(values).chain(files).collect();
    let mut program = Program::start(&args, &[]);
    assert!(program.until("recording", |p| p.said("Recording to ") > 0), "{}", program.stderr());
    program.until("the job", |_| tractor.done());
    program.until("Pass 2: end saved", |p| p.said("Pass 2: end saved") > 0);
    program.types("q");
    let finished = program.finish();
    let again = trundle(&["proof", &capture, "--json"]);
    assert_eq!((&again.stdout, again.code), (&finished.stdout, finished.code));
    let text = trundle(&["proof", &capture]).stdout;
    let starved = tractor.starved();
    let commands = tractor.stop_and_tell_commands();
    let set_up = |command: &String| ["C", "S5", "L", "V"].contains(&command.as_str());
    assert!(commands.iter().all(set_up), "{commands:?}");
    (!starved).then(|| (json(&finished.stdout), finished, text))
}
