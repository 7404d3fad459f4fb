//! `sprag selftest`: is this tool right? Each seeded fault must be caught by its named rule.

use super::clock;
use super::exit::Ended;
use super::exit::Failure;
use super::out;
use crate::outcome::Exit;
use crate::selftest;
use crate::selftest::Caught;
use std::num::NonZeroUsize;
use std::path::PathBuf;

/// Arguments.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Worker threads; the outcome is the same for any number [default: all]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
    /// Folder for the minimal drive of each fault
    #[arg(long, value_name = "FOLDER")]
    drives: Option<PathBuf>,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Ended, Failure> {
    let spec = selftest::demo_spec().map_err(|e| Failure::new(Exit::OurBug, e.to_string()))?;
    let jobs = args.jobs.map_or_else(clock::threads, NonZeroUsize::get);
    let told = |caught: &Caught| out::complain(&format!("{}: {}", caught.card.name, caught.card.rule));
    let all = selftest::run(&spec, jobs, &told).map_err(|e| Failure::new(Exit::NotStarted, e.to_string()))?;
    if let Some(folder) = &args.drives {
        std::fs::create_dir_all(folder)
            .and_then(|()| {
                all.iter()
                    .filter(|c| !c.file.is_empty())
                    .try_for_each(|c| std::fs::write(folder.join(format!("{}.toml", c.card.name)), &c.file))
            })
            .map_err(|e| Failure::new(Exit::NotWritten, format!("{}: {e}", folder.display())))?;
    }
    let missed = all.iter().filter(|c| !c.right()).count();
    out::print(&table(&all))?;
    let says = if missed == 0 {
        format!("All {} seeded faults are caught by their named rules.\n", all.len())
    } else {
        format!(
            "{missed} of {} seeded faults are NOT caught by their named rules: this tool is not right.\n",
            all.len()
        )
    };
    out::print(&says)?;
    Ok(if missed == 0 { Exit::Kept } else { Exit::OurBug }.into())
}

fn table(all: &[Caught]) -> String {
    let mut text = format!(
        "{:<26} {:<30} {:>7} {:>9} {:>7} {:>7} {:>8}\n",
        "fault", "caught by", "drives", "simulated", "steps", "events", "equal on"
    );
    for c in all {
        let caught = if c.right() { c.card.rule } else { "NOT CAUGHT" };
        let drives = c.drives.map_or("-".into(), |n| n.to_string());
        let size = c.moment.as_ref().map_or((0, 0), |m| (m.size.0, m.size.1));
        text.push_str(&format!(
            "{:<26} {:<30} {:>7} {:>7} s {:>7} {:>7} {:>4}/{:<3}\n",
            c.card.name,
            caught,
            drives,
            c.simulated_ms / 1000,
            size.0,
            size.1,
            c.equal,
            c.plain
        ));
    }
    text.push_str("drives, simulated: until the first catch; steps, events: of the minimal drive; equal on: plain drives on\nwhich the fault puts out the same as the reference, tick for tick; 'map as specified': ramps on the rolling road\n");
    text
}
