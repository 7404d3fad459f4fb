//! Figures of the demo van, computed by hand or published with the trade's own experiments on it.

use super::super::equal_force;
use super::super::force;
use super::super::paper::Paper;
use super::super::paper::code_at_or_above;
use super::super::paper::pedal_pct;
use super::super::units::shown_gap_kmh;
use super::checked;
use super::figure;
use super::van;
use super::van_edited;
use super::van_with;
use super::word;
use crate::spec::pedal::PedalStops;
use crate::units::KMH_PER_MPH;

/// 1,500 rpm over 26.1718·i rpm per km/h, i = 2.21, 1.46, 1.08, 0.83, 0.72.
#[test]
fn the_lowest_legal_speeds_of_the_van() {
    let (spec, _) = van();
    for (gear, kmh) in [(2, 25.9), (3, 39.3), (4, 53.1), (5, 69.1), (6, 79.6)] {
        assert!((spec.limits.rpm_floor.0 / spec.rpm_per_kmh(gear) - kmh).abs() < 0.05, "{gear}");
    }
}

/// 3.80/2.21, 2.21/1.46, 1.46/1.08, 1.08/0.83, 0.83/0.72.
#[test]
fn the_ratio_steps_of_the_van() {
    assert_eq!(figure(&checked(&van()), 13), "1>2 1.72, 2>3 1.51, 3>4 1.35, 4>5 1.30, 5>6 1.15");
}

/// 51 km/h in fourth: 28.2656·51 = 1,441.5 rpm, 58.5 below 1,500; 53.07 km/h would do, so 54 in whole km/h.
#[test]
fn third_to_fourth_at_51_lands_at_1442() {
    let van = van_edited(&[("0,43,57,73,84,27,38,52,64\n10,", "0,43,51,73,84,27,38,52,64\n10,")]);
    let desk = checked(&van);
    let found = desk.findings.iter().find(|f| f.check == 3).unwrap();
    assert_eq!(found.says, "3>4 at 0.0 % and 51.0 km/h lands at 1,442 rpm, 58 rpm below the floor");
    assert_eq!(found.cures.iter().map(|c| c.speed.to_string()).collect::<Vec<_>>(), ["54 km/h"]);
    assert!(found.place.ends_with("van.csv:2:6 (row 0, column 3>4)"), "{}", found.place);
}

/// An upshift at a whole number of mph and the shift back 1 mph below lie 1.609 km/h apart. In whole km/h, rounded outward,
/// and less the km/h that each shown number stands for, that is 1 km/h wherever the lower one has a fraction of
/// up to 0.391: in 27 of the 70 cases from 10 to 79 mph, counted by a spreadsheet; 2 km/h in the others.
#[test]
fn one_mph_is_one_kmh_in_27_of_70_cases() {
    let gaps = (10..80).map(|mph| shown_gap_kmh(f64::from(mph) * KMH_PER_MPH, f64::from(mph - 1) * KMH_PER_MPH));
    let (one, two): (Vec<f64>, Vec<f64>) = gaps.partition(|gap| *gap == 1.0);
    assert_eq!((one.len(), two.len()), (27, 43));
    assert!(two.iter().all(|gap| *gap == 2.0));
}

/// 229·100/255 = 89.80, 230·100/255 = 90.196.
#[test]
fn ninety_percent_lies_between_two_codes() {
    assert_eq!(format!("{:.1} {:.1}", pedal_pct(229), pedal_pct(230)), "89.8 90.2");
    assert_eq!(code_at_or_above(90.0), 230);
    assert!(figure(&checked(&van()), 15).contains("between 229/255 = 89.8 % and 230/255 = 90.2 %"));
}

/// From 38 to 217 are 179 codes: 90 % of them are 161.1, so 161/179 = 89.9 % and 162/179 = 90.5 %; 3 % are 5.4.
#[test]
fn the_codes_of_a_pedal_between_its_stops() {
    let (mut spec, written) = van();
    spec.link.pedal_stops = PedalStops { released: 38, floored: 217 };
    assert_eq!(
        figure(&checked(&(spec, written)), 15),
        "released 38/255, closed up to 43/255, floored 217/255; 90 % of the travel lies between 199/255 = 89.9 % and \
         200/255 = 90.5 %"
    );
}

