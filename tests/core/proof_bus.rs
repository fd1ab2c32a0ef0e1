//! The proof drive by the implement bus: simulated tractors whose control units hold what a
//! terminal would, and nothing is typed.

use serde_json::Value;
use trundle_core::capture::Record;
use trundle_core::course::tape::CourseSpec;
use trundle_core::result::proof_v1::to_json;
use trundle_core::session::trail::THINNED_US;
use trundle_core::survey::proof::{
    Alarm, BusPassRefusal, BusRefusal, By, HandedOn, Known, Origin, Proof, ProofOptions,
    ProofRefusal, Taken, proof,
};
use trundle_core::wire::bus::message::{BusSpeed, SelectedSource};
use trundle_protocol::units::Channel;
use trundle_show::text::proof::render;
use trundle_sim::{
    BusTractor, Driving, Fault, HandedOn as Handed, Keyed, Port, Scenario, Simulation, Truth,
};
use trundle_tests::held::keeps;
use trundle_tests::proof_cases::{
    CASES, Case, Read, drive, known, scenario, type_readings, with_bus,
};
use trundle_tests::{plain_course, replay_with_both, seeds, simulate};

const SCHEMA: &str = include_str!("../../host/schemas/trundle-proof-1.schema.json");

/// A scenario with a bus, and its course.
fn on_the_bus(case: Case, seed: u64, change: impl Fn(&mut BusTractor)) -> (Scenario, CourseSpec) {
    let (scenario, course) = scenario(case, Read::Bus, seed);
    let mut scenario = with_bus(scenario, seed);
    change(scenario.bus.as_mut().unwrap());
    (scenario, course)
}

fn options(case: Case, truth: &Truth, course: CourseSpec) -> ProofOptions {
    ProofOptions { course: Some(course), known: known(case, truth), ..ProofOptions::default() }
}

fn work(records: &[Record], options: &ProofOptions) -> Proof {
    proof(&replay_with_both(records, THINNED_US), false, options)
}

/// Nothing is typed.
fn driven(case: Case, seed: u64, change: impl Fn(&mut BusTractor)) -> (Proof, Truth) {
    let (scenario, course) = on_the_bus(case, seed, change);
    let (records, truth) = simulate(&scenario, seed, None);
    (work(&records, &options(case, &truth, course)), truth)
}

fn taken(proof: &Proof) -> Taken {
    proof.judged.as_ref().unwrap_or_else(|why| panic!("{why}")).taken
}

/// When passes begin and end, seconds.
fn ends_s(case: Case, seed: u64) -> Vec<(f64, f64)> {
    let (scenario, _) = on_the_bus(case, seed, |_| ());
    let truth = simulate(&scenario, seed, None).1;
    let seconds = |us: u64| us as f64 * 1e-6;
    truth.passes.iter().map(|pass| (seconds(pass.start_us), seconds(pass.finish_us))).collect()
}

#[test]
fn each_value_in_force_is_told_by_the_bus_and_nothing_is_typed() {
    for case in CASES.into_iter().chain([Case::OtherSourceRight]) {
        for seed in 1..=seeds(2, 10) {
            let drive = drive(case, Read::Bus, seed);
            let text = render(&drive.proof);
            assert!(case.is_named(&drive.proof), "{case:?}, seed {seed}: {text}");
            assert!(!case.is_called_right(&drive.proof), "{case:?}, seed {seed}: {text}");
            let judged = drive.proof.judged.as_ref().unwrap();
            assert_eq!((judged.by, drive.proof.typed), (By::Bus, 0));
            let (ratio, expanded) = judged.ratio.unwrap();
            let truth = drive.truth.terminal.unwrap().ratio;
            let half = expanded.expanded_uncertainty / truth.max(1.0);
            assert!(half <= 0.0005, "{case:?}, seed {seed}: ±{half}");
            assert!((ratio - truth).abs() <= 2.0 * expanded.expanded_uncertainty, "{text}");
        }
    }
}

/// To practise: what the simulator says was keyed in, with what its display and its bus show.
#[test]
fn the_simulators_proof_drives_on_a_bus_are_what_their_names_say() {
    for (name, wanted) in [("proof-bus", Taken::Took), ("proof-bus-old", Taken::DidNotTake)] {
        let scenario = Scenario::named(name).unwrap();
        let (mut records, truth) = simulate(&scenario, 1, None);
        let keyed_in = Simulation::new(&scenario, 1).keyed_in().unwrap();
        assert_eq!(keyed_in.sensor, Channel::Wheel);
        let known = Known { source: Some(Channel::Wheel), values: Vec::new() }
            .with(Origin::Entered, keyed_in.now)
            .with(Origin::Old, keyed_in.before);
        let course = Some(plain_course(scenario.course_m));
        let options = ProofOptions { course, known, ..ProofOptions::default() };
        for typed in [false, true] {
            if typed {
                type_readings(&mut records, &truth, &scenario, Read::Distance);
            }
            let proof = work(&records, &options);
            assert_eq!(taken(&proof), wanted, "{name}, {keyed_in}: {}", render(&proof));
            assert_eq!(proof.judged.unwrap().by, By::Bus);
        }
    }
}

