//! Reads a vehicle, from its own file or from the spec's `[vehicle]`, and fills in by class what it doesn't state.

use super::assume::{self, Assumed, RatedPower, RatedTorque};
use super::known::Known;
use super::reader::{Table, Value};
use super::values::{known, text};
use super::vehicle::{
    CapacityPoint, Class, Converter, Engine, EntryGear, Gate, GateMeans, Gearbox, HeldTap, Protection, Shift,
    TapInShift, TorquePoint, Towing, Vehicle,
};
use crate::units::{Kg, Metre, Ms, Nm, Percent, Plain, Rpm, SquareMetre};

/// Engine speeds that any vehicle may have, r/min.
const RPM: std::ops::RangeInclusive<f64> = 100.0..=15_000.0;

/// Reads a vehicle.
pub fn vehicle(t: &Table<'_>) -> Option<Vehicle> {
    let name = t.text("name", true);
    let classes =
        [("light-petrol", Class::LightPetrol), ("diesel-van", Class::DieselVan), ("heavy-diesel", Class::HeavyDiesel)];
    let class = t.pick("class", &classes, None);
    // Without a class the rest is read all the same, for its errors.
    let assumed = Assumed::of(class.unwrap_or(Class::DieselVan));
    let mass = t.known("mass", 200.0..=60_000.0);
    let drag_area = t.known_may("drag-area", 0.1..=15.0).unwrap_or(assumed.drag_area());
    let rolling_resistance = t.known_may("rolling-resistance", 0.001..=0.1).unwrap_or(assumed.rolling_resistance());
    let wheel_radius = wheel_radius(t);
    let wheel_inertia = t.known_may("wheel-inertia", 0.1..=500.0).unwrap_or(assumed.wheel_inertia());
    let driven_share = t.known_may("driven-share", 10.0..=100.0).unwrap_or(assumed.driven_share());
    let engine_read = t.table("engine").and_then(|e| {
        let engine = engine(&e, &assumed);
        e.done();
        engine
    });
    let greatest_nm =
        engine_read.as_ref().map_or(300.0, |e| e.full_load.iter().map(|p| p.torque.0).fold(0.0, f64::max));
    let c = t.table_or_empty("converter");
    let converter = converter(&c, &assumed, greatest_nm);
    c.done();
    let gearbox_read = t.table("gearbox").and_then(|g| {
        let gearbox = gearbox(&g, &assumed);
        g.done();
        gearbox
    });
    let towing = t.find("towing", "table", false).and_then(|value| t.inner("towing", value)).and_then(|g| {
        let towing = towing(&g, mass.map(|mass| mass.get()), drag_area.get());
        g.done();
        towing
    });
    Some(Vehicle {
        name: name?.to_owned(),
        class: class?,
        mass: mass?,
        drag_area,
        rolling_resistance,
        wheel_radius: wheel_radius?,
        wheel_inertia,
        driven_share,
        engine: engine_read?,
        converter: converter?,
        gearbox: gearbox_read?,
        towing,
    })
}

/// A trailer makes it heavier, and takes nothing off its drag area.
fn towing(t: &Table<'_>, mass_kg: Option<f64>, drag_area_m2: f64) -> Option<Towing> {
    let mass = t.known::<Kg>("mass", 200.0..=100_000.0);
    let drag_area = t.known::<SquareMetre>("drag-area", 0.1..=20.0);
    if let (Some(both), Some(alone)) = (mass, mass_kg)
        && both.get() <= alone
    {
        t.fail(
            "mass",
            &format!("`mass` ({}) is that of vehicle and trailer together: more than {alone} kg", both.value),
        );
    }
    if drag_area.is_some_and(|both| both.get() < drag_area_m2) {
        t.fail("drag-area", &format!("`drag-area` is that of vehicle and trailer together: {drag_area_m2} m2 or more"));
    }
    Some(Towing { mass: mass?, drag_area: drag_area? })
}

