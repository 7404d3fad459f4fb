"""The reference drives specs that nobody wrote: box facts, link and gate drawn from a seed, over the demo vehicles.

usage: ci/other_specs.py FIRST LAST [OPTION...]     seeds from FIRST to LAST; the options go to `sprag test`

A rule may lean on a fact that all shipped specs share. Here the facts are mixed, and nothing may be broken: what the
reference breaks is a fault of the rule, of the reference, or of the map with such a gate. Prints a line a seed and
exits with 1 if anything is broken. What was driven stands in target/other-specs/SEED. Needs the release build.
"""
import pathlib
import random
import re
import subprocess
import sys

TOP = pathlib.Path(__file__).resolve().parent.parent
OUT = TOP / "target" / "other-specs"
SAYS = {0: "kept", 4: "nothing broken, not all reached", 5: "nothing broken, some depends on data"}


def gate(dice):
    """What the manual gate means and how it takes taps."""
    return f"""[gearbox.gate]
means = "{dice.choice(["held-gear", "range-limit"])}"
entry = {dice.choice(["{ fixed = 2 }", "{ fixed = 2 }", '"one-below"', '"current"'])}
least-tap = "{dice.choice([30, 40, 50])} ms"
tap-in-shift = "{dice.choice(["dropped", "one-kept", "queued"])}"
held-tap = {dice.choice(['"one-step"', '"one-step"', "{ repeats = 500 }"])}
"""


def box(dice, has_low_range):
    """What the box reads, how it takes over and lets go, and how it answers."""
    yes_or_no = ["true", "false"]
    wired = dice.choice(yes_or_no) if has_low_range else "false"
    return f"""[box]
name = "reference"
tick = "{dice.choice([5, 10, 10, 20])} ms"
signals = {{ gear = {dice.choice(yes_or_no)}, engine-speed = {dice.choice(yes_or_no)}, range = {wired} }}
take-over = "{dice.choice(["lever", "button"])}"
after-edge = {dice.choice(['"any-time"', "{ within-ms = 1500 }", "{ within-ms = 3000 }"])}
ceiling-binds = "{dice.choice(["every", "first"])}"
driver-tap = {dice.choice(['"disengages"', "{ pauses-ms = 1500 }", "{ pauses-ms = 5000 }"])}
lost-data = {dice.choice(['"disengages"', "{ pauses-ms = 1000 }"])}
tap-wiring = "{dice.choice(["separate", "shared"])}"
answers = {dice.choice(['"contacts"', '"contacts"', '{ requests = { width = "120 ms", gap = "100 ms" } }'])}
announces = {dice.choice(["true", "true", "false"])}
lowest-gear = 2
"""


def link(dice):
    """How the diagnostic port is polled and what it offers."""
    return f"""[link]
period = "{dice.choice([100, 100, 150, 200, 300])} ms"
answer-most = "{dice.choice([20, 50, 60])} ms"
speed-rounding = "{dice.choice(["floor", "nearest"])}"
speed-source = "{dice.choice(["all-wheels", "driven-axle", "output-shaft"])}"
pedal-identifier = "{dice.choice(["d", "e", "relative"])}"
"""


def limits(dice, base):
    """What a maker may state beyond what the shipped specs do."""
    below_redline = {"van": 3500, "hatch": 5000, "hauler": 2000}[base]
    return dice.choice(["", f'downhill-rpm = "{below_redline} rpm"\n'])


def section(text, name):
    """A table of a TOML file, with its head; empty where there is none."""
    found = re.search(rf"^\[{re.escape(name)}\]\n(?:(?!\[).*\n?)*", text, re.MULTILINE)
    return found.group(0) if found else ""


def draw(seed):
    """Writes the spec of a seed and returns its path."""
    dice = random.Random(seed)
    base = dice.choice(["van", "hatch", "hauler"])
    folder = OUT / str(seed)
    folder.mkdir(parents=True, exist_ok=True)
    vehicle = (TOP / "specs" / "vehicles" / f"{base}.toml").read_text()
    shipped = (TOP / "specs" / f"{base}.toml").read_text()
    (folder / "vehicle.toml").write_text(vehicle.replace(section(vehicle, "gearbox.gate"), gate(dice) + "\n"))
    (folder / "map.csv").write_bytes((TOP / "specs" / "maps" / f"{base}.csv").read_bytes())
    head = f'format = 1\nname = "drawn-{seed}"\nvehicle = "vehicle.toml"\nmap = "map.csv"\n'
    kept = section(shipped, "limits").rstrip("\n") + "\n"
    parts = [head, box(dice, "low-range" in vehicle), link(dice), kept + limits(dice, base), section(shipped, "runs.commit")]
    path = folder / "spec.toml"
    path.write_text("\n".join(parts))
    return path


def main():
    first, last, *options = sys.argv[1:]
    failed = False
    for seed in range(int(first), int(last) + 1):
        spec = draw(seed)
        command = [TOP / "target" / "release" / "sprag", "test", spec, "--evidence", spec.parent / "evidence"]
        done = subprocess.run([*command, "--progress", "none", *options], capture_output=True, text=True, check=False)
        (spec.parent / "screen.txt").write_text(done.stdout + done.stderr)
        failed |= done.returncode not in SAYS
        print(seed, SAYS.get(done.returncode, f"exit {done.returncode}, see {spec.parent / 'screen.txt'}"), flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    sys.exit(main())
