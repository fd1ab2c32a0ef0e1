//! Faults of sentences, of an input and of a stored record, each with the simulator's truth beside
//! it: what cannot be right is told, and what was not hit stays as it is.

use trundle_core::figure::Work;
use trundle_core::flags::{Code, Flag};
use trundle_core::result::record_v1::{RecordFault, RecordV1};
use trundle_core::session::Session;
use trundle_protocol::message::ToHost;
use trundle_protocol::units::Fixed32;
use trundle_protocol::{Deframer, WireMessage};
use trundle_sim::{Emission, Port, Scenario, Truth, record_all};
use trundle_tests::{assert_not_misled, papers, plain_course, records, replay, work_session};

const SEEDS: u64 = 3;

fn short(seed: u64) -> (Vec<Emission>, Truth) {
    println!("seed {seed}");
    record_all(&Scenario { passes: 2, ..Scenario::default() }, seed)
}

fn worked(emissions: &[Emission], truth: &Truth) -> (Work, Session) {
    let session = replay(&records(emissions, truth.start_utc_ns, None));
    (work_session(&session, Some(&plain_course(100.0))), session)
}

fn words(work: &Work) -> Vec<String> {
    work.all_flags().map(Flag::sentence).collect()
}

fn has(work: &Work, code: Code) -> bool {
    work.all_flags().any(|flag| flag.code == code)
}

/// The receiver's sentences, each given to `keep` with the simulator's time of its end,
/// microseconds. A sentence comes in several emissions.
fn sentences(emissions: &mut [Emission], mut keep: impl FnMut(u64, &str) -> Option<String>) {
    let mut open = String::new();
    for emission in emissions.iter_mut().filter(|emission| emission.port == Port::Receiver) {
        open += std::str::from_utf8(&emission.bytes).unwrap();
        let whole = open.rfind('\n').map_or(0, |at| at + 1);
        let rest = open.split_off(whole);
        let lines = open.split_inclusive("\r\n");
        emission.bytes =
            lines.filter_map(|line| keep(emission.sim_us, line)).collect::<String>().into_bytes();
        open = rest;
    }
}

/// The board's messages, each changed by `change` with the simulator's time of its end.
fn messages(emissions: &mut [Emission], mut change: impl FnMut(u64, &mut ToHost)) {
    let mut line = Deframer::<ToHost>::new();
    for emission in emissions.iter_mut().filter(|emission| emission.port == Port::Board) {
        let mut bytes = Vec::new();
        line.push_slice(&emission.bytes, |frame| {
            let mut message = frame.unwrap();
            change(emission.sim_us, &mut message);
            bytes.extend_from_slice(message.frame().as_bytes());
        });
        emission.bytes = bytes;
    }
}

/// Row 37. A sentence that cannot be checked is counted, and nothing is measured from it.
#[test]
fn sentences_without_a_checksum_measure_nothing_and_leave_the_tape_alone() {
    for seed in 0..SEEDS {
        let (mut emissions, truth) = short(seed);
        let sound = worked(&emissions, &truth).0;
        let mut cut = 0;
        sentences(&mut emissions, |_, line| {
            cut += 1;
            Some(format!("{}\r\n", &line[..line.rfind('*').unwrap()]))
        });
        let (work, session) = worked(&emissions, &truth);
        let receiver = session.totals().receiver;
        assert_eq!((receiver.no_checksum, receiver.sentences), (cut, 0));
        assert_eq!(receiver.epochs.fixes, 0);
        assert!(cut > 1000, "{cut}");
        for (channel, sound) in work.channels.iter().zip(&sound.channels) {
            assert!(channel.satellite.is_none(), "{}", channel.name);
            let [here, there] = [channel, sound].map(|channel| channel.tape.as_ref().unwrap());
            // Where the wheels came to rest beside the peg, the fixes help to tell.
            let apart = (here.value() / there.value() - 1.0).abs();
            assert!(apart < 1e-4, "{}: {apart}", channel.name);
        }
        assert!(!work.is_clean(), "a job that loses its second witness says so");
        assert_not_misled(&work, &truth, "no checksums");
    }
}

