//! `sprag check`: reads a spec, says what was understood, and checks its map on paper.

use super::engine;
use super::exit::Ended;
use super::exit::Failure;
use super::on_paper;
use super::out;
use crate::desk;
use crate::evidence::WIDTH;
use crate::evidence::line;
use crate::evidence::wrap;
use crate::outcome::Exit;
use crate::spec::Spec;
use crate::spec::facts::AfterEdge;
use crate::spec::facts::Answers;
use crate::spec::facts::BoxFacts;
use crate::spec::facts::CeilingBinds;
use crate::spec::facts::OnCause;
use crate::spec::facts::OutOfFirst;
use crate::spec::facts::ReArm;
use crate::spec::facts::TakeOver;
use crate::spec::facts::TapWiring;
use crate::spec::pedal::PedalIdentifier;
use crate::spec::vehicle::EntryGear;
use crate::spec::vehicle::GateMeans;
use std::path::PathBuf;

/// Arguments.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The spec file; specs/README.md lists its keys
    spec: PathBuf,
    /// Draw the map with its trouble spots into this file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Write the map with all its failures cured into this file, in the layout it came in
    ///
    /// Only the speeds that needed a cure change; warnings are left as they are. Where the map stands within the spec,
    /// the whole spec is written.
    #[arg(long, value_name = "FILE")]
    write_map: Option<PathBuf>,
    /// Leave out what was understood of the spec
    #[arg(long)]
    quiet: bool,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Ended, Failure> {
    let (spec, written) = engine::load_written(&args.spec)?;
    let found = desk::check(&spec, Some(&written));
    let mut text = if args.quiet { String::new() } else { understood(&spec) + "\n" };
    let cured = (found.fails() || args.write_map.is_some()).then(|| desk::cure(&spec, Some(&written)));
    text.push_str(&on_paper::screen(&found, &spec.map.pedal, cured.as_ref()));
    if let Some(file) = &args.svg {
        out::write(file, &desk::svg(&spec, &found))?;
        text.push_str(&format!("Picture: {}\n", file.display()));
    }
    if let (Some(file), Some(cured)) = (&args.write_map, &cured) {
        text.push_str(&on_paper::write_map(&args.spec, &written, cured, file)?);
    }
    out::print(&text)?;
    Ok(if found.fails() { Exit::Usage } else { Exit::Kept }.into())
}

/// Below so many updates readings of a steady drive on a live link may stand still by chance (invented).
const STILL_UPDATES: f64 = 10.0;

/// What is allowed and yet worth a second look.
fn caution(spec: &Spec) -> Option<String> {
    let (stuck, period) = (spec.limits.stuck_noticed, spec.link.period);
    (spec.facts.notices_stuck && stuck.get() < STILL_UPDATES * period.get()).then(|| {
        format!(
            "stuck-noticed is {stuck}, less than {STILL_UPDATES:.0} updates of the link ({period} each): readings that \
             rightly stand still in steady driving may be taken for stuck"
        )
    })
}

/// The screen.
fn understood(spec: &Spec) -> String {
    let mut text = format!("Spec {} is read without an error.\n\n", line(&spec.name));
    let told = [
        ("box", the_box(&spec.facts)),
        ("limits", limits(spec)),
        ("vehicle", vehicle(spec)),
        ("gears", gears(spec)),
        ("gate", gate(spec)),
        ("map", map(spec)),
        ("link", link(spec)),
        ("runs", runs(spec)),
    ];
    for (name, value) in told.into_iter().chain(caution(spec).map(|caution| ("caution", caution))) {
        for (at, part) in wrap(&line(&value), 0, WIDTH - 10).into_iter().enumerate() {
            text.push_str(&format!("{:<10}{part}\n", if at == 0 { name } else { "" }));
        }
    }
    text
}

