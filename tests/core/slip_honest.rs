//! Slip that is not slip: what receivers, tables and slopes make of a drive must be right or told.

use trundle_core::session::trail::Trail;
use trundle_core::stats::fit::robust::median;
use trundle_core::survey::ride::parts::PartKind;
use trundle_core::survey::slip::{Section, SectionFlag, Slip};
use trundle_core::wire::board::CountSample;
use trundle_core::wire::fix::{Fix, Quality};
use trundle_sim::{ReceiverClass, Scenario};
use trundle_tests::headland::{Driven, drive, headland};
use trundle_tests::seeds;

/// From when on the receivers go astray in these drives, and for how long, seconds.
const ASTRAY_S: (f64, f64) = (60.0, 8.0);

/// Change the fixes of a drive.
fn change(trail: &mut Trail, mut by: impl FnMut(f64, &mut Fix)) {
    for spell in &mut trail.spells {
        let Some(first) = spell.fixes.first().map(|fix| fix.utc_ns) else { continue };
        let changed = |mut fix: Fix| {
            by((fix.utc_ns - first) as f64 * 1e-9, &mut fix);
            fix
        };
        spell.fixes = spell.fixes.iter().map(changed).collect();
    }
}

fn astray(at_s: f64) -> bool {
    (ASTRAY_S.0..ASTRAY_S.0 + ASTRAY_S.1).contains(&at_s)
}

fn off(driven: &Driven, section: &Section) -> f64 {
    section.slip - driven.true_slip(section)
}

fn flagged(slip: &Slip, flag: SectionFlag) -> usize {
    slip.sections.iter().filter(|section| section.flags.contains(&flag)).count()
}

/// Half the true speed for seconds: with the kind of fix getting worse or not, and with positions
/// that stay right or that the same filter carries along until they jump back.
#[test]
fn half_the_true_speed_is_no_valid_section_of_slip() {
    for seed in 0..seeds(2, 12) {
        let sound = drive(&headland(ReceiverClass::Rtk), seed);
        let slip = sound.slip().unwrap();
        assert_eq!(flagged(&slip, SectionFlag::FixUnreliable), 0, "seed {seed}");
        assert_eq!(flagged(&slip, SectionFlag::FixQualityChanged), 0, "seed {seed}");
        for (lost, carried) in [(true, false), (false, false), (true, true)] {
            let mut driven = drive(&headland(ReceiverClass::Rtk), seed);
            let mut last: Option<(f64, f64)> = None;
            let mut held: Option<(f64, f64)> = None;
            change(&mut driven.trail, |at_s, fix| {
                let here = (fix.lat_deg, fix.lon_deg);
                if astray(at_s) {
                    fix.speed_m_s = fix.speed_m_s.map(|v| v / 2.0);
                    if lost {
                        fix.quality = Quality::Standalone;
                    }
                    if let (true, Some(before), Some(was)) = (carried, last, held) {
                        fix.lat_deg = was.0 + (here.0 - before.0) / 2.0;
                        fix.lon_deg = was.1 + (here.1 - before.1) / 2.0;
                    }
                }
                (last, held) = (Some(here), Some((fix.lat_deg, fix.lon_deg)));
            });
            let slip = driven.slip().unwrap();
            let at = format!("seed {seed}, lost {lost}, carried along {carried}");
            let (mut wrong, mut silent) = (0, 0);
            for section in &slip.sections {
                let is_wrong = off(&driven, section).abs() > 0.03;
                wrong += usize::from(is_wrong);
                silent += usize::from(is_wrong && section.flags.is_empty());
                let far = off(&driven, section).abs() / section.standard_uncertainty;
                assert!(!is_wrong || far < 5.0, "{at}: {far} times the uncertainty: {section:?}");
            }
            assert_eq!(silent, 0, "{at}: of {wrong} wrong sections");
            let told = flagged(&slip, SectionFlag::FixUnreliable);
            assert!((1..20).contains(&told), "{at}: {told} flagged");
        }
    }
}

/// Tables of counts have no edge times: a whole count belongs to the instant of its line, however
/// far the next line is.
#[test]
fn whole_counts_of_a_table_are_sure_to_a_count() {
    let (mut squares, mut n, mut sure) = (0.0, 0.0, Vec::new());
    for seed in 0..seeds(3, 12) {
        let mut driven = drive(&headland(ReceiverClass::Rtk), seed);
        for spell in &mut driven.trail.spells {
            let counts = spell.counts.iter();
            spell.counts = counts.map(|s| CountSample { last_edge_us: [None; 3], ..s }).collect();
        }
        let slip = driven.slip().unwrap();
        for section in slip.sections.iter().filter(|s| s.kind == PartKind::Pass) {
            squares += (off(&driven, section) / section.standard_uncertainty).powi(2);
            n += 1.0;
            sure.push(section.standard_uncertainty);
        }
    }
    let rms = f64::sqrt(squares / n);
    assert!((0.7..=1.2).contains(&rms), "rms of error over uncertainty {rms}");
    let usual = median(&sure).unwrap();
    assert!(usual < 0.0015, "usual standard uncertainty of a section {usual}");
}

fn steep() -> Scenario {
    Scenario { slope: 0.1, ..headland(ReceiverClass::Rtk) }
}

/// One in ten: the wheel rolls 0.5 % further than a receiver's speed over ground says.
#[test]
fn on_a_slope_slip_is_that_along_the_ground() {
    for seed in 0..seeds(2, 12) {
        let driven = drive(&steep(), seed);
        let slip = driven.slip().unwrap();
        let passes = slip.sections.iter().filter(|s| s.kind == PartKind::Pass);
        let errors: Vec<f64> = passes.map(|section| off(&driven, section)).collect();
        let usual = median(&errors).unwrap();
        assert!(usual.abs() < 0.0018, "seed {seed}: off by {usual}");
    }
}

#[test]
fn a_slope_that_no_height_shows_is_covered_and_does_not_average() {
    let mut driven = drive(&steep(), 3);
    change(&mut driven.trail, |_, fix| fix.height_m = None);
    let slip = driven.slip().unwrap();
    let total = slip.totals.passes.unwrap();
    assert!((0.002..0.004).contains(&total.standard_uncertainty), "{total:?}");
    let passes = slip.sections.iter().filter(|s| s.kind == PartKind::Pass);
    let errors: Vec<f64> = passes.map(|section| off(&driven, section)).collect();
    let usual = median(&errors).unwrap();
    assert!(usual.abs() < 2.2 * total.standard_uncertainty, "off by {usual}");
}

/// A speed that is wrong by a share, always the same way, is put right by the positions where they
/// can, and stands in the uncertainty of totals where they cannot.
#[test]
fn the_scale_of_the_speed_is_that_of_the_positions() {
    for (class, scale) in [(ReceiverClass::Rtk, 1.003), (ReceiverClass::Corrected, 0.997)] {
        for seed in 0..seeds(2, 12) {
            let mut driven = drive(&headland(class), seed);
            change(&mut driven.trail, |_, fix| fix.speed_m_s = fix.speed_m_s.map(|v| v * scale));
            let slip = driven.slip().unwrap();
            let kept: f64 =
                slip.sections.iter().map(|s| s.impulses * (1.0 - driven.true_slip(s))).sum();
            let theoretical: f64 = slip.sections.iter().map(|s| s.impulses).sum();
            let all = slip.totals.all;
            let off = all.slip - (1.0 - kept / theoretical);
            let far = off.abs() / all.standard_uncertainty;
            assert!(far < 3.0, "{class:?} seed {seed}: {far} times: {all:?}");
        }
    }
}