/// Whether a sentence's time is on the whole second; sentences without one are with the others.
fn whole_second(line: &str) -> bool {
    let time = line.split(',').find(|field| field.len() >= 9 && field.as_bytes()[6] == b'.');
    time.is_none_or(|time| time[7..].bytes().all(|digit| digit == b'0'))
}

/// Row 48. Ten fixes a second become one in the middle of a pass; an epoch is missing; four seconds
/// are missing where a mark is.
#[test]
fn a_rate_that_falls_and_epochs_that_are_missing_mislead_nobody() {
    for seed in 0..SEEDS {
        let (emissions, truth) = short(seed);
        let pass = &truth.passes[0];
        let middle_us = u64::midpoint(pass.start_us, pass.finish_us);

        let mut slower = emissions.clone();
        sentences(&mut slower, |at_us, line| {
            (at_us < middle_us || whole_second(line)).then(|| line.to_owned())
        });
        let (work, session) = worked(&slower, &truth);
        let (accepted, all) = (session.totals().receiver.epochs.fixes, slower.len() as u64);
        assert!(accepted > 100 && accepted < all, "{accepted} fixes");
        assert_not_misled(&work, &truth, "slower");

        let mut gap = emissions.clone();
        let near = |at_us: u64, half_us: u64| at_us.abs_diff(middle_us) <= half_us;
        sentences(&mut gap, |at_us, line| (!near(at_us, 60_000)).then(|| line.to_owned()));
        let missing = worked(&gap, &truth).0;
        assert_not_misled(&missing, &truth, "an epoch is missing");

        let mut blind = emissions;
        let at_mark = |at_us: u64| at_us.abs_diff(pass.start_us) <= 20_000_000;
        sentences(&mut blind, |at_us, line| (!at_mark(at_us)).then(|| line.to_owned()));
        let work = worked(&blind, &truth).0;
        let told =
            [Code::FixGap, Code::NoFix, Code::ShortRest].iter().any(|code| has(&work, *code));
        assert!(told, "{:?}", words(&work));
        assert_not_misled(&work, &truth, "no fix at a mark");
    }
}

/// Row 33. The board says that edges came too fast for it; the pass is not good for a figure.
#[test]
fn edges_too_fast_for_the_board_are_never_a_figure() {
    for seed in 0..SEEDS {
        let (mut emissions, truth) = short(seed);
        let mut told = 0;
        messages(&mut emissions, |at_us, message| {
            // Once in each pass.
            let times =
                truth.passes.iter().filter(|pass| at_us > pass.start_us + 5_000_000).count();
            if let ToHost::Counts(counts) = message {
                counts.overruns = Fixed32(times as u32);
                told += times;
            }
        });
        assert!(told > 1000, "{told}");
        let work = worked(&emissions, &truth).0;
        assert!(has(&work, Code::RateLimit), "{:?}", words(&work));
        for channel in &work.channels {
            assert_eq!(channel.value_to_enter, None, "{}: {:?}", channel.name, words(&work));
        }
    }
}

/// Row 58. A record of a later version is called that, not damaged, and never guessed at.
#[test]
fn a_record_of_a_later_version_is_called_that() {
    let text = papers::kept("simulated-rtk").seal().to_json();
    assert!(RecordV1::from_json(&text).is_ok());
    let at = text.find("\"version\"").unwrap();
    let digit = at + text[at..].find(|c: char| c.is_ascii_digit()).unwrap();
    let later = format!("{}9{}", &text[..digit], &text[digit + 1..]);
    let fault = RecordV1::from_json(&later).unwrap_err();
    assert_eq!(fault, RecordFault::Newer(9));
    assert!(fault.to_string().contains('9'), "{fault}");
}
