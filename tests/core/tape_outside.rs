//! Taping against textbook examples and the directive. Examples in feet and pounds are converted
//! here, so that the units are checked as well. Tolerances are half of the last digit kept.

use trundle_core::course::tape::{
    CourseRefusal, CourseSpec, TapeAccuracy, TapeClass, TapeMaterial, TapeSpec, course_length,
    horizontal_from_slope_m, sag_correction_m, standard_length_correction_m, tension_correction_m,
};
use trundle_core::stats::budget::{SourceId, Sources};

const FT: f64 = 0.3048;
const LB_N: f64 = 4.448_221_615_260_5;
const LB_KG: f64 = 0.453_592_37;
const IN2_MM2: f64 = 645.16;
const PSI_GPA: f64 = 6.894_757_293_168e-6;

/// The number of the source with this key.
fn source(sources: &Sources, key: &str) -> SourceId {
    sources.iter().find(|(_, source)| source.key == key).unwrap().0
}

fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "found {found}, expected {expected} ± {within}");
}

fn celsius(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) / 1.8
}

/// What a course of this length is corrected by for the temperature of its tape.
fn temperature_correction_m(length_m: f64, per_c: f64, at_c: f64, right_at_c: f64) -> f64 {
    let mut spec = CourseSpec::new(length_m);
    spec.tape.expansion_per_c = Some(per_c);
    spec.tape.temperature_c = Some(at_c);
    spec.tape.reference_temperature_c = right_at_c;
    let course = course_length(&spec, &mut Sources::new()).unwrap();
    course.corrections.iter().find(|c| c.name == "temperature").unwrap().value_m
}

#[test]
fn temperature_examples() {
    // T1, lecture "Taping Corrections": 368.50 ft, 22 °F, right at 68 °F, 6.5e-6 per °F: −0.11 ft.
    let ft = temperature_correction_m(368.50 * FT, 6.5e-6 * 1.8, celsius(22.0), celsius(68.0)) / FT;
    near(ft, -0.110_181_5, 5e-8);
    // T9, public copy of an exercise: 318 m becomes 318.103 m at 47.92 °C.
    near(temperature_correction_m(318.0, 11.6e-6, 47.922_359, 20.0), 0.103, 5e-9);
    // T10, solution of a physics textbook exercise: 65.175 m at 3 °C, 11e-6: 12.18 mm to subtract
    // (truncated in print).
    near(temperature_correction_m(65.175, 11e-6, 3.0, 20.0), -0.012_187_725, 5e-12);
}

#[test]
fn sag_examples() {
    // T2 to T4, the same lecture: 2.8 lb per 100 ft. Weight per foot over tension has no need of
    // conversion but for the foot.
    let sag_ft = |spans: &[f64], pounds: f64| -> f64 {
        let weight = 0.028 * LB_N / FT;
        let sag = |span: &f64| sag_correction_m(span * FT, weight, pounds * LB_N) / FT;
        spans.iter().map(sag).sum()
    };
    near(sag_ft(&[100.0, 100.0, 100.0, 48.75], 12.0), -0.706_838, 5e-7);
    near(sag_ft(&[100.0, 100.0, 100.0, 48.75], 18.0), -0.314_150, 5e-7);
    near(sag_ft(&[50.0, 50.0, 50.0, 50.0, 50.0, 50.0, 48.75], 12.0), -0.196_421, 5e-7);
}

