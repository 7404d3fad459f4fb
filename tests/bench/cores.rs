//! Two cores against one.

use crate::row::{Better, Row};
use sprag::campaign::Stop;
use sprag::campaign::plan::{Asked, Plan};
use sprag::campaign::sweep::sweep;
use sprag::controller::in_process::Builtin;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

const REPEATS: usize = 5;
const DRIVES: u32 = 400;

pub fn measure(told: &mut dyn FnMut(Row)) {
    let spec = sprag::selftest::demo_spec().unwrap_or_else(|errors| panic!("{errors}"));
    let run = &spec.runs["commit"];
    let never = AtomicBool::new(false);
    let asked = Asked { random: Some(DRIVES), orders: Some(0), ..Asked::default() };
    let seconds = |jobs: usize| {
        let plan = Plan::new(&spec, run, Vec::new(), &asked).expect("nothing unknown is asked for");
        let began = Instant::now();
        sweep(&spec, &Builtin { fault: None }, &plan, jobs, &Stop(&never), &mut |_| {}).expect("it is built in");
        began.elapsed().as_secs_f64()
    };
    seconds(2);
    let mut ratios: Vec<f64> = (0..REPEATS).map(|_| seconds(1) / seconds(2)).collect();
    ratios.sort_by(f64::total_cmp);
    told(Row {
        what: "two cores against one, the van's manoeuvres and random drives".into(),
        figure: ratios[REPEATS / 2],
        unit: "x",
        must: 1.85,
        aim: 1.95,
        better: Better::High,
        note: format!("median of {REPEATS} alternating pairs, {:.2} to {:.2}", ratios[0], ratios[REPEATS - 1]),
    });
}