fn wheel_radius(t: &Table<'_>) -> Option<Known<Metre>> {
    let radius = t.known_may("wheel-radius", assume::RADIUS_M);
    let tyre = t.find("tyre", "string", false);
    match (t.has("wheel-radius"), tyre) {
        (true, None) => radius,
        (true, Some(_)) => {
            t.fail("tyre", "`wheel-radius` and `tyre` are both given: the radius follows from the tyre, leave one out");
            None
        }
        (false, None) => {
            t.fail(
                "",
                "neither `wheel-radius` nor `tyre` is given: write wheel-radius = \"0.345 m\" or tyre = \"235/65 R16\"",
            );
            None
        }
        (false, Some(value)) => {
            let size = text(t.doc, "tyre", value)?;
            assume::tyre_radius(size).map_err(|message| t.fail("tyre", &message)).ok()
        }
    }
}

fn engine(t: &Table<'_>, assumed: &Assumed) -> Option<Engine> {
    let idle = t.known::<Rpm>("idle", 300.0..=2_000.0);
    let redline = t.known::<Rpm>("redline", 1_000.0..=15_000.0);
    if let (Some(idle), Some(redline)) = (idle, redline)
        && redline.get() < idle.get() + 500.0
    {
        t.fail(
            "redline",
            &format!("`redline` ({}) must be at least 500 rpm above `idle` ({})", redline.value, idle.value),
        );
    }
    let stated = full_load(t, idle, redline);
    let rated = rated(t);
    let known_curve = t.known_may::<Percent>("full-load-known", 100.0..=100.0);
    let (curve, origin) = match (t.has("full-load"), rated) {
        (true, None) => (stated, Known::stated(100.0)),
        (true, Some(_)) => {
            t.fail(
                "full-load",
                "`full-load` is given, so `rated-power` and `rated-torque` say nothing more: leave them out",
            );
            (None, Known::stated(100.0))
        }
        (false, Some((Some(power), Some(torque)))) => {
            let curve = idle.zip(redline).and_then(|(idle, redline)| {
                let curve = assumed.curve(idle.get(), redline.get(), power, torque);
                curve.map_err(|message| t.fail("rated-power", &message)).ok()
            });
            (curve, Known::assumed(100.0, assume::CURVE_SPREAD_PCT))
        }
        (false, Some(_)) => (None, Known::stated(100.0)),
        (false, None) => {
            t.fail("", "no torque: give `full-load`, or `rated-power` and `rated-torque`");
            (None, Known::stated(100.0))
        }
    };
    let drag = t.known_may("drag", 0.0..=2_000.0).unwrap_or(assumed.engine_drag());
    let drag_per_1000rpm = t.known_may("drag-per-1000rpm", 0.0..=1_000.0).unwrap_or(assumed.engine_drag_per_1000rpm());
    let inertia = t.known_may("inertia", 0.01..=20.0).unwrap_or(assumed.engine_inertia());
    let pedal_law = t.known_may("pedal-law", 0.1..=2.0).unwrap_or(assumed.pedal_law());
    let lag_up = t.known_may("lag-up", 1.0..=5_000.0).unwrap_or(assumed.lag_up());
    let lag_down = t.known_may("lag-down", 1.0..=5_000.0).unwrap_or(assumed.lag_down());
    Some(Engine {
        idle: idle?,
        redline: redline?,
        full_load: curve?,
        full_load_known: known_curve.unwrap_or(origin),
        drag,
        drag_per_1000rpm,
        inertia,
        pedal_law,
        lag_up,
        lag_down,
    })
}

/// The stated curve: speeds rising, idle and redline covered.
fn full_load<'d>(t: &Table<'d>, idle: Option<Known<Rpm>>, redline: Option<Known<Rpm>>) -> Option<Vec<TorquePoint>> {
    let items = t.list("full-load", "table", 64, false)?;
    let read = |value: &&'d Value<'d>| {
        let point = t.inner("full-load[]", value)?;
        let (speed, torque) = (point.must("speed", RPM), point.must("torque", 1.0..=10_000.0));
        point.done();
        Some(TorquePoint { speed: speed?, torque: torque? })
    };
    // All are read before the first wrong one ends it.
    let points: Vec<Option<TorquePoint>> = items.iter().map(read).collect();
    let points = points.into_iter().collect::<Option<Vec<_>>>()?;
    if let Some(at) = points.windows(2).position(|w| w[0].speed >= w[1].speed) {
        let span = items.get(at + 1).map_or_else(|| t.span_of("full-load"), |v| v.span());
        t.doc.fail(span, "the speeds of `full-load` must rise");
        return None;
    }
    let (first, last) = (points.first()?.speed, points.last()?.speed);
    if first > idle?.value || last < redline?.value {
        let (idle, redline) = (idle?.value, redline?.value);
        t.fail(
            "full-load",
            &format!("`full-load` covers {first} to {last}: it must cover idle ({idle}) to redline ({redline})"),
        );
        return None;
    }
    Some(points)
}