/// The lines of the trade's first hand-made map of this van: light, full pedal, coasting, kickdown; linear from 20 to 80 %
/// pedal.
const FIRST_MAP: &str = "% / km/h,2>3,3>4,4>5,5>6,3>2,4>3,5>4,6>5\n\
    0,41,55,71,82,28,37,49,60\n\
    20,41,55,71,82,28,37,49,60\n\
    80,67,102,138,180,57,87,117,152\n\
    100,67,102,138,180,57,87,117,152\n";

/// Published of that map: from second to third the same-pedal gap is 11 km/h where the equal-force gap is 0.5, at 58 % and
/// then 80 %. In 5>6 at 180 km/h: 3,391.9 rpm in sixth give 352.1 N m, ·0.72·3.70·0.92/0.375 = 2,301 N, of which 90 % are
/// 2,071; the road takes 306 + 0.78·50² = 2,256 N: 185 N are missing, and 390 N more for 0.15 m/s².
#[test]
fn the_first_map_fails_where_it_is_known_to() {
    let first = van_with(FIRST_MAP);
    let desk = checked(&first);
    assert_eq!((word(&desk, 5), word(&desk, 6)), ("fails", "fails"));
    let points = equal_force(&first.0, 2);
    let worst = points.iter().min_by(|a, b| a.gap_kmh().total_cmp(&b.gap_kmh())).unwrap();
    assert!((worst.gap_kmh() - 0.5).abs() < 0.1, "{worst:?}");
    assert!((worst.pedal_pct - 58.0).abs() < 0.5 && (worst.pedal_after_pct - 80.0).abs() < 0.5, "{worst:?}");
    let same = worst.up_kmh - first.0.map.down_kmh(3, worst.pedal_pct).unwrap();
    assert!((same - 11.0).abs() < 0.5, "{same}");
    let says = &desk.findings.iter().find(|f| f.check == 6).unwrap().says;
    assert!(says.contains("lacks 575 N"), "{says}");
}

/// Published of the van: with 90 % of full load at the speed of 1,500 rpm, sixth climbs 6.0 % and fifth 7.6 %.
#[test]
fn the_climb_left_in_the_high_gears() {
    let (spec, _) = van();
    let paper = Paper::new(&spec, None);
    for (gear, climbs_pct) in [(6, 6.0), (5, 7.6)] {
        let kmh = 1500.0 / spec.rpm_per_kmh(gear);
        let pct = paper.steady.grade_held_pct(kmh, 0.9 * paper.steady.force_n(gear, kmh, 1.0));
        assert!((pct - climbs_pct).abs() < 0.1, "{gear}: {pct}");
    }
}

/// Published of the van at full pedal: 3.1, 6.5 and 12 s between the upshifts at 39, 67, 102 and 138 km/h. By Simpson's rule
/// over 1/a for the second: a = 1.73, 1.51 and 1.15 m/s² at 67, 84.5 and 102 km/h give 6.6 s.
#[test]
fn time_between_upshifts_at_full_pedal() {
    let (spec, _) = van();
    let paper = Paper::new(&spec, None);
    for (gear, from, to, time_s, within) in
        [(2, 39.0, 67.0, 3.1, 0.1), (3, 67.0, 102.0, 6.5, 0.2), (4, 102.0, 138.0, 12.0, 0.5)]
    {
        let time = force::time_s(&paper, gear, from, to, 100.0).unwrap();
        assert!((time - time_s).abs() <= within, "{gear}: {time}");
    }
}

/// Third to second at 29 km/h: second turns 1,677.4 rpm, drag 36.77 N m, ·8.177/0.375 per 0.92 = 871.6 N; the engine gains
/// 569.2 rpm = 59.61 rad/s in 0.4 s: 0.3·59.61/0.4·21.805 = 974.8 N; over 2600·9.80665·0.55 = 14,023.5 N that is 0.132.
/// (0.12 is published for a shift of 0.45 s.)
#[test]
fn friction_of_a_coasting_downshift() {
    let (spec, _) = van();
    let paper = Paper::new(&spec, None);
    assert!((force::coasting_friction(&paper, 3, 29.0, 0.55) - 0.1317).abs() < 0.0005);
    assert!((force::coasting_friction(&paper, 6, 29.0, 0.55) - 0.03).abs() < 0.01);
}