#[test]
fn tension_standard_length_and_slope_examples() {
    // T5, the same lecture: 18 lb instead of 12 lb on 100 ft, 0.015 in², 29e6 lb/in²: 0.0014 ft.
    let section = 0.015 * IN2_MM2;
    let modulus = 29e6 * PSI_GPA;
    let ft = tension_correction_m(100.0 * FT, 18.0 * LB_N, 12.0 * LB_N, section, modulus) / FT;
    near(ft, 0.001_379_31, 5e-9);
    // T8, the same lecture: 500.00 ft with a tape truly 100.02 ft long.
    near(standard_length_correction_m(500.0, 100.0, 100.02), 0.10, 1e-10);
    // T6, the same lecture: 300.00 ft at 5°: 298.86 ft level and 26.15 ft up.
    let up = 300.0 * 5.0_f64.to_radians().sin();
    // The last digit of 26.146722 is cut off, not rounded.
    near(up, 26.146_722, 1e-6);
    near(horizontal_from_slope_m(300.0, up), 298.858_409, 5e-7);
    // T7: the taught series v²/2S (1.139704 ft) with its second term v⁴/8S³; the next one is 1e-5.
    let v: f64 = 26.15;
    let series = 1.139_704 + v.powi(4) / (8.0 * 300.0_f64.powi(3));
    near(300.0 - horizontal_from_slope_m(300.0, v), series, 1e-5);
    // S1 to S3: 100 m on slopes of 1, 2 and 5 %.
    for (grade, level) in [(0.01, 99.995_000_375), (0.02, 99.980_005_998), (0.05, 99.875_233_888)] {
        let height = 100.0 * f64::sin(f64::atan(grade));
        near(horizontal_from_slope_m(100.0, height), level, 5e-10);
    }
}

fn imperial(sections_ft: &[f64], spans_ft: &[f64]) -> CourseSpec {
    CourseSpec {
        sections_m: sections_ft.iter().map(|ft| ft * FT).collect(),
        tape: TapeSpec {
            material: TapeMaterial::Steel,
            expansion_per_c: Some(6.5e-6 * 1.8),
            hanging_spans_m: spans_ft.iter().map(|ft| ft * FT).collect(),
            ..TapeSpec::default()
        },
        ..CourseSpec::new(sections_ft.iter().sum::<f64>() * FT)
    }
}

#[test]
fn all_corrections_together() {
    // T11, T12, self-study exercises on jerrymahun.com: inputs read, results worked independently.
    // They work every correction from the nominal length, here temperature and tension act on the
    // tape's true length: 678 ft times 5e-5 times (8e-5 + 8e-5) is 5.3e-6 ft.
    let mut spec = imperial(&[100.0, 100.0, 100.0, 100.0, 36.48], &[100.0, 100.0, 36.48]);
    spec.tape.standard_length_m = Some((100.0 * FT, 100.004 * FT));
    spec.tape.reference_temperature_c = celsius(70.0);
    spec.tape.temperature_c = Some(celsius(50.0));
    spec.tape.reference_tension_n = 23.0 * LB_N;
    spec.tape.tension_n = Some(15.0 * LB_N);
    spec.tape.cross_section_mm2 = Some(0.004 * IN2_MM2);
    spec.tape.elastic_modulus_gpa = 2.9e7 * PSI_GPA;
    spec.tape.mass_kg_per_m = Some(2.2 / 102.0 * LB_KG / FT);
    let course = course_length(&spec, &mut Sources::new()).unwrap();
    near(course.length.value() / FT, 436.234_13, 8e-6);
    spec.tape.mass_kg_per_m = Some(2.2 / 101.0 * LB_KG / FT);
    let course = course_length(&spec, &mut Sources::new()).unwrap();
    near(course.length.value() / FT, 436.230_62, 8e-6);

    let sections = [50.0, 50.0, 100.0, 100.0, 78.46, 100.0, 100.0, 100.0];
    let mut spec = imperial(&sections, &sections[..5]);
    spec.tape.standard_length_m = Some((100.0 * FT, 99.995 * FT));
    spec.tape.reference_temperature_c = celsius(68.0);
    spec.tape.temperature_c = Some(celsius(80.0));
    spec.tape.reference_tension_n = 18.0 * LB_N;
    spec.tape.tension_n = Some(25.0 * LB_N);
    spec.tape.cross_section_mm2 = Some(0.003 * IN2_MM2);
    spec.tape.elastic_modulus_gpa = 3e7 * PSI_GPA;
    spec.tape.mass_kg_per_m = Some(0.0195 * LB_KG / FT);
    let course = course_length(&spec, &mut Sources::new()).unwrap();
    near(course.length.value() / FT, 678.462_485, 6.5e-6);
    let names: Vec<&str> = course.corrections.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "standard length of the tape",
            "error of the tape",
            "temperature",
            "tension",
            "sag",
            "marks between layings",
            "placement of the pegs",
        ]
    );
}