/// The rated numbers; `None` where neither is given.
fn rated(t: &Table<'_>) -> Option<(Option<RatedPower>, Option<RatedTorque>)> {
    let power = t.find("rated-power", "table", false);
    let torque = t.find("rated-torque", "table", false);
    if power.is_none() && torque.is_none() {
        return None;
    }
    for (key, value) in [("rated-power", power), ("rated-torque", torque)] {
        if value.is_none() {
            t.fail("", &format!("`{key}` is missing: a curve is assumed from rated power and rated torque together"));
        }
    }
    let power = power.and_then(|value| t.inner("rated-power", value)).and_then(|p| {
        let (power, speed) = (p.must("power", 5.0..=2_000.0), p.must("speed", RPM));
        p.done();
        Some(RatedPower { power: power?, speed: speed? })
    });
    let torque = torque.and_then(|value| t.inner("rated-torque", value)).and_then(|p| {
        let (torque, speed) = (p.must::<Nm>("torque", 10.0..=10_000.0), p.must("speed", RPM));
        p.done();
        Some(RatedTorque { torque: torque?, speed: speed? })
    });
    Some((power, torque))
}

fn converter(t: &Table<'_>, assumed: &Assumed, greatest_nm: f64) -> Option<Converter> {
    let stated = capacity(t);
    let capacity_known = t.known_may::<Percent>("capacity-known", 100.0..=100.0);
    let stall_torque_ratio = t.known_may("stall-torque-ratio", 1.0..=4.0).unwrap_or(Known::assumed(1.9, 10.0));
    let coupling_point = t.known_may("coupling-point", 0.5..=0.97).unwrap_or(Known::assumed(0.86, 3.0));
    let lockup_from_gear = t.byte("lockup-from-gear", 1..=11, Some(3));
    let lockup_above = t.known_may("lockup-above", RPM).unwrap_or(assumed.lockup_above());
    let lockup_time = t.known_may("lockup-time", 1.0..=5_000.0).unwrap_or(Known::assumed(150.0, 50.0));
    let (capacity, origin) = if t.has("capacity") {
        (stated?, Known::stated(100.0))
    } else {
        (assumed.capacity(greatest_nm), Known::assumed(100.0, assume::CAPACITY_SPREAD_PCT))
    };
    Some(Converter {
        capacity,
        capacity_known: capacity_known.unwrap_or(origin),
        stall_torque_ratio,
        coupling_point,
        lockup_from_gear: lockup_from_gear?,
        lockup_above,
        lockup_time,
    })
}

fn capacity<'d>(t: &Table<'d>) -> Option<Vec<CapacityPoint>> {
    let read = |value: &'d Value<'d>| {
        let point = t.inner("capacity[]", value)?;
        let (speed_ratio, k) = (point.must("speed-ratio", 0.0..=0.98), point.must("k", 1.0..=10_000.0));
        point.done();
        Some(CapacityPoint { speed_ratio: speed_ratio?, k: k? })
    };
    let points: Vec<Option<CapacityPoint>> = t.list("capacity", "table", 64, false)?.into_iter().map(read).collect();
    let points = points.into_iter().collect::<Option<Vec<_>>>()?;
    let rises = points.windows(2).all(|w| w[0].speed_ratio < w[1].speed_ratio && w[0].k <= w[1].k);
    let ends =
        points.first().map(|p| p.speed_ratio.0) == Some(0.0) && points.last().map(|p| p.speed_ratio.0) == Some(0.98);
    if !(rises && ends) {
        t.fail("capacity", "`capacity` must go from speed-ratio 0 to 0.98, speed ratios rising and k never falling");
        return None;
    }
    Some(points)
}

