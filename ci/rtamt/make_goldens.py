"""Margins of five rules on the traces of a folder, by rtamt, as JSON on standard output.

usage: make_goldens.py FOLDER SPEC_FOLDER      (Python 3.11, requirements.txt beside this file)

Signals are computed here from the traces and the van's files, with no help from the program under test:
engine speed n = v/(3.6 r) i 60/2pi with the total ratio i and the rolling radius r.
Where a rule asks for nothing its signal stands at IDLE, so a margin that large means that the rule had nothing to say.
"""
import csv
import json
import math
import pathlib
import sys
import tomllib

import rtamt

IDLE = 1e6
# Defaults of the limits, as `specs/README.md` lists them.
REDLINE_GUARD_RPM, DWELL_S, HELD_S, ENGAGES_S = 300.0, 2.0, 0.2, 1.0


def margin(formula, signals, tick_s):
    """Robustness of a formula at the start of a trace."""
    monitor = rtamt.StlDiscreteTimeSpecification()
    for name in signals:
        if name != "time":
            monitor.declare_var(name, "float")
    monitor.set_sampling_period(round(tick_s * 1000), "ms", 0.1)
    monitor.spec = formula
    monitor.parse()
    return monitor.evaluate(signals)[0][1]


def number(text):
    """`1500 rpm` as 1500.0."""
    return float(str(text).split()[0])


def held(column):
    """Each answer stands until the next one; NaN would hide violations, so what was never read is -1."""
    value, out = -1.0, []
    for cell in column:
        value = float(cell) if cell else value
        out.append(value)
    return out


def rising(column):
    return [now and not before for before, now in zip([False] + column[:-1], column)]


def event(instants):
    return [IDLE if instant else -IDLE for instant in instants]


def margins(path, spec, vehicle):
    rows = list(csv.DictReader(path.open()))
    flag = {name: [row[name] == "1" for row in rows] for name in ("gate", "up", "down", "engaged")}
    t_ms = [int(row["t_ms"]) for row in rows]
    tick_s = (t_ms[1] - t_ms[0]) / 1000
    speed, pedal = held([row["speed_kmh"] for row in rows]), held([row["pedal_pct"] for row in rows])
    gearbox = vehicle["gearbox"]
    per_ratio = float(gearbox["final-drive"]) / (3.6 * number(vehicle["wheel-radius"]) * 2 * math.pi / 60)
    ratios = [float(ratio) for ratio in gearbox["ratios"]]

    up, down, engaging = rising(flag["up"]), rising(flag["down"]), rising(flag["engaged"])

    # The gear as a box without a gear signal can know it, before the commands of each tick: the entry gear, or the lowest
    # above it that the redline allows, and from there on its own commands.
    redline, top = number(vehicle["engine"]["redline"]), len(ratios)
    gear, count = [], 1
    for at, v in enumerate(speed):
        if at and flag["gate"][at] and not flag["gate"][at - 1]:
            legal = range(gearbox["gate"]["entry"]["fixed"], top)
            count = next((g for g in legal if per_ratio * ratios[g - 1] * v <= redline), top)
        gear.append(count)
        count = min(max(count + up[at] - down[at], 1), top)

    def landing(step):
        return [per_ratio * ratios[min(max(g + step, 1), len(ratios)) - 1] * max(v, 0) for g, v in zip(gear, speed)]

    # A stopwatch since the command before, where that was an opposite one; a tick of tolerance.
    watch, last = [], None
    for at, direction in enumerate(zip(up, down)):
        commanded = any(direction)
        opposite = commanded and last is not None and last[1] != direction
        watch.append((t_ms[at] - last[0]) / 1000 + tick_s if opposite else IDLE)
        last = (t_ms[at], direction) if commanded else last

    # Due to engage: all has been right for long enough right after the lever came into the gate. The stopwatch runs
    # from there to the tick in which it shows itself engaged, that tick included.
    ceiling = number(spec["limits"]["engagement-speed-ceiling"])
    right = [g and 0 <= v <= ceiling and p >= 0 for g, v, p in zip(flag["gate"], speed, pedal)]
    held_ticks = round(HELD_S / tick_s)
    entered = next((at for at, gate in enumerate(flag["gate"]) if gate), len(rows))
    due_at = next((at for at in range(entered + held_ticks, len(rows)) if all(right[at - held_ticks : at + 1])), None)
    if due_at is not None and t_ms[due_at] > t_ms[entered] + 1000 * (HELD_S + ENGAGES_S):
        due_at = None
    waiting = [0.0] * len(rows)
    if due_at is not None:
        waiting = [-IDLE] * len(rows)
        for at in range(due_at, len(rows)):
            waiting[at] = (t_ms[at] - t_ms[due_at]) / 1000
            if flag["engaged"][at]:
                break
    due = event([at == due_at for at in range(len(rows))])

    signals = {
        "up": event(up),
        "down": event(down),
        "engaging": event(engaging),
        "due": due,
        "landing_up": landing(1),
        "landing_down": landing(-1),
        "watch": watch,
        "command": event([a or b for a, b in zip(up, down)]),
        "speed": speed,
        "waiting": waiting,
        "engaged": [1.0 if e else -1.0 for e in flag["engaged"]],
    }

    def of(formula, *names):
        chosen = {"time": [t / 1000 for t in t_ms]} | {name: signals[name] for name in names}
        value = margin(formula, chosen, tick_s)
        return None if value >= IDLE / 2 else value

    floor = number(spec["limits"]["rpm-floor"])
    limit = redline - REDLINE_GUARD_RPM
    within = ENGAGES_S + tick_s
    result = {
        "rpm floor after upshift": of(f"always((up >= 0) implies (landing_up >= {floor}))", "up", "landing_up"),
        "over-rev after downshift": of(f"always((down >= 0) implies (landing_down <= {limit}))", "down", "landing_down"),
        "engagement speed ceiling": of(f"always((engaging >= 0) implies (speed <= {ceiling}))", "engaging", "speed"),
        "engages when it should": of(f"always(waiting <= {within})", "waiting") if due_at is not None else None,
    }
    # The same obligation as a bounded eventually has a verdict and no margin in seconds: it must agree in sign.
    if due_at is not None:
        wait_ms = round(within * 1000)
        verdict = margin(
            f"always((due >= 0) implies (eventually[0,{wait_ms}ms](engaged >= 0)))",
            {"time": [t / 1000 for t in t_ms], "due": due, "engaged": signals["engaged"]},
            tick_s,
        )
        assert (verdict > 0) == (result["engages when it should"] >= 0), (path, verdict, result)
    # An opposite command may be excused by a changed pedal or speed; where both stand still there is no excuse.
    steady = [(v, p) for v, p, g in zip(speed, pedal, flag["engaged"]) if g]
    if len(set(steady)) == 1:
        result["opposite-shift dwell"] = of(f"always((command >= 0) implies (watch >= {DWELL_S}))", "command", "watch")
    return result


def main():
    folder, specs = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
    spec = tomllib.loads((specs / "van.toml").read_text())
    vehicle = tomllib.loads((specs / spec["vehicle"]).read_text())
    result = {path.stem: margins(path, spec, vehicle) for path in sorted(folder.glob("*.csv"))}
    print(json.dumps(result, indent=1))


main()
