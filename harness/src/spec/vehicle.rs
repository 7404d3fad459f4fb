//! The vehicle as a spec describes it, every number resolved.
//!
//! What a workshop knows is required (ratios, final drive, tyre or radius, mass, rated power and torque, idle,
//! redline); the rest is assumed by class (`assume.rs`), marked so, with a spread.

use super::known::Known;
use crate::units::{Kg, KgM2, Metre, Ms, Nm, Percent, Plain, Rpm, SquareMetre};
use schemars::JsonSchema;
use serde::Serialize;

/// What kind of vehicle, for the numbers that nobody states.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// Light petrol passenger car.
    LightPetrol,
    /// Diesel van or large car.
    DieselVan,
    /// Heavy diesel truck or motor home.
    HeavyDiesel,
}

/// A vehicle.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Vehicle {
    /// Its name.
    pub name: String,
    /// Its class.
    pub class: Class,
    /// Mass as driven.
    pub mass: Known<Kg>,
    /// Drag area c_d·A.
    pub drag_area: Known<SquareMetre>,
    /// Rolling resistance coefficient.
    pub rolling_resistance: Known<Plain>,
    /// Rolling radius of the driven wheels (or `tyre`, from which it follows).
    pub wheel_radius: Known<Metre>,
    /// Moment of inertia of all wheels together.
    pub wheel_inertia: Known<KgM2>,
    /// Share of the weight on the driven axle.
    pub driven_share: Known<Percent>,
    /// The engine.
    pub engine: Engine,
    /// The torque converter.
    pub converter: Converter,
    /// The gearbox.
    pub gearbox: Gearbox,
    /// With the heaviest trailer for which the map is meant; only the map on paper looks at it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub towing: Option<Towing>,
}

/// Vehicle and trailer together.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Towing {
    /// Mass of both.
    pub mass: Known<Kg>,
    /// Drag area c_d·A of both.
    pub drag_area: Known<SquareMetre>,
}

/// A point of the full-load curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct TorquePoint {
    /// Engine speed.
    pub speed: Rpm,
    /// Torque at full pedal.
    pub torque: Nm,
}

/// The engine.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Engine {
    /// Idle speed.
    pub idle: Known<Rpm>,
    /// Redline.
    pub redline: Known<Rpm>,
    /// Full-load curve, speeds rising, from idle to the redline at least.
    pub full_load: Vec<TorquePoint>,
    /// Where the curve comes from, and how far its torques may be off.
    pub full_load_known: Known<Percent>,
    /// Drag torque at standstill, positive.
    pub drag: Known<Nm>,
    /// Further drag torque per 1,000 rpm, positive.
    pub drag_per_1000rpm: Known<Nm>,
    /// Moment of inertia with flywheel and pump wheel.
    pub inertia: Known<KgM2>,
    /// Pedal law: share of the full-load torque at pedal p (0 to 1) is p·(k − (k−1)·p) with this k.
    pub pedal_law: Known<Plain>,
    /// Time constant of rising torque.
    pub lag_up: Known<Ms>,
    /// Time constant of falling torque.
    pub lag_down: Known<Ms>,
}

/// A point of the converter's capacity: engine speed (r/min) = K·√torque (N m).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct CapacityPoint {
    /// Turbine speed over engine speed.
    pub speed_ratio: Plain,
    /// K, rpm/√(N m).
    pub k: Plain,
}

/// The torque converter with its lock-up clutch.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Converter {
    /// Capacity over the speed ratio, rising, from 0 to 0.98; 1/K falls linearly to 0 at 1.
    pub capacity: Vec<CapacityPoint>,
    /// Where the capacity comes from, and how far K may be off.
    pub capacity_known: Known<Percent>,
    /// Torque ratio at stall.
    pub stall_torque_ratio: Known<Plain>,
    /// Speed ratio from which the torque ratio is 1.
    pub coupling_point: Known<Plain>,
    /// The lock-up clutch is open in gears below this one.
    pub lockup_from_gear: u8,
    /// The lock-up clutch is open below this turbine speed.
    pub lockup_above: Known<Rpm>,
    /// The lock-up clutch closes within this time.
    pub lockup_time: Known<Ms>,
}

/// The gearbox.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Gearbox {
    /// Forward ratios from first gear on, falling; four to ten.
    pub ratios: Vec<Known<Plain>>,
    /// Final drive ratio.
    pub final_drive: Known<Plain>,
    /// Ratio of the low range, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low_range: Option<Known<Plain>>,
    /// Efficiency from converter to wheel.
    pub efficiency: Known<Percent>,
    /// How a shift runs.
    pub shift: Shift,
    /// What the manual gate does.
    pub gate: Gate,
    /// What the gearbox refuses or does by itself in the gate.
    pub protection: Protection,
}

/// The course of one shift.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Shift {
    /// From the tap's edge to its recognition.
    pub recognition: Known<Ms>,
    /// From recognition until the ratio begins to move.
    pub fill: Known<Ms>,
    /// From the old ratio to the new.
    pub ratio_change: Known<Ms>,
    /// Share of torque passed on while the ratio moves up.
    pub torque_up: Known<Percent>,
    /// Share of torque passed on while the ratio moves down.
    pub torque_down: Known<Percent>,
}

/// What the gate's lever position means to the gearbox.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum GateMeans {
    /// The gate holds the commanded gear.
    HeldGear,
    /// The gate sets the highest gear allowed; below it the gearbox shifts by itself.
    RangeLimit,
}

/// Which gear (or limit) holds when the lever enters the gate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum EntryGear {
    /// The gear of that moment.
    Current,
    /// The gear below it.
    OneBelow,
    /// This gear, or the lowest above it that the redline allows.
    Fixed(u8),
}

/// What becomes of a tap while a shift runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum TapInShift {
    /// Lost.
    Dropped,
    /// The first waits for the end of the shift, further ones are lost.
    OneKept,
    /// All wait for their turn.
    Queued,
}

/// What a tap held closed does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum HeldTap {
    /// One step only.
    OneStep,
    /// A further step each time this much time has passed.
    Repeats(u16),
}

/// The manual gate.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Gate {
    /// What it means.
    pub means: GateMeans,
    /// The gear on entry.
    pub entry: EntryGear,
    /// A contact closed for less than this is no tap.
    pub least_tap: Ms,
    /// A tap while a shift runs.
    pub tap_in_shift: TapInShift,
    /// A tap held, with the repeat time in ms.
    pub held_tap: HeldTap,
}

/// The gearbox's own protections in the gate.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Protection {
    /// A down tap that would land above this is refused.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refuse_down_above: Option<Rpm>,
    /// An up tap that would land below this is refused.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refuse_up_below: Option<Rpm>,
    /// Shifts down by itself below this engine speed (nothing slipping), to the gear of `launch-gear` at the lowest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub down_below: Option<Rpm>,
    /// Launches in this gear under a commanded second.
    pub launch_gear: u8,
    /// Shifts up by itself at the redline.
    pub up_at_redline: bool,
    /// Sees the locked wheel speed instead of the road speed, as the controller does.
    pub blind_in_wheel_lock: bool,
}
