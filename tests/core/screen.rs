//! The live screen: what it says of a job, and the pictures it draws of that.
//!
//! `BLESS=1 cargo test -p trundle-tests-core screen` stores the pictures of today in
//! `data/screens`; look at what changed before it is committed.

mod bench;
mod bus;
mod units;

use bench::{Bench, MS, picture, results};
use ratatui_core::buffer::Buffer;
use ratatui_core::layout::Rect;
use ratatui_core::style::{Color, Modifier};
use trundle_core::capture::PortRole;
use trundle_core::fitness::Loss;
use trundle_core::fitness::look::LiveEvent;
use trundle_core::rig::conditions::CONDITIONS;
use trundle_core::session::SessionEvent;
use trundle_core::session::marks::Ruling;
use trundle_core::session::presses::{Due, End, Wish};
use trundle_core::wire::sky::Sky;
use trundle_show::live::keys::{Act, Key, Keys, Open};
use trundle_show::live::term::{Scene, draw};
use trundle_show::model::{LinkState, NextStep, PassState, View};
use trundle_show::tongue::Tongue;

const SIZES: [(u16, u16); 3] = [(80, 24), (40, 20), (132, 50)];

/// A job half driven: four passes worked, the fifth open.
fn driving() -> View {
    let mut bench = Bench::new();
    for number in 1..=4 {
        bench.start(number);
        bench.drive(100.0);
        bench.finish(number);
    }
    bench.watch.results(results(4));
    bench.start(5);
    bench.drive(42.0);
    bench.view()
}

/// The same with the receiver gone and old counts.
fn troubled() -> View {
    let mut bench = Bench::new();
    bench.start(1);
    bench.drive(30.0);
    bench.happened(&LiveEvent::PortLost {
        role: PortRole::Receiver,
        loss: Loss::Gone,
        detail: String::new(),
    });
    bench.look.receiver.as_mut().unwrap().open = false;
    bench.look.board.age_s = Some(1.8);
    bench.look.receiver.as_mut().unwrap().age_s = Some(6.0);
    bench.view()
}

fn slip_lines() -> Vec<String> {
    (1..=30).map(|n| format!("pass 1: slip {n:>4}.0 % ± 0.6 % over 15 m at 7.9 km/h")).collect()
}

fn render(view: &View, open: &Open, size: (u16, u16), colour: bool) -> Buffer {
    let mut buffer = Buffer::empty(Rect::new(0, 0, size.0, size.1));
    let (title, tongue) = ("trundle drive", Tongue::English);
    draw(&Scene { view, open, title, sections: None, colour, tongue }, &mut buffer);
    buffer
}

#[test]
fn the_pictures_are_the_stored_ones() {
    let bless = std::env::var_os("BLESS").is_some_and(|value| value == "1");
    let (first, driving, troubled) = (Bench::new().view(), driving(), troubled());
    let reading = Open::Reading("A headline.\n\n  some words of a result\n".repeat(20), 3);
    let mut differing = Vec::new();
    for size in SIZES {
        let scenes = [
            ("first", &first, &Open::Job),
            ("driving", &driving, &Open::Job),
            ("troubled", &troubled, &Open::Job),
            ("note", &driving, &Open::Note("wet by the hedge".to_owned())),
            ("condition", &first, &Open::Condition(5, "C2".to_owned())),
            ("leave-out", &driving, &Open::Reject(5, String::new())),
            ("finish", &driving, &Open::Finish),
            ("reading", &driving, &reading),
        ];
        let mut drawn: Vec<(&str, String)> = scenes
            .iter()
            .map(|(name, view, open)| (*name, picture(&render(view, open, size, true))))
            .collect();
        let mut slip = Buffer::empty(Rect::new(0, 0, size.0, size.1));
        let (lines, title) = (slip_lines(), "trundle slip");
        let sections = Some(&lines[..]);
        let tongue = Tongue::English;
        let open = &Open::Job;
        let scene = Scene { view: &first, open, title, sections, colour: true, tongue };
        draw(&scene, &mut slip);
        drawn.push(("slip", picture(&slip)));
        for (name, text) in drawn {
            let file = format!("data/screens/{name}-{}x{}.txt", size.0, size.1);
            let path = trundle_tests::folder().join(&file);
            if bless {
                std::fs::write(&path, &text).unwrap();
            }
            let stored = std::fs::read_to_string(&path).unwrap_or_default();
            if text != stored {
                differing.push(format!("{file}, now:\n{text}"));
            }
        }
    }
    assert!(differing.is_empty(), "{}", differing.join("\n"));
}