#[test]
fn limits_of_error_of_the_directive() {
    // Directive 2014/32/EU, annex X, chapter I (read as transposed in UK SI 2016/1153, schedule
    // 1I): a + b·L with L rounded up to the next whole metre.
    let lengths = [1.0, 5.0, 20.0, 29.4, 30.0, 50.0, 100.0];
    let table = [
        (TapeClass::I, [0.2, 0.6, 2.1, 3.1, 3.1, 5.1, 10.1]),
        (TapeClass::II, [0.5, 1.3, 4.3, 6.3, 6.3, 10.3, 20.3]),
        (TapeClass::III, [1.0, 2.6, 8.6, 12.6, 12.6, 20.6, 40.6]),
    ];
    for (class, limits) in table {
        for (length, limit_mm) in lengths.iter().zip(limits) {
            near(class.limit_of_error_m(*length) * 1000.0, limit_mm, 1e-9);
        }
    }
    near(TapeClass::I.limit_of_error_m(29.000_000_000_1) * 1000.0, 3.0, 1e-9);
    near(TapeClass::I.limit_of_error_m(29.001) * 1000.0, 3.1, 1e-9);
}

fn steel(class: TapeClass, sections_m: &[f64]) -> CourseSpec {
    CourseSpec {
        sections_m: sections_m.to_vec(),
        tape: TapeSpec {
            accuracy: TapeAccuracy::Class(class),
            material: TapeMaterial::Steel,
            temperature_c: Some(20.0),
            temperature_half_width_c: Some(0.0),
            ..TapeSpec::default()
        },
        ..CourseSpec::new(100.0)
    }
}

#[test]
fn one_tape_laid_often_is_wrong_the_same_way() {
    // JCGM 100, 5.2.2 note 1: fully correlated errors add up linearly, independent marks do not.
    let mut sources = Sources::new();
    let spec = steel(TapeClass::II, &[30.0, 30.0, 30.0, 10.0]);
    let course = course_length(&spec, &mut sources).unwrap();
    let part = |key: &str| course.length.contribution(source(&sources, key)).abs();
    near(part("tape.class"), (3.0 * 0.0063 + 0.0023) / 3f64.sqrt(), 1e-12);
    near(part("tape.joins"), 0.003 * (3.0_f64 / 3.0).sqrt(), 1e-12);
    near(part("course.peg.start"), 0.01 / 3f64.sqrt(), 1e-12);
    near(course.length.value(), 100.0, 1e-12);
    // A certificate for 30 m: a hundred metres have 10/3 of its uncertainty.
    let mut spec = spec;
    spec.tape.accuracy = TapeAccuracy::Certificate {
        standard_uncertainty_m: 0.0006,
        certified_length_m: Some(30.0),
    };
    let mut sources = Sources::new();
    let course = course_length(&spec, &mut sources).unwrap();
    let id = source(&sources, "tape.certificate");
    near(course.length.contribution(id), 0.002, 1e-12);
}

#[test]
fn what_is_not_stated_is_said() {
    let mut sources = Sources::new();
    let course = course_length(&CourseSpec::new(100.0), &mut sources).unwrap();
    let said = course.assumptions.join("\n");
    for words in ["class III is assumed", "20 °C ± 15 °C", "expansion of steel", "along the ground"]
    {
        assert!(said.contains(words), "{words} not in:\n{said}");
    }
    let class = source(&sources, "tape.class");
    near(course.length.contribution(class), 0.0406 / 3f64.sqrt(), 1e-12);
    // Everything stated: only what nobody can state remains.
    let mut spec = steel(TapeClass::I, &[]);
    spec.height_difference_m = Some(2.0);
    let course = course_length(&spec, &mut Sources::new()).unwrap();
    assert_eq!(course.assumptions.len(), 1, "{:?}", course.assumptions);
    let level = course.horizontal.unwrap();
    near(level.value(), (10_000.0_f64 - 4.0).sqrt(), 1e-12);
    // Doubt of the height counts for its slope only: 0.05 m times 2 in 100.
    let squares =
        level.standard_uncertainty().powi(2) - course.length.standard_uncertainty().powi(2);
    near(squares, (0.05_f64 * 0.02).powi(2), 1.5e-7);
}

