//! Programs over the line protocol: what the harness adds to two processes that take turns, and where they run.
//!
//! Where a figure needs a given core, this program starts itself again under `taskset` to measure one part.

mod served;

use crate::row::{Better, Row};
use sprag::campaign::Stop;
use sprag::campaign::plan::{Asked, Plan};
use sprag::campaign::rig::Rig;
use sprag::campaign::sweep::sweep;
use sprag::closed_loop::ClosedLoop;
use sprag::controller::Source;
use sprag::controller::process::Program;
use sprag::spec::Spec;
use sprag::vehicle::STEP_MS;
use std::cell::Cell;
use std::fmt;
use std::io::{Read, Write};
use std::process::{Command, Stdio};
use std::sync::atomic::AtomicBool;
use std::task::{Context, Waker};
use std::time::Instant;

const REPEATS: usize = 5;
/// Random drives in one measurement of the closed loop.
const LOOPS: u32 = 30;
/// Random drives of a sweep: more than one batch.
const SWEPT: u32 = 128;
/// Random drives in one measurement of judged ones: three for each of many instances.
const JUDGED: u32 = 192;
/// Instances.
const MANY: usize = 64;
/// Lines there and back in one measurement of the bare pipes.
const TURNS: usize = 300_000;
/// About a tick's line.
const LINE_BYTES: usize = 100;

pub fn measure(told: &mut dyn FnMut(Row)) {
    let placed = Command::new("taskset").args(["-c", "0", "true"]).status();
    if !placed.is_ok_and(|status| status.success()) {
        eprintln!("group process: it takes \"taskset\" and core 0; left out");
        return;
    }
    let spec = demo_spec();
    let [mut shares, mut places, mut crowds, mut ratios] = [const { Vec::new() }; 4];
    swept_per_s(&spec, 2);
    for _ in 0..REPEATS {
        let parts = [("loops", true), ("loops", false), ("turns", true), ("one", true), ("many", true)];
        let [kept, free, turns, one, many] = parts.map(|(name, kept)| part(name, kept));
        shares.push(100.0 * kept.per_cpu_s / turns.per_cpu_s);
        places.push(100.0 * free.per_s / kept.per_s);
        crowds.push(many.per_cpu_s / one.per_cpu_s);
        ratios.push(swept_per_s(&spec, 2) / swept_per_s(&spec, 1));
    }
    let mut row = |what: &str, mut figures: Vec<f64>, unit: &'static str, must: f64, aim: f64| {
        figures.sort_by(f64::total_cmp);
        let (least, most) = (figures[0], figures[REPEATS - 1]);
        let note = format!("the reference as a program; median of {REPEATS} alternating, {least:.2} to {most:.2}");
        told(Row { what: what.into(), figure: figures[REPEATS / 2], unit, must, aim, better: Better::High, note });
    };
    let what = "ticks of a program in closed loop against bare turns of 100-byte lines, on one core, by CPU time";
    row(what, shares, "%", 55.0, 62.0);
    row("ticks of a program where the harness places it, against all kept on one core", places, "%", 90.0, 97.0);
    row("64 instances of a program against one, judged, on one core, by CPU time", crowds, "x", 2.4, 2.7);
    row("two cores against one, with a program of one instance", ratios, "x", 1.85, 1.95);
}

/// What the first argument `process:PART` asks for, where it does.
pub fn asked_for_part() -> bool {
    let Some(part) = std::env::args().nth(1) else { return false };
    match part.as_str() {
        "process:echo" => echo(),
        "process:one-box" => served::serve(1),
        "process:boxes" => served::serve(MANY as u32),
        "process:turns" => println!("{}", Pace::of(turns)),
        "process:loops" => println!("{}", Pace::of(loops)),
        "process:one" => println!("{}", Pace::of(|| judged("one-box"))),
        "process:many" => println!("{}", Pace::of(|| judged("boxes"))),
        _ => return false,
    }
    true
}

/// How much was done in a second, and in one of CPU time of this process and those it started.
struct Pace {
    per_s: f64,
    per_cpu_s: f64,
}

impl Pace {
    fn of(act: impl FnOnce() -> usize) -> Self {
        let (began, cpu_s) = (Instant::now(), cpu_s());
        let done = act() as f64;
        Self { per_s: done / began.elapsed().as_secs_f64(), per_cpu_s: done / (self::cpu_s() - cpu_s) }
    }
}

impl fmt::Display for Pace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.per_s, self.per_cpu_s)
    }
}