/// By hand, for two passes: the difference of two readings of one step is triangular with the step
/// as its half-width (JCGM 100:2008, 4.3.9), of millimetres on the bus and of whole impulses.
/// With a value a hundred times too small, a hand's breadth of the wheel is a metre and more.
#[test]
fn a_distance_that_moves_before_the_first_impulse_is_read_where_it_was_still() {
    let (proof, _) = driven(Case::Times(100.0), 76, |_| {});
    assert!(Case::Times(100.0).is_named(&proof), "{}", render(&proof));
}

#[test]
fn the_bus_has_its_millimetres_and_the_counts_in_its_budget() {
    let (proof, _) = driven(Case::Right, 3, |_| ());
    let bus = proof.bus.as_ref().unwrap();
    let reading = bus.reading().unwrap();
    assert_eq!(reading.key.kind, BusSpeed::Selected);
    let shown: Vec<_> = reading.passes.iter().map(|pass| pass.shown.unwrap()).collect();
    let shown_m: f64 = shown.iter().map(|one| one.shown_m).sum();
    let impulses: f64 = shown.iter().map(|one| one.impulses[0].unwrap().impulses).sum();
    let metres = reading.evidence.as_ref().unwrap().per_impulse_m[0].as_ref().unwrap();
    assert!((metres.value() - shown_m / impulses).abs() < 1e-12);
    let two = 2.0_f64.sqrt();
    let steps = 0.001 / 6.0_f64.sqrt() * two / shown_m;
    let counts = two / 6.0_f64.sqrt() / impulses;
    // Two sensors that turn alike differ by 5 in 100,000 from pass to pass.
    let sensors = 5e-5 / two;
    let by_hand = steps.hypot(counts).hypot(sensors);
    let found = metres.standard_uncertainty() / metres.value();
    assert!((found / by_hand - 1.0).abs() < 1e-3, "{found} against {by_hand}");
    // Wheel-based and ground-based distance are read too, each with its own value in force.
    let kinds: Vec<BusSpeed> = bus.readings.iter().map(|one| one.key.kind).collect();
    assert_eq!(kinds, BusSpeed::ALL);
    assert!(bus.readings.iter().all(|one| one.ratio().is_some() && one.in_force().is_some()));
}

#[test]
fn a_distance_that_wraps_is_followed_and_one_that_began_anew_leaves_its_pass_out() {
    let ends = ends_s(Case::Right, 4);
    let (proof, _) = driven(Case::Right, 4, |bus| bus.distance_start_mm = 0xFAFF_FFFF - 30_000);
    let shown: Vec<_> = proof.bus.as_ref().unwrap().reading().unwrap().passes.clone();
    assert!(shown.iter().all(|pass| pass.shown.is_ok()), "{}", render(&proof));
    assert_eq!(taken(&proof), Taken::Took, "{}", render(&proof));
    // The ignition is switched off and on in the first pass, and again at rest behind the second.
    let in_first_s = f64::midpoint(ends[0].0, ends[0].1);
    let (proof, _) = driven(Case::Old, 4, |bus| bus.ignition_s = vec![in_first_s]);
    let text = render(&proof);
    let passes = &proof.bus.as_ref().unwrap().reading().unwrap().passes;
    assert_eq!(passes[0].shown, Err(BusPassRefusal::Restarted), "{text}");
    assert!(passes[1].shown.is_ok() && Case::Old.is_named(&proof), "{text}");
    assert!(text.contains("began anew"), "{text}");
    // In both passes: no answer, and why.
    let both = ends.iter().map(|(from_s, to_s)| f64::midpoint(*from_s, *to_s)).collect::<Vec<_>>();
    let (proof, _) = driven(Case::Right, 4, |bus| bus.ignition_s.clone_from(&both));
    assert_eq!(proof.judged.as_ref().unwrap_err(), &ProofRefusal::Bus(BusRefusal::NoPass));
    // Between the passes nothing is lost.
    let between_s = ends[0].1 + 15.0;
    let (proof, _) = driven(Case::Right, 4, |bus| bus.ignition_s = vec![between_s]);
    assert_eq!(taken(&proof), Taken::Took, "{}", render(&proof));
}