#[test]
fn tension_pulls_stretch_and_sag_together() {
    // One doubt of the tension moves both corrections; they add up linearly within it.
    let mut spec = steel(TapeClass::I, &[50.0, 50.0]);
    spec.tape.hanging_spans_m = vec![25.0; 4];
    spec.tape.mass_kg_per_m = Some(0.02);
    spec.tape.cross_section_mm2 = Some(2.6);
    spec.tape.tension_n = Some(60.0);
    spec.tape.tension_half_width_n = Some(3.0);
    let mut sources = Sources::new();
    let course = course_length(&spec, &mut sources).unwrap();
    let at = |newton: f64| {
        let mut moved = spec.clone();
        moved.tape.tension_n = Some(newton);
        course_length(&moved, &mut Sources::new()).unwrap().length.value()
    };
    let slope = (at(60.01) - at(59.99)) / 0.02;
    let tension = source(&sources, "tape.tension");
    near(course.length.terms()[&tension].sensitivity / slope, 1.0, 1e-6);
}

#[test]
fn nonsense_is_refused_with_a_way_out() {
    let refused = |change: &dyn Fn(&mut CourseSpec)| -> CourseRefusal {
        let mut spec = steel(TapeClass::II, &[]);
        change(&mut spec);
        let refusal = course_length(&spec, &mut Sources::new()).unwrap_err();
        assert!(refusal.meaning().contains("no value is given by tape"), "{refusal}");
        assert!(refusal.to_string().len() > 20 && refusal.remedy().len() > 20);
        refusal
    };
    let out = |refusal: &CourseRefusal| matches!(refusal, CourseRefusal::OutOfRange { .. });
    for nominal in [0.0, -100.0, f64::NAN, f64::INFINITY] {
        assert!(out(&refused(&|spec| spec.nominal_m = nominal)));
    }
    assert!(out(&refused(&|spec| spec.tape.temperature_c = Some(293.0))));
    assert!(out(&refused(&|spec| spec.tape.tension_n = Some(0.0))));
    assert!(out(&refused(&|spec| spec.tape.tension_n = Some(5000.0))));
    assert!(out(&refused(&|spec| spec.height_difference_m = Some(-40.0))));
    assert!(out(&refused(&|spec| spec.peg_placement_m = -0.01)));
    assert!(out(&refused(&|spec| spec.tape.standard_length_m = Some((30.0, 30.5)))));
    let refusal = refused(&|spec| spec.sections_m = vec![30.0, 30.0, 30.0]);
    assert_eq!(refusal, CourseRefusal::SectionsDoNotAddUp { nominal_m: 100.0, sum_m: 90.0 });
    let refusal = refused(&|spec| spec.tape.tape_length_m = Some(50.0));
    assert_eq!(refusal, CourseRefusal::SectionLongerThanTape { section_m: 100.0, tape_m: 50.0 });
    let refusal = refused(&|spec| spec.tape.tension_n = Some(100.0));
    assert!(matches!(refusal, CourseRefusal::CrossSectionUnknown { .. }));
    let refusal = refused(&|spec| spec.tape.hanging_spans_m = vec![20.0]);
    assert_eq!(refusal, CourseRefusal::MassUnknown);
    let refusal = refused(&|spec| {
        spec.tape.hanging_spans_m = vec![60.0, 60.0];
        spec.tape.mass_kg_per_m = Some(0.02);
    });
    assert!(matches!(refusal, CourseRefusal::SpansTooLong { .. }));
    // Within 5 cm of nominal the reading counts, not the nominal.
    let spec = steel(TapeClass::II, &[50.0, 50.03]);
    near(course_length(&spec, &mut Sources::new()).unwrap().length.value(), 100.03, 1e-12);
}