#[test]
fn whatever_the_size_nothing_panics_and_the_keys_stay() {
    for view in [driving(), troubled(), Bench::new().view()] {
        for width in [0, 1, 5, 17, 40, 200] {
            for height in [0, 1, 2, 5, 12, 60] {
                let open = Open::Reading("word ".repeat(50), 9);
                render(&view, &open, (width, height), true);
                let drawn = picture(&render(&view, &Open::Job, (width, height), true));
                assert!(width < 40 || height < 12 || drawn.contains("close job"), "{drawn}");
            }
        }
    }
}

/// Without colour every word is the same and what is wrong is still told apart: by reversed
/// writing. With colour it is one of the terminal's own (ISO/IEC 6429, parameters 30 to 37).
#[test]
fn colour_only_repeats_what_words_say() {
    for view in [driving(), troubled()] {
        let colour = render(&view, &Open::Job, (80, 24), true);
        let mono = render(&view, &Open::Job, (80, 24), false);
        assert_eq!(picture(&colour), picture(&mono));
        for (with, without) in colour.content.iter().zip(&mono.content) {
            assert!(matches!(with.fg, Color::Reset | Color::Red | Color::Yellow | Color::Green));
            assert_eq!(
                (without.fg, without.bg, with.bg),
                (Color::Reset, Color::Reset, Color::Reset)
            );
            assert_eq!(with.modifier, without.modifier);
        }
    }
    let mono = render(&troubled(), &Open::Job, (80, 24), false);
    let reversed: String = mono
        .content
        .iter()
        .filter(|cell| cell.modifier.contains(Modifier::REVERSED))
        .map(ratatui_core::buffer::Cell::symbol)
        .collect();
    assert!(reversed.contains("STALE") && reversed.contains("DISCONNECTED"), "{reversed}");
}

#[test]
fn a_value_is_stale_before_it_is_two_seconds_old() {
    let mut bench = Bench::new();
    bench.drive(20.0);
    bench.look.board.age_s = Some(1.7);
    assert_eq!(bench.view().board.state, LinkState::Live);
    bench.look.board.age_s = Some(1.8);
    bench.look.receiver.as_mut().unwrap().age_s = Some(1.8);
    let view = bench.view();
    assert_eq!(view.board.state, LinkState::Stale);
    assert!(view.speeds.wheel.stale && view.speeds.satellite.stale);
    assert!(view.board.words.starts_with("STALE, no data since "), "{}", view.board.words);
    bench.look.board.open = false;
    assert_eq!(bench.view().board.state, LinkState::Gone);
}

/// Whole where there is room, over two rows where there is not.
#[test]
fn the_sky_stands_beside_the_fix() {
    let mut bench = Bench::new();
    bench.drive(20.0);
    bench.look.fix.as_mut().unwrap().hdop = Some(0.8);
    bench.look.sky = Some(Sky { in_view: Some(22), signal_db_hz: Some(43.4), ..Sky::default() });
    let view = bench.view();
    let words = "live: RTK fixed, 14 of 22 satellites, signal 43 dB-Hz, HDOP 0.8";
    for size in SIZES {
        let drawn = picture(&render(&view, &Open::Job, size, false));
        let drawn: Vec<&str> = drawn.split_whitespace().collect();
        assert!(drawn.join(" ").contains(words), "{size:?}: {drawn:?}");
    }
}

