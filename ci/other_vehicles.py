"""The reference drives vehicles that nobody wrote: engine, gears and map drawn from a seed, with the box and the gate too.

usage: ci/other_vehicles.py FIRST LAST [OPTION...]     seeds from FIRST to LAST; the options go to `sprag test`

A rule may lean on numbers that all shipped vehicles share: so many gears, such engine speeds. All numbers are invented;
the map follows from them, as cured by `sprag check`. What breaks with the map at fault is told apart: drawn maps aren't
good in all. Prints a line a seed and exits with 1 where anything else is broken. What was driven stands in
target/other-vehicles/SEED. Needs the release build.
"""
import math
import pathlib
import random
import subprocess
import sys

import other_specs

TOP = pathlib.Path(__file__).resolve().parent.parent
OUT = TOP / "target" / "other-vehicles"
SPRAG = TOP / "target" / "release" / "sprag"
# Torque over the share of the way from idle to redline.
DIESEL = [(0, 0.5), (0.15, 0.75), (0.3, 1), (0.55, 1), (0.75, 0.93), (0.9, 0.82), (1, 0.55)]
PETROL = [(0, 0.5), (0.2, 0.8), (0.4, 0.95), (0.6, 1), (0.8, 0.95), (0.93, 0.85), (1, 0.7)]
# The converter's capacity over the speed ratio, as a multiple of that at rest.
CAPACITY = [(0, 1), (0.5, 1.05), (0.8, 1.2), (0.9, 1.45), (0.95, 1.9), (0.98, 2.9)]


class Vehicle:
    """Numbers of a vehicle that hang together: a road speed in the last gear but one near the engine's rated speed."""

    def __init__(self, dice):
        self.diesel = dice.random() < 0.5
        self.idle_rpm = dice.choice([600, 700, 750, 850])
        self.redline_rpm = dice.choice([2600, 3200, 4200, 4800] if self.diesel else [5200, 6000, 6800])
        self.mass_kg = dice.choice([900, 1400, 2000, 2800, 4500, 7500] if self.diesel else [800, 1100, 1600, 2200])
        heavy = self.mass_kg > 2500
        self.radius_m = dice.uniform(0.36, 0.48) if heavy else dice.uniform(0.28, 0.36)
        gears = dice.choice([4, 5, 6, 7, 8, 9])
        first, top = dice.uniform(2.6, 3.0) if gears == 4 else dice.uniform(3.2, 5.2), dice.uniform(0.6, 0.95)
        # Steps grow smaller upwards.
        steps = [0.9**at for at in range(gears - 1)]
        share = math.log(first / top) / sum(steps)
        self.ratios = [first * math.exp(-share * sum(steps[:at])) for at in range(gears)]
        fast_kmh = 110 if self.mass_kg > 4000 else dice.choice([130, 150, 180])
        self.final = 0.85 * self.redline_rpm * 2 * math.pi / 60 * self.radius_m * 3.6 / fast_kmh / self.ratios[-2]
        rated_w = self.mass_kg * dice.uniform(35, 70)
        self.torque_nm = rated_w / (0.8 * self.redline_rpm * 2 * math.pi / 60) * dice.uniform(1.15, 1.4)
        self.floor_rpm = round(self.idle_rpm * dice.uniform(1.5, 1.9) / 50) * 50

    def rpm_per_kmh(self, gear):
        """With nothing slipping."""
        return self.final * self.ratios[gear - 1] * 60 / (2 * math.pi * self.radius_m * 3.6)

    def text(self, dice):
        """The vehicle file."""
        span_rpm = self.redline_rpm - self.idle_rpm
        points = [
            f'    {{ speed = "{self.idle_rpm + at * span_rpm:.0f} rpm", torque = "{self.torque_nm * share:.0f} Nm" }},'
            for at, share in (DIESEL if self.diesel else PETROL)
        ]
        least_k = (self.idle_rpm + 0.35 * span_rpm) / math.sqrt(self.torque_nm)
        capacity = [f"    {{ speed-ratio = {ratio}, k = {least_k * more:.0f} }}," for ratio, more in CAPACITY]
        low_range = f"low-range = {dice.uniform(2, 3):.2f}\n" if dice.random() < 0.5 else ""
        return f"""format = 1
name = "drawn"
class = "{"diesel-van" if self.diesel else "light-petrol"}"
mass = "{self.mass_kg} kg"
drag-area = "{dice.uniform(0.5, 0.9) * (1 if self.mass_kg < 2000 else 2.2):.2f} m2"
rolling-resistance = {dice.choice([0.009, 0.011, 0.013])}
wheel-radius = "{self.radius_m:.3f} m"
wheel-inertia = "{max(1, self.mass_kg * self.radius_m**2 * 0.015):.1f} kgm2"
driven-share = "{dice.choice([45, 52, 60, 100])} %"

[engine]
idle = "{self.idle_rpm} rpm"
redline = "{self.redline_rpm} rpm"
full-load = [
{chr(10).join(points)}
]
drag = "{self.torque_nm * 0.04:.0f} Nm"
drag-per-1000rpm = "{self.torque_nm * 0.012:.1f} Nm"
inertia = "{self.torque_nm * 0.0008:.2f} kgm2"
pedal-law = {dice.choice([1.0, 1.2, 1.4, 1.7])}
lag-up = "{dice.choice([80, 150, 300])} ms"
lag-down = "{dice.choice([50, 100])} ms"

[converter]
capacity = [
{chr(10).join(capacity)}
]
stall-torque-ratio = {dice.choice([1.7, 1.9, 2.2])}
coupling-point = 0.86
lockup-from-gear = {dice.choice([2, 3])}
lockup-above = "{self.idle_rpm + 300} rpm"
lockup-time = "150 ms"

[gearbox]
ratios = [{", ".join(f"{ratio:.3f}" for ratio in self.ratios)}]
final-drive = {self.final:.3f}
{low_range}efficiency = "{dice.choice([90, 92, 95])} %"

[gearbox.shift]
recognition = "{dice.choice([50, 100, 150])} ms"
fill = "{dice.choice([100, 200])} ms"
ratio-change = "{dice.choice([250, 400, 500])} ms"
torque-up = "75 %"
torque-down = "50 %"

{other_specs.gate(dice)}
[gearbox.protection]
refuse-down-above = "{self.redline_rpm - 50} rpm"
refuse-up-below = "{self.idle_rpm + 120} rpm"
down-below = "{self.idle_rpm - 80} rpm"
launch-gear = 1
"""

    def map(self):
        """The map file: lines from second gear up, from the floor with a light foot to near the redline."""
        pairs = [(low, low + 1) for low in range(2, len(self.ratios))]
        rows = ["pedal % / km/h," + ",".join([f"{a}>{b}" for a, b in pairs] + [f"{b}>{a}" for a, b in pairs])]
        for pedal_pct in range(0, 101, 10):
            part, late = (min(1, max(0, pedal_pct - 20) / over) for over in (60, 75))
            ups, downs = [], []
            for low, high in pairs:
                light_kmh = math.ceil((self.floor_rpm + 80) / self.rpm_per_kmh(high) + 1)
                full_kmh = max(light_kmh, 0.9 * self.redline_rpm / self.rpm_per_kmh(low))
                ups.append(round(light_kmh + part * (full_kmh - light_kmh)))
                coast_kmh = round(0.86 * self.floor_rpm / self.rpm_per_kmh(high))
                down_kmh = max(coast_kmh, round(coast_kmh + late * (0.72 * ups[-1] - coast_kmh)))
                downs.append(min(down_kmh, ups[-1] - 5, int((self.redline_rpm - 400) / self.rpm_per_kmh(low))))
            rows.append(",".join(map(str, [pedal_pct, *ups, *downs])))
        return "\n".join(rows) + "\n"


