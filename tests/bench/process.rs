//! Programs over the line protocol: what the harness adds to two processes that take turns, and where they run.
//!
//! Where a figure needs a given core, this program starts itself again under `taskset` to measure one part.

use crate::row::{Better, Row};
use sprag::campaign::Stop;
use sprag::campaign::plan::{Asked, Plan};
use sprag::campaign::sweep::sweep;
use sprag::closed_loop::ClosedLoop;
use sprag::controller::Source;
use sprag::controller::process::Program;
use sprag::drive::Drive;
use sprag::spec::Spec;
use sprag::vehicle::STEP_MS;
use std::io::{Read, Write};
use std::process::{Command, Stdio};
use std::sync::atomic::AtomicBool;
use std::time::Instant;

const REPEATS: usize = 5;
/// Random drives in one measurement of the closed loop.
const LOOPS: u32 = 30;
/// Random drives of a sweep: more than one batch.
const SWEPT: u32 = 128;
/// Lines there and back in one measurement of the bare pipes.
const TURNS: u32 = 200_000;
/// About a tick's line.
const LINE_BYTES: usize = 100;
/// The box, as it is built for this.
const BOX: &str = "target/cautious-for-bench";

pub fn measure(told: &mut dyn FnMut(Row)) {
    let built = Command::new("cc").args(["-O2", "-o", BOX, "tests/controllers/cautious.c"]).status();
    let placed = Command::new("taskset").args(["-c", "0", "true"]).status();
    if ![built, placed].iter().all(|status| status.as_ref().is_ok_and(|status| status.success())) {
        eprintln!(
            "group process: it takes \"cc\", \"taskset\" and core 0, and the project's folder to run in; left out"
        );
        return;
    }
    let spec = sprag::selftest::demo_spec().unwrap_or_else(|errors| panic!("{errors}"));
    let (mut shares, mut places, mut ratios) = (Vec::new(), Vec::new(), Vec::new());
    swept_per_s(&spec, 2);
    for _ in 0..REPEATS {
        let (free, kept, turns) = (part("loops", false), part("loops", true), part("turns", true));
        shares.push(100.0 * kept / turns);
        places.push(100.0 * free / kept);
        ratios.push(swept_per_s(&spec, 2) / swept_per_s(&spec, 1));
    }
    let mut row = |what: &str, mut figures: Vec<f64>, unit: &'static str, must: f64, aim: f64| {
        figures.sort_by(f64::total_cmp);
        let (least, most) = (figures[0], figures[REPEATS - 1]);
        let note = format!("cautious.c; median of {REPEATS} alternating, {least:.2} to {most:.2}");
        told(Row { what: what.into(), figure: figures[REPEATS / 2], unit, must, aim, better: Better::High, note });
    };
    row("ticks of a program in closed loop against bare turns of 100-byte lines, on one core", shares, "%", 55.0, 62.0);
    row("ticks of a program where the harness places it, against all kept on one core", places, "%", 90.0, 97.0);
    row("two cores against one, with a program", ratios, "x", 1.85, 1.95);
}

/// What the first argument `process:PART` asks for, where it does.
pub fn asked_for_part() -> bool {
    let Some(part) = std::env::args().nth(1) else { return false };
    match part.as_str() {
        "process:echo" => echo(),
        "process:turns" => println!("{}", turns_per_s()),
        "process:loops" => println!("{}", loops_per_s()),
        _ => return false,
    }
    true
}

/// Measures a part in a process of its own, kept on the first core or not.
fn part(name: &str, kept: bool) -> f64 {
    let this = std::env::current_exe().expect("it runs");
    let mut command = Command::new(if kept { "taskset".as_ref() } else { this.as_os_str() });
    if kept {
        command.args(["-c", "0"]).arg(&this);
    }
    let output = command.arg(format!("process:{name}")).stderr(Stdio::inherit()).output().expect("it starts");
    String::from_utf8_lossy(&output.stdout).trim().parse().expect("a part prints its figure")
}

fn program() -> Program {
    Program::named(BOX).expect("its command can be read")
}

fn plan(spec: &Spec, random: u32) -> Plan<'_> {
    let only = ["ignition-on".to_owned()];
    let asked = Asked { only: &only, random: Some(random), ..Asked::default() };
    Plan::new(spec, &spec.runs["commit"], Vec::new(), &asked).expect("the run is the spec's")
}

/// Ticks a second in closed loop, unjudged.
fn loops_per_s() -> f64 {
    let spec = sprag::selftest::demo_spec().unwrap_or_else(|errors| panic!("{errors}"));
    let plan = plan(&spec, LOOPS);
    let drives: Vec<Drive> = (0..plan.len()).map(|index| plan.drive(index)).collect();
    let mut port = program().start(&spec).expect("it starts");
    let mut looped = ClosedLoop::new(&spec, STEP_MS);
    let began = Instant::now();
    let ticks: usize = drives.iter().map(|drive| looped.run(drive, port.as_mut()).rows.len()).sum();
    ticks as f64 / began.elapsed().as_secs_f64()
}

/// Drives a second of a sweep with all that belongs to it.
fn swept_per_s(spec: &Spec, jobs: usize) -> f64 {
    let plan = plan(spec, SWEPT);
    let never = AtomicBool::new(false);
    let began = Instant::now();
    let driven = sweep(spec, &program(), &plan, jobs, &Stop(&never), &mut |_| {}).expect("it starts");
    driven.len() as f64 / began.elapsed().as_secs_f64()
}

/// Lines there and back a second over bare pipes.
fn turns_per_s() -> f64 {
    let this = std::env::current_exe().expect("it runs");
    let mut other =
        Command::new(this).arg("process:echo").stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().expect("it starts");
    let (mut to, mut from) = (other.stdin.take().expect("piped"), other.stdout.take().expect("piped"));
    let mut line = [b'x'; LINE_BYTES];
    let began = Instant::now();
    for _ in 0..TURNS {
        to.write_all(&line).expect("it listens");
        from.read_exact(&mut line).expect("it answers");
    }
    let turns = f64::from(TURNS) / began.elapsed().as_secs_f64();
    drop(to);
    other.wait().expect("it ends");
    turns
}

/// The other end of the bare pipes.
fn echo() {
    use std::os::fd::AsFd;
    // Past the standard library's buffer, which would look for line ends.
    let ends = (std::io::stdin().as_fd().try_clone_to_owned(), std::io::stdout().as_fd().try_clone_to_owned());
    let (Ok(from), Ok(to)) = ends else { return };
    let (mut from, mut to) = (std::fs::File::from(from), std::fs::File::from(to));
    let mut line = [0; LINE_BYTES];
    while from.read_exact(&mut line).is_ok() && to.write_all(&line).is_ok() {}
}