/// CPU time of this process and of those it started that have ended, s.
fn cpu_s() -> f64 {
    // Linux, proc_pid_stat(5): user and system time, its own and its children's, are fields 14 to 17, in 1/100 s.
    let stat = std::fs::read_to_string("/proc/self/stat").expect("this is Linux");
    let after_name = stat.rsplit(')').next().unwrap_or_default();
    after_name.split_whitespace().skip(11).take(4).map(|ticks| ticks.parse::<f64>().expect("a number")).sum::<f64>()
        / 100.0
}

fn demo_spec() -> Spec {
    sprag::selftest::demo_spec().unwrap_or_else(|errors| panic!("{errors}"))
}

/// Measures a part in a process of its own, kept on the first core or not.
fn part(name: &str, kept: bool) -> Pace {
    let this = std::env::current_exe().expect("it runs");
    let mut command = Command::new(if kept { "taskset".as_ref() } else { this.as_os_str() });
    if kept {
        command.args(["-c", "0"]).arg(&this);
    }
    let output = command.arg(format!("process:{name}")).stderr(Stdio::inherit()).output().expect("it starts");
    let text = String::from_utf8_lossy(&output.stdout);
    let figures: Vec<f64> = text.split_whitespace().map(|figure| figure.parse().expect("a figure")).collect();
    let [per_s, per_cpu_s] = figures[..] else { panic!("a part prints two figures, not {text}") };
    Pace { per_s, per_cpu_s }
}

/// This program as a box, one or many.
fn program(part: &str) -> Program {
    let this = std::env::current_exe().expect("it runs");
    Program::named(&format!("'{}' process:{part}", this.display())).expect("its command can be read")
}

fn plan(spec: &Spec, random: u32) -> Plan<'_> {
    let only = ["ignition-on".to_owned()];
    let asked = Asked { only: &only, random: Some(random), ..Asked::default() };
    Plan::new(spec, &spec.runs["commit"], Vec::new(), &asked).expect("the run is the spec's")
}

/// Ticks in closed loop, unjudged.
fn loops() -> usize {
    let spec = demo_spec();
    let plan = plan(&spec, LOOPS);
    let mut port = program("one-box").start(&spec).expect("it starts");
    let mut looped = ClosedLoop::new(&spec, STEP_MS);
    (0..plan.len()).map(|index| looped.run(&plan.drive(index), port.as_mut()).rows.len()).sum()
}

/// Ticks in closed loop, judged, as many drives at a time as the program offers instances.
fn judged(part: &str) -> usize {
    let spec = demo_spec();
    let plan = plan(&spec, JUDGED);
    let program = program(part);
    let mut rigs = Rig::several(&spec, &program, STEP_MS, MANY).expect("it starts");
    let (next, ticks) = (Cell::new(0), Cell::new(0));
    let drives = |rig| async {
        let rig: &mut Rig<'_> = rig;
        while let Some(index) = Some(next.get()).filter(|&index| index < plan.len()) {
            next.set(index + 1);
            rig.drive_in_turn(&plan.drive(index)).await;
            ticks.set(ticks.get() + rig.recording().rows.len());
        }
    };
    let mut under_way: Vec<_> = rigs.iter_mut().map(|rig| Box::pin(drives(rig))).collect();
    let mut context = Context::from_waker(Waker::noop());
    while !under_way.is_empty() {
        under_way.retain_mut(|lane| lane.as_mut().poll(&mut context).is_pending());
    }
    ticks.get()
}

/// Drives a second of a sweep with all that belongs to it.
fn swept_per_s(spec: &Spec, jobs: usize) -> f64 {
    let plan = plan(spec, SWEPT);
    let never = AtomicBool::new(false);
    let began = Instant::now();
    let driven = sweep(spec, &program("one-box"), &plan, jobs, &Stop(&never), &mut |_| {}).expect("it starts");
    driven.len() as f64 / began.elapsed().as_secs_f64()
}

/// Lines there and back over bare pipes.
fn turns() -> usize {
    let this = std::env::current_exe().expect("it runs");
    let mut other =
        Command::new(this).arg("process:echo").stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().expect("it starts");
    let (mut to, mut from) = (other.stdin.take().expect("piped"), other.stdout.take().expect("piped"));
    let mut line = [b'x'; LINE_BYTES];
    for _ in 0..TURNS {
        to.write_all(&line).expect("it listens");
        from.read_exact(&mut line).expect("it answers");
    }
    drop(to);
    other.wait().expect("it ends");
    TURNS
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