def draw(seed):
    """Writes the spec of a seed, with its map cured, and returns its path."""
    dice = random.Random(seed)
    vehicle = Vehicle(dice)
    folder = OUT / str(seed)
    folder.mkdir(parents=True, exist_ok=True)
    text = vehicle.text(dice)
    (folder / "vehicle.toml").write_text(text)
    (folder / "map.csv").write_text(vehicle.map())
    head = f'format = 1\nname = "drawn-{seed}"\nvehicle = "vehicle.toml"\nmap = "map.csv"\n'
    limits = f"""[limits]
engagement-speed-ceiling = "{dice.choice([25, 40, 50])} km/h"
rpm-floor = "{vehicle.floor_rpm} rpm"
"""
    spec = folder / "spec.toml"
    spec.write_text("\n".join([head, other_specs.box(dice, "low-range" in text), other_specs.link(dice), limits]))
    for _ in range(6):
        cured = folder / "cured.csv"
        done = subprocess.run([SPRAG, "check", spec, "--write-map", cured], capture_output=True, text=True, check=False)
        (folder / "check.txt").write_text(done.stdout + done.stderr)
        if done.returncode == 0 or not cured.exists():
            break
        cured.rename(folder / "map.csv")
    return spec


def blamed(screen):
    """Whether a failing moment is laid at another door than the map's."""
    faults = [line.split(None, 1)[1] for line in screen.splitlines() if line.startswith("  fault ")]
    return not faults or any(not fault.startswith("the map is at fault") for fault in faults)


def main():
    first, last, *options = sys.argv[1:]
    failed = False
    for seed in range(int(first), int(last) + 1):
        spec = draw(seed)
        command = [SPRAG, "test", spec, "--evidence", spec.parent / "evidence", "--progress", "none", *options]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        screen = spec.parent / "screen.txt"
        screen.write_text(done.stdout + done.stderr)
        says = other_specs.SAYS.get(done.returncode)
        if done.returncode == 1 and not blamed(done.stdout):
            says = "broken, the drawn map is at fault"
        failed |= says is None
        print(seed, says or f"exit {done.returncode}, see {screen}", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    sys.exit(main())