fn gearbox(t: &Table<'_>, assumed: &Assumed) -> Option<Gearbox> {
    let ratios = ratios(t);
    let final_drive = t.known("final-drive", 1.0..=15.0);
    let low_range = t.known_may("low-range", 1.05..=10.0);
    let efficiency = t.known_may("efficiency", 50.0..=100.0).unwrap_or(assumed.efficiency());
    let s = t.table_or_empty("shift");
    let shift = Shift {
        recognition: s.known_may("recognition", 0.0..=2_000.0).unwrap_or(Known::assumed(100.0, 50.0)),
        fill: s.known_may("fill", 0.0..=3_000.0).unwrap_or(Known::assumed(200.0, 50.0)),
        ratio_change: s.known_may("ratio-change", 10.0..=5_000.0).unwrap_or(Known::assumed(400.0, 25.0)),
        torque_up: s.known_may("torque-up", 0.0..=100.0).unwrap_or(Known::assumed(75.0, 20.0)),
        torque_down: s.known_may("torque-down", 0.0..=100.0).unwrap_or(Known::assumed(50.0, 30.0)),
    };
    s.done();
    let gears = ratios.as_ref().map_or(10, Vec::len);
    let gate = t.table("gate").and_then(|g| {
        let gate = gate(&g, gears);
        g.done();
        gate
    });
    let p = t.table_or_empty("protection");
    let protection = Protection {
        refuse_down_above: p.may("refuse-down-above", RPM),
        refuse_up_below: p.may("refuse-up-below", RPM),
        down_below: p.may("down-below", RPM),
        launch_gear: p.byte("launch-gear", 1..=2, Some(1)).unwrap_or(1),
        up_at_redline: p.flag("up-at-redline", false),
        blind_in_wheel_lock: p.flag("blind-in-wheel-lock", false),
    };
    p.done();
    Some(Gearbox { ratios: ratios?, final_drive: final_drive?, low_range, efficiency, shift, gate: gate?, protection })
}

fn ratios(t: &Table<'_>) -> Option<Vec<Known<Plain>>> {
    let items = t.list("ratios", "KnownPlain", 10, true)?;
    if items.len() < 4 {
        t.fail("ratios", &format!("`ratios` has {} entries: four to ten forward gears are known here", items.len()));
        return None;
    }
    let read: Vec<Option<Known<Plain>>> = items.iter().map(|v| known(t.doc, "ratios", v, 0.2..=20.0)).collect();
    let ratios = read.into_iter().collect::<Option<Vec<_>>>()?;
    if let Some(at) = ratios.windows(2).position(|w| w[0].get() <= w[1].get()) {
        let span = items.get(at + 1).map_or_else(|| t.span_of("ratios"), |v| v.span());
        t.doc.fail(span, "the ratios must fall from gear to gear, first gear first");
        return None;
    }
    Some(ratios)
}

fn gate(t: &Table<'_>, gears: usize) -> Option<Gate> {
    let top = i64::try_from(gears).unwrap_or(10);
    let means = t.pick("means", &[("held-gear", GateMeans::HeldGear), ("range-limit", GateMeans::RangeLimit)], None);
    let entries = [("current", EntryGear::Current), ("one-below", EntryGear::OneBelow)];
    let entry =
        t.pick_or("entry", &entries, &["fixed"], None, |e| e.byte("fixed", 1..=top, None).map(EntryGear::Fixed));
    let least_tap = t.or("least-tap", 1.0..=1_000.0, Ms::new(40.0));
    let in_shift =
        [("dropped", TapInShift::Dropped), ("one-kept", TapInShift::OneKept), ("queued", TapInShift::Queued)];
    let tap_in_shift = t.pick("tap-in-shift", &in_shift, Some(TapInShift::Dropped));
    let held_tap =
        t.pick_or("held-tap", &[("one-step", HeldTap::OneStep)], &["repeats"], Some(HeldTap::OneStep), |h| {
            h.integer("repeats", 50..=10_000, None).and_then(|ms| u16::try_from(ms).ok()).map(HeldTap::Repeats)
        });
    Some(Gate { means: means?, entry: entry?, least_tap, tap_in_shift: tap_in_shift?, held_tap: held_tap? })
}
