//! A long day in little memory: samples kept as differences come back the same to the last bit.

use trundle_core::session::samples::{Sample, Samples};
use trundle_core::wire::board::CountSample;
use trundle_core::wire::fix::{Fix, Quality};
use trundle_core::wire::sentence::GstSigma;
use trundle_tests::Draws;

const QUALITIES: [Quality; 12] = [
    Quality::None,
    Quality::Standalone,
    Quality::Differential,
    Quality::Pps,
    Quality::RtkFixed,
    Quality::RtkFloat,
    Quality::Estimated,
    Quality::Manual,
    Quality::Simulated,
    Quality::Other(0),
    Quality::Other(9),
    Quality::Other(255),
];

/// Mostly a little more than before, now and then anything at all.
fn next(draws: &mut Draws, before: u64) -> u64 {
    if draws.below(50) == 0 { draws.bits() } else { before.wrapping_add(draws.bits() >> 40) }
}

fn some<T>(draws: &mut Draws, value: T) -> Option<T> {
    (draws.below(4) > 0).then_some(value)
}

/// Any bits but those of a number that is none, which equals nothing.
fn number(draws: &mut Draws) -> f64 {
    let any = f64::from_bits(draws.bits());
    if any.is_nan() { -0.0 } else { any }
}

fn counts(draws: &mut Draws, many: usize) -> Vec<CountSample> {
    let (mut board_us, mut host_ns) = (0, 0);
    let mut sample = || {
        // Rising, for the halves.
        board_us += draws.bits() >> 45;
        host_ns = next(draws, host_ns);
        CountSample {
            host_ns,
            board_us,
            impulses: [draws.bits() >> 30, draws.bits(), 0],
            last_edge_us: [(); 3].map(|()| {
                let edge = draws.bits();
                some(draws, edge)
            }),
            rejected: [(); 3].map(|()| draws.bits() as u32),
            in_work: draws.below(2) > 0,
            overruns: draws.bits() as u32,
        }
    };
    (0..many).map(|_| sample()).collect()
}

fn fixes(draws: &mut Draws, many: usize) -> Vec<Fix> {
    let mut sample = |n: usize| {
        let [height_m, speed_m_s, track_deg, lat_m, lon_m, sigma_m] =
            [(); 6].map(|()| number(draws));
        let sigma = GstSigma { lat_m, lon_m, height_m: some(draws, sigma_m) };
        let satellites = draws.bits() as u8;
        Fix {
            utc_ns: draws.bits().cast_signed(),
            host_ns: n as u64,
            lat_deg: number(draws),
            lon_deg: number(draws),
            height_m: some(draws, height_m),
            quality: QUALITIES[draws.below(QUALITIES.len())],
            satellites: some(draws, satellites),
            hdop: some(draws, f32::from(satellites) / 10.0),
            speed_m_s: some(draws, speed_m_s),
            track_deg: some(draws, track_deg),
            gst: some(draws, sigma),
            speed_quantum_m_s: number(draws),
            position_quantum_m: number(draws),
        }
    };
    (0..many).map(&mut sample).collect()
}

/// Everything that a list of these samples answers, a plain list answers the same.
fn as_a_plain_list<T: Sample + PartialEq + std::fmt::Debug>(
    plain: &[T],
    draws: &mut Draws,
    early: impl Fn(&T, &T) -> bool,
) {
    let kept: Samples<T> = plain.iter().copied().collect();
    assert_eq!((kept.len(), kept.is_empty()), (plain.len(), plain.is_empty()));
    assert_eq!((kept.first(), kept.last()), (plain.first(), plain.last()));
    assert!(kept.iter().eq(plain.iter().copied()));
    let shared = kept.clone();
    for _ in 0..20 {
        let at = draws.below(plain.len() + 2);
        assert_eq!(kept.get(at), plain.get(at).copied(), "number {at}");
        let Some(limit) = plain.get(at) else { continue };
        let before = plain.partition_point(|sample| early(sample, limit));
        assert_eq!(kept.partition_point(|sample| early(sample, limit)), before);
        assert!(kept.from(at).eq(plain[at..].iter().copied()), "from number {at}");
    }
    for at in [0, 1, 127, 128, 129, 255, 256, draws.below(plain.len() + 1)] {
        let at = at.min(plain.len());
        let mut head = kept.clone();
        let tail = head.split_off(at);
        assert!(head.iter().eq(plain[..at].iter().copied()), "before number {at}");
        assert!(tail.iter().eq(plain[at..].iter().copied()), "after number {at}");
        // It goes on as if the others had never been there.
        head = tail.iter().fold(head, |mut head, sample| {
            head.push(sample);
            head
        });
        assert_eq!(head, kept);
    }
    for _ in 0..20 {
        let (from, to) = (draws.below(plain.len() + 2), draws.below(plain.len() + 2));
        // Whole blocks of 128 are shared: it may begin a block sooner.
        let inside = plain.iter().take(to).skip(from - from % 128);
        let wanted: Samples<T> = inside.filter(|_| from < to.min(plain.len())).copied().collect();
        assert_eq!(kept.part(from, to), wanted, "from number {from} to {to}");
    }
    assert_eq!(shared, kept);
}

#[test]
fn samples_come_back_to_the_last_bit() {
    for seed in 0..trundle_tests::seeds(3, 40) {
        let draws = &mut Draws::new(seed);
        for many in [0, 1, 2, 127, 128, 129, 256, 257, 1000 + draws.below(600)] {
            println!("seed {seed}, {many} samples");
            let (counted, fixed) = (counts(draws, many), fixes(draws, many));
            as_a_plain_list(&counted, draws, |a, b| a.board_us < b.board_us);
            as_a_plain_list(&fixed, draws, |a, b| a.host_ns < b.host_ns);
        }
    }
}