#[test]
fn the_next_step_follows_the_job_from_peg_to_peg() {
    let mut bench = Bench::new();
    assert_eq!(bench.view().next.step, NextStep::MarkStart);
    bench.look.against_start = vec!["No counts have come.".to_owned()];
    let next = bench.view().next;
    assert_eq!((next.step, next.words.as_str()), (NextStep::MakeReady, "No counts have come."));
    bench.look.against_start.clear();
    bench.start(1);
    assert_eq!(bench.view().next.step, NextStep::Drive);
    bench.drive(60.0);
    let view = bench.view();
    assert!(view.next.words.contains("About 40 m to go"), "{}", view.next.words);
    bench.drive(94.0);
    assert_eq!(bench.view().next.step, NextStep::StopAtPeg);
    bench.drive(112.0);
    assert_eq!(bench.view().next.step, NextStep::BehindPeg);
    bench.drive(100.0);
    bench.finish(1);
    assert_eq!(bench.view().next.step, NextStep::StandStill);
    bench.wait_ms(5_000);
    let next = bench.view().next;
    assert_eq!((next.step, next.stand_s), (NextStep::StandStill, Some(5)), "{next:?}");
    bench.wait_ms(5_500);
    assert_eq!(bench.view().next.step, NextStep::Turn);
    assert_eq!(bench.view().passes[0].state, PassState::Settling);
    for number in 2..=4 {
        bench.start(number);
        bench.drive(100.0);
        bench.finish(number);
        bench.wait_ms(10_500);
        assert_eq!(bench.view().next.step, NextStep::Turn);
    }
    bench.watch.results(results(4));
    let view = bench.view();
    assert_eq!(view.next.step, NextStep::Enough, "{:?}", view.next);
    assert!(view.passes.iter().all(|pass| pass.state == PassState::Valid));
    bench.mark(Ruling::Refused { number: 4 });
    assert_eq!(bench.view().next.step, NextStep::MarkStart);
    bench.happened(&LiveEvent::Failed("The disk is full.".to_owned()));
    let view = bench.view();
    assert_eq!((view.next.step, view.troubles.len()), (NextStep::Stop, 1));
}

#[test]
fn troubles_begin_ring_and_end() {
    let mut bench = Bench::new();
    bench.happened(&LiveEvent::PortLost {
        role: PortRole::Board,
        loss: Loss::Gone,
        detail: String::new(),
    });
    bench.happened(&LiveEvent::PortLost {
        role: PortRole::Board,
        loss: Loss::Gone,
        detail: String::new(),
    });
    let view = bench.view();
    assert_eq!((view.troubles.len(), view.bell.troubles), (1, 1));
    bench.happened(&LiveEvent::PortFound { role: PortRole::Board, place: None });
    bench.happened(&LiveEvent::Seen(SessionEvent::BoardReset));
    assert_eq!(bench.view().troubles.len(), 1);
    bench.start(1);
    let view = bench.view();
    assert_eq!((view.troubles.len(), view.bell.troubles, view.bell.marks), (0, 2, 1));
    // The page gets all of it as one JSON object.
    let json = serde_json::to_value(&view).unwrap();
    assert_eq!(json["due"], serde_json::json!({"number": 1, "end": "finish"}));
    assert_eq!(json["next"]["step"], "drive");
    assert_eq!(json["last_mark"]["marked"]["place"], "terminal");
}

#[test]
fn speeds_agree_once_there_is_a_figure() {
    let mut bench = Bench::new();
    bench.drive(5.0);
    let wheel = bench.view().speeds.wheel;
    assert_eq!(wheel.km_h, None);
    // By a value known before, then against the receiver's speed: both only to look at.
    bench.watch.known([Some(6_350.0), None, None]);
    let speeds = bench.view().speeds;
    assert!((speeds.wheel.km_h.unwrap() - 14.4).abs() < 0.2, "{speeds:?}");
    assert!(speeds.wheel.provisional && speeds.radar.km_h.is_none());
    bench.drive(20.0);
    let speeds = bench.view().speeds;
    for speed in [speeds.wheel, speeds.radar] {
        assert!((speed.km_h.unwrap() - 7.2).abs() < 0.1 && speed.provisional, "{speeds:?}");
    }
    let wheel = speeds.wheel;
    // 127 impulses a metre at 2 m/s.
    assert!((wheel.impulses_per_s.unwrap() - 254.0).abs() < 2.0, "{wheel:?}");
    bench.watch.results(results(4));
    let speeds = bench.view().speeds;
    assert!(!speeds.wheel.provisional, "{speeds:?}");
    assert!((speeds.wheel.km_h.unwrap() - 7.2).abs() < 0.1, "{speeds:?}");
    assert!((speeds.satellite.km_h.unwrap() - 7.2).abs() < 0.1, "{speeds:?}");
}

fn start(number: u32) -> Act {
    Act::Press(Wish::Mark(Due { number, end: End::Start }))
}