#[test]
fn a_bus_without_a_distance_at_a_peg_leaves_that_pass_out() {
    let ends = ends_s(Case::Right, 5);
    let rest = Some((ends[0].1 - 9.0, ends[0].1 + 6.0));
    let (proof, _) = driven(Case::Right, 5, |bus| bus.no_data_s = rest);
    let text = render(&proof);
    let passes = &proof.bus.as_ref().unwrap().reading().unwrap().passes;
    assert_eq!(passes[0].shown, Err(BusPassRefusal::NoFinish), "{text}");
    assert_eq!(taken(&proof), Taken::Took, "{text}");
    // Silent in the middle of a pass: the distance goes on meanwhile.
    let (mut scenario, course) = on_the_bus(Case::Right, 5, |_| ());
    scenario.faults = vec![
        Fault::BusSilent { from_s: ends[0].0 + 15.0, to_s: ends[0].0 + 25.0 },
        Fault::ByteDamage { port: Port::Bus, rate: 5e-4 },
    ];
    let (records, truth) = simulate(&scenario, 5, None);
    let proof = work(&records, &options(Case::Right, &truth, course));
    assert_eq!(taken(&proof), Taken::Took, "{}", render(&proof));
    let passes = &proof.bus.as_ref().unwrap().reading().unwrap().passes;
    assert!(passes.iter().all(|pass| pass.shown.is_ok()), "{}", render(&proof));
}

#[test]
fn of_several_senders_the_one_that_is_handed_on_counts_else_it_cannot_be_told() {
    let second = |bus: &mut BusTractor| bus.second = Some((0x17, 1.06));
    let (proof, _) = driven(Case::Right, 6, second);
    let text = render(&proof);
    let bus = proof.bus.as_ref().unwrap();
    assert_eq!((bus.readings.len(), taken(&proof)), (4, Taken::Took), "{text}");
    assert_eq!(bus.reading().unwrap().key.sender, 0xF0);
    let other = bus.readings.iter().find(|one| one.key.sender == 0x17).unwrap();
    assert!((other.ratio().unwrap().0 - 1.06).abs() < 0.001, "{text}");
    // None says which one is handed on.
    let (proof, _) = driven(Case::Right, 6, |bus| {
        bus.second = Some((0x17, 1.06));
        bus.sends_selected = false;
    });
    let differ = BusRefusal::SendersDiffer { one: 0x17, other: 0xF0 };
    assert_eq!(proof.judged.as_ref().unwrap_err(), &ProofRefusal::Bus(differ));
    assert!(render(&proof).contains("control units 23 and 240"), "{}", render(&proof));
    // A second one that says the same is no contradiction, and one alone is enough.
    for (case, second) in [(Case::Right, Some((0x17, 1.0))), (Case::Old, None)] {
        let (proof, _) = driven(case, 6, |bus| {
            bus.second = second;
            bus.sends_selected = false;
        });
        assert!(case.is_named(&proof), "{}", render(&proof));
        let bus = proof.bus.as_ref().unwrap();
        assert_eq!(bus.handed_on, HandedOn::NotStated);
        assert_eq!(bus.reading().unwrap().key.kind, BusSpeed::Wheel);
    }
}

#[test]
fn another_source_in_force_is_said_by_the_bus_whatever_it_shows() {
    let (proof, _) = driven(Case::OtherSourceRight, 7, |_| ());
    let text = render(&proof);
    let judged = proof.judged.as_ref().unwrap();
    assert_eq!(judged.taken, Taken::DidNotTake, "{text}");
    assert!(judged.alarms.contains(&Alarm::OtherHandedOn(SelectedSource::Ground)), "{text}");
    assert!(text.contains("hands on the ground-based speed"), "{text}");
    // Without a value that fits it is said all the same.
    let (scenario, course) = on_the_bus(Case::OtherSourceRight, 7, |_| ());
    let (records, truth) = simulate(&scenario, 7, None);
    let entered = truth.wheel_impulses_per_100m.round();
    let known = Known::default().with(Origin::Entered, entered).with(Origin::OtherSensor, 5_000.0);
    let bare = ProofOptions { course: Some(course), known, ..ProofOptions::default() };
    let text = render(&work(&records, &bare));
    let line = "PROOF: IT DID NOT TAKE. The tractor hands on the ground-based speed";
    assert!(text.starts_with(line), "{text}");
    // Now this, now that.
    let ends = ends_s(Case::Right, 7);
    let changes = Some((f64::midpoint(ends[0].0, ends[0].1), Handed::Ground));
    let (proof, _) = driven(Case::Right, 7, |bus| bus.then_handed_on = changes);
    let judged = proof.judged.as_ref().unwrap();
    assert_eq!(judged.taken, Taken::CannotTell, "{}", render(&proof));
    assert!(judged.alarms.contains(&Alarm::HandedOnChanged), "{}", render(&proof));
}

