//! Engine speed from road speed, against all rows of a published demo that is fetched for it and never committed.

use crate::runs::spec;
use sprag::spec::known::Known;

/// Sheet WLTP-H of the demo "co2mpas_demo-1" of co2sim 3.0.0 (EUPL 1.1 or later): a 6-speed automatic, its ratios and
/// final drive as stated there, the radius of 0.353 m fitted to its rows. `ci/outside/co2sim.sh` fetches it.
#[test]
#[expect(clippy::disallowed_methods, reason = "the script says where it put the rows")]
#[ignore = "needs the rows that ci/outside/co2sim.sh fetches"]
fn every_published_row_has_our_engine_speed() {
    let path = std::env::var("SPRAG_OUTSIDE_ROWS").expect("run ci/outside/co2sim.sh");
    let mut spec = spec("van");
    spec.vehicle.gearbox.ratios = [3.642, 1.884, 1.179, 0.869, 0.705, 0.592].map(Known::stated).to_vec();
    spec.vehicle.gearbox.final_drive = Known::stated(4.352);
    spec.vehicle.wheel_radius = Known::stated(0.353);
    let rows: Vec<[f64; 4]> = std::fs::read_to_string(path)
        .unwrap()
        .lines()
        .map(|line| {
            let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap_or(0.0)).collect();
            cells.try_into().unwrap()
        })
        .collect();
    assert_eq!(rows.len(), 1801);
    let (mut compared, mut worst_rpm) = (0, 0.0_f64);
    // First gear slips in the converter.
    for [_, kmh, gear, rpm] in rows.iter().copied().filter(|row| row[2] >= 2.0 && row[1] > 5.0) {
        worst_rpm = worst_rpm.max((spec.rpm_per_kmh(gear as u8) * kmh - rpm).abs());
        compared += 1;
    }
    println!("{compared} rows, {worst_rpm:.4} rpm apart at most");
    assert!(compared == 1424 && worst_rpm < 0.015);
    // Its upshifts land at 908.1057 rpm at the lowest, into second at 516 s: none below 900, seven below 950, twelve below
    // 1,000, as counted once with rtamt.
    let landings: Vec<f64> =
        rows.windows(2).filter(|pair| pair[1][2] > pair[0][2] && pair[0][2] >= 1.0).map(|pair| pair[1][3]).collect();
    let below = |floor: f64| landings.iter().filter(|rpm| **rpm < floor).count();
    assert_eq!([below(900.0), below(950.0), below(1000.0)], [0, 7, 12]);
}