fn the_box(facts: &BoxFacts) -> String {
    let also: Vec<&str> = [
        (facts.signals.engine_speed, "engine speed"),
        (facts.signals.gear, "the gear signal"),
        (facts.signals.range, "the range (wired)"),
    ]
    .into_iter()
    .filter_map(|(offered, name)| offered.then_some(name))
    .collect();
    let also = if also.is_empty() { "only".to_owned() } else { format!("and {}", also.join(", ")) };
    let takes_over = match facts.take_over {
        TakeOver::Lever => "takes over by the lever into the gate",
        TakeOver::Button if facts.re_arm == ReArm::BackInGate => {
            "takes over by its button, and again by the lever back in the gate"
        }
        TakeOver::Button => "takes over by its button",
    };
    let after = match facts.after_edge {
        AfterEdge::AnyTime => "at any time after it".to_owned(),
        AfterEdge::WithinMs(ms) => format!("within {ms} ms"),
    };
    let cause = |what: &str, does: OnCause| match does {
        OnCause::Disengages => format!("{what} disengages it"),
        OnCause::PausesMs(ms) => format!("{what} pauses it for {ms} ms"),
    };
    let wiring = match facts.tap_wiring {
        TapWiring::Separate => "taps are wired separately",
        TapWiring::Shared => "taps are wired in parallel with its contacts",
    };
    let out_of_first = match facts.out_of_first {
        OutOfFirst::ByItself => "out of first the gearbox goes by itself",
        OutOfFirst::Commanded => "out of first it commands too",
    };
    let answers = match &facts.answers {
        Answers::Contacts => "it answers with contacts".to_owned(),
        Answers::Requests { width, gap } => format!("it answers with requests (pulse {width}, gap {gap})"),
    };
    format!(
        "{}: reads speed and pedal {also}; {takes_over}, {after}; {}; {}; {wiring}; {answers}, each {}; {}; lowest gear {}, {out_of_first}.",
        facts.name,
        cause("the driver's tap", facts.driver_tap),
        cause("lost data", facts.lost_data),
        facts.tick,
        if facts.announces { "it announces engaging and disengaging" } else { "it announces nothing" },
        facts.lowest_gear
    )
}

fn limits(spec: &Spec) -> String {
    let binds = match spec.facts.ceiling_binds {
        CeilingBinds::Every => "every engagement",
        CeilingBinds::First => "the first engagement since power-up",
    };
    let limits = &spec.limits;
    format!(
        "engagement speed ceiling {} for {binds}; rpm floor after an upshift {}; redline guard {}; data are lost after {}.",
        limits.engagement_speed_ceiling, limits.rpm_floor, limits.redline_guard, limits.data_lost
    )
}

fn vehicle(spec: &Spec) -> String {
    let vehicle = &spec.vehicle;
    format!(
        "{}: {}, redline {}, rolling radius {:.3}.",
        vehicle.name, vehicle.mass.value, vehicle.engine.redline.value, vehicle.wheel_radius.value
    )
}

fn gears(spec: &Spec) -> String {
    let each: Vec<String> = (1..=spec.gears()).map(|g| format!("{g}: {:.2}", spec.rpm_per_kmh(g))).collect();
    format!("engine speed per road speed with nothing slipping, rpm per km/h: {}.", each.join(", "))
}

fn gate(spec: &Spec) -> String {
    let gate = &spec.vehicle.gearbox.gate;
    let means = match gate.means {
        GateMeans::HeldGear => "holds a gear",
        GateMeans::RangeLimit => "sets the highest gear allowed",
    };
    let entry = match gate.entry {
        EntryGear::Current => "the gear of that moment".to_owned(),
        EntryGear::OneBelow => "the gear below".to_owned(),
        EntryGear::Fixed(gear) => format!("gear {gear}, or the lowest above it that the redline allows"),
    };
    format!("{means}; on entry {entry}; a tap takes {} at least.", gate.least_tap)
}

fn map(spec: &Spec) -> String {
    let (up, down): (Vec<_>, Vec<_>) = spec.map.lines.iter().partition(|l| l.to > l.from);
    format!(
        "{} up lines, {} down lines, {} pedal positions, top gear {}.",
        up.len(),
        down.len(),
        spec.map.pedal.len(),
        spec.map.top_gear()
    )
}

fn link(spec: &Spec) -> String {
    let link = &spec.link;
    let pedal = match link.pedal_identifier {
        PedalIdentifier::D => "position D",
        PedalIdentifier::E => "position E",
        PedalIdentifier::Relative => "relative position",
    };
    let stops = link.pedal_stops;
    format!(
        "all signals each {}, answers within {} to {}; pedal {pedal} ({:02X}), released {}/255, floored {}/255.",
        link.period,
        link.answer_least,
        link.answer_most,
        link.pedal_identifier.code(),
        stops.released,
        stops.floored
    )
}

fn runs(spec: &Spec) -> String {
    let each: Vec<String> = spec
        .runs
        .iter()
        .map(|(name, run)| {
            format!("{name} ({} random drives of {}, seed {})", run.random_drives, run.drive_length, run.seed)
        })
        .collect();
    if each.is_empty() { "none".to_owned() } else { each.join(", ") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Ms;

    /// The van's link brings an update each 100 ms.
    #[test]
    fn stuck_after_fewer_than_ten_updates_calls_for_caution() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("specs/van.toml");
        let mut spec = crate::spec::load(&path).unwrap();
        for (declared, ms, cautioned) in [(true, 990.0, true), (true, 1000.0, false), (false, 990.0, false)] {
            (spec.facts.notices_stuck, spec.limits.stuck_noticed) = (declared, Ms::new(ms));
            assert_eq!(caution(&spec).is_some(), cautioned, "{declared} {ms}");
            assert_eq!(understood(&spec).contains("caution   stuck-noticed is"), cautioned);
        }
    }
}