#[test]
fn a_held_key_is_one_mark_and_a_late_press_means_what_was_seen() {
    let mut bench = Bench::new();
    let mut keys = Keys::new(true, String::new());
    let view = bench.view();
    keys.shows(view.due, 0);
    // What is to be read first takes the first key, even that of a mark.
    assert_eq!(keys.key(Key::Char(' '), 100 * MS, &view), Act::Nothing);
    let at_ns = 10_000 * MS;
    assert_eq!(keys.key(Key::Char(' '), at_ns, &view), start(1));
    keys.gave();
    bench.start(1);
    let after = bench.view();
    keys.shows(after.due, at_ns + 30 * MS);
    // Held for ten seconds: the first repeat after 600 ms, then thirty a second.
    let mut repeat_ns = at_ns + 600 * MS;
    while repeat_ns < at_ns + 10_000 * MS {
        assert_eq!(keys.key(Key::Char(' '), repeat_ns, &after), Act::Nothing);
        repeat_ns += 33 * MS;
    }
    let finish = Act::Press(Wish::Mark(Due { number: 1, end: End::Finish }));
    assert_eq!(keys.key(Key::Char(' '), repeat_ns + 40_000 * MS, &after), finish);
    // The board's button was quicker: the press means the mark that it gave.
    let mut keys = Keys::new(true, String::new());
    keys.open = Open::Job;
    keys.shows(view.due, 0);
    keys.shows(after.due, 5_000 * MS);
    assert_eq!(keys.key(Key::Char(' '), 5_700 * MS, &after), start(1));
    assert_eq!(keys.key(Key::Char(' '), 9_000 * MS, &after), finish);
}

#[test]
fn conditions_are_typed_one_after_another_and_one_that_cannot_be_stays() {
    let view = Bench::new().view();
    let mut keys = Keys::new(true, String::new());
    keys.open = Open::Job;
    let mut type_in = |text: &str| {
        let key = |c| if c == '\n' { Key::Enter } else { Key::Char(c) };
        let acts: Vec<Act> = text.chars().map(|c| keys.key(key(c), 0, &view)).collect();
        let given = acts.into_iter().filter(|act| *act != Act::Nothing).collect::<Vec<_>>();
        (given, keys.open.clone())
    };
    let note = |text: &str| vec![Act::Press(Wish::Note(text.to_owned()))];
    let at = |at, text: &str| Open::Condition(at, text.to_owned());
    assert_eq!(type_in("cdry stubble\n"), (note("Ground: dry stubble"), at(1, "")));
    assert_eq!(type_in("0\n"), (note("Inflation: 0"), at(1, "0")));
    assert_eq!(type_in(".9 bar\n"), (note("Inflation: 0.9 bar"), at(2, "")));
    let rest = CONDITIONS.len() - 2;
    assert_eq!(type_in(&"\n".repeat(rest)), (Vec::new(), Open::Job), "each may be skipped");
}

#[test]
fn every_key_does_what_the_screen_says() {
    let mut bench = Bench::new();
    bench.start(1);
    let view = bench.view();
    let mut keys = Keys::new(true, String::new());
    keys.open = Open::Job;
    let mut type_in = |text: &str| -> Vec<Act> {
        let key = |c| match c {
            '\n' => Key::Enter,
            '\u{1b}' => Key::Escape,
            '<' => Key::Backspace,
            c => Key::Char(c),
        };
        let acts = text.chars().map(|c| keys.key(key(c), 0, &view));
        acts.filter(|act| *act != Act::Nothing).collect()
    };
    let undo = Act::Press(Wish::Undo(Due { number: 1, end: End::Start }));
    assert_eq!(type_in("u"), [undo]);
    // In a text every key is a letter.
    assert_eq!(type_in("nwet q uu<\n"), [Act::Press(Wish::Note("wet q u".to_owned()))]);
    let rejected = Wish::Reject(1, "wheel spun".to_owned());
    assert_eq!(type_in("x\nwheel spun\n"), [Act::Press(rejected)]);
    assert_eq!(type_in("nnever mind\u{1b}r"), [Act::Result]);
    assert_eq!(type_in("qn"), []);
    assert_eq!(type_in("qy"), [Act::Finish]);
    assert_eq!(keys.key(Key::Interrupt, 0, &view), Act::Interrupt);
    // Without passes there is nothing to mark.
    let mut keys = Keys::new(false, String::new());
    keys.open = Open::Job;
    assert_eq!(keys.key(Key::Char(' '), 0, &view), Act::Nothing);
}