/// A terminal that was typed beside a bus, the bus of a tractor that holds what it should.
fn both(case: Case, seed: u64) -> Proof {
    let (scenario, course) = scenario(case, Read::Distance, seed);
    let right = Keyed::Right;
    let terminal =
        scenario.terminal.map(|terminal| trundle_sim::Terminal { keyed: right, ..terminal });
    let bus = with_bus(Scenario { terminal, ..scenario.clone() }, seed).bus;
    let scenario = Scenario { bus, ..scenario };
    let (mut records, truth) = simulate(&scenario, seed, None);
    type_readings(&mut records, &truth, &scenario, Read::Distance);
    work(&records, &options(case, &truth, course))
}

#[test]
fn what_is_typed_and_the_bus_stand_beside_each_other_and_are_never_averaged() {
    let agree = both(Case::Right, 8);
    let text = render(&agree);
    let judged = agree.judged.as_ref().unwrap();
    assert_eq!((judged.taken, judged.by), (Taken::Took, By::Bus), "{text}");
    assert_eq!((judged.beside.len(), judged.alarms.len()), (1, 0), "{text}");
    assert_eq!((judged.beside[0].by, judged.beside[0].taken), (By::Distance, Taken::Took));
    assert!(text.contains("By the distance typed alone: it took"), "{text}");
    let alone = agree.bus.as_ref().unwrap().reading().unwrap().ratio().unwrap();
    assert_eq!(judged.ratio.unwrap().0, alone.0, "the bus by itself");
    // The terminal holds the old value, the tractor the new one.
    let differ = both(Case::Old, 8);
    let text = render(&differ);
    let judged = differ.judged.as_ref().unwrap();
    assert_eq!(judged.taken, Taken::CannotTell, "{text}");
    assert!(judged.alarms.iter().any(|one| matches!(one, Alarm::BusDisagrees { .. })), "{text}");
    let each: Vec<_> = judged.beside.iter().map(|one| (one.by, one.taken)).collect();
    assert_eq!(each, [(By::Bus, Taken::Took), (By::Distance, Taken::DidNotTake)], "{text}");
}

#[test]
fn marks_on_the_move_are_read_with_the_delay_of_the_bus() {
    for seed in 1..=seeds(3, 20) {
        let (mut scenario, course) = on_the_bus(Case::Old, seed, |_| ());
        scenario.driving = Driving::RollingGate;
        let (records, truth) = simulate(&scenario, seed, None);
        let proof = work(&records, &options(Case::Old, &truth, course));
        let text = render(&proof);
        let reading = proof.bus.as_ref().unwrap().reading().unwrap();
        let late_s = scenario.bus.as_ref().unwrap().delay_s;
        let delay = reading.delay.unwrap();
        assert!((delay.seconds.value - late_s).abs() < 0.03, "{delay:?}, not {late_s}");
        assert!(reading.passes.iter().all(|pass| pass.shown.is_ok()), "{text}");
        let (ratio, expanded) = reading.ratio().unwrap();
        let off = ratio - truth.terminal.unwrap().ratio;
        assert!(off.abs() <= 2.0 * expanded.expanded_uncertainty, "seed {seed}: {off}: {text}");
        assert!(Case::Old.is_named(&proof), "seed {seed}: {text}");
    }
}

#[test]
fn results_by_the_bus_keep_to_their_schema_and_to_the_terminal() {
    let ends = ends_s(Case::Right, 9);
    let in_first_s = f64::midpoint(ends[0].0, ends[0].1);
    let all = [
        driven(Case::Right, 9, |bus| bus.ignition_s = vec![in_first_s]).0,
        driven(Case::OtherSource, 9, |_| ()).0,
        driven(Case::Right, 9, |bus| {
            bus.second = Some((0x17, 1.06));
            bus.sends_selected = false;
        })
        .0,
        both(Case::Old, 9),
    ];
    let json: Vec<Value> =
        all.iter().map(|proof| serde_json::from_str(&to_json(proof)).unwrap()).collect();
    keeps(SCHEMA, &json);
    assert_eq!(json[1]["bus"]["handed_on"], "ground");
    assert_eq!(json[2]["bus"]["refused"], "SENDERS_DIFFER");
    for text in all.iter().map(render) {
        println!("{text}");
        for line in text.lines() {
            assert!(line.chars().count() <= 100 && line.trim_end() == line, "{line}");
        }
    }
}
