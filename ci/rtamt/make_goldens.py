"""Margins of twelve rules on the traces of a folder, by rtamt, as JSON on standard output.

usage: make_goldens.py FOLDER SPEC_FOLDER      (Python 3.11, requirements.txt beside this file)
       make_goldens.py FOLDER SPEC_FOLDER --timed   adds the processor time of the formulas alone, and the formulas' samples

Signals are computed here from the traces and the van's files, with no help from the program under test:
engine speed n = v/(3.6 r) i 60/2pi with the total ratio i and the rolling radius r.
Where a rule asks for nothing its signal stands at IDLE, so a margin that large means that the rule had nothing to say.
"""
import csv
import json
import math
import pathlib
import sys
import time
import tomllib

import rtamt

IDLE = 1e6
# Defaults of the limits, as `specs/README.md` lists them.
REDLINE_GUARD_RPM, DWELL_S, HELD_S, ENGAGES_S = 300.0, 2.0, 0.2, 1.0
SHORTEST_S, LONGEST_S, GAP_S, BLIND_S, FRESH_S = 0.06, 0.25, 0.1, 1.0, 0.5
CASCADE_STEPS, CASCADE_S, LIGHT_PCT = 2, 1.5, 15.0


# What the formulas took: processor time, and samples times formulas.
spent = {"seconds": 0.0, "samples": 0}


def margin(formula, signals, tick_s):
    """Robustness of a formula at the start of a trace."""
    monitor = rtamt.StlDiscreteTimeSpecification()
    for name in signals:
        if name != "time":
            monitor.declare_var(name, "float")
    monitor.set_sampling_period(round(tick_s * 1000), "ms", 0.1)
    monitor.spec = formula
    monitor.parse()
    began = time.process_time()
    robustness = monitor.evaluate(signals)
    spent["seconds"] += time.process_time() - began
    spent["samples"] += len(signals["time"])
    return robustness[0][1]


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


def ages(column, t_ms):
    """Seconds since the last answer, in each row."""
    last, out = None, []
    for cell, now in zip(column, t_ms):
        last = now if cell else last
        out.append(IDLE if last is None else (now - last) / 1000)
    return out


def pulse_ms(column, t_ms):
    """Width of the pulse that begins in a row, 0 in all others."""
    out = [0] * len(column)
    for at, begins in enumerate(rising(column)):
        if begins:
            end = next((end for end in range(at, len(column)) if not column[end]), len(column) - 1)
            out[at] = t_ms[end] - t_ms[at]
    return out


def closed_pedal_lines(path):
    """The up lines and the down lines at the closed pedal, by the gear left."""
    head, first = path.read_text().splitlines()[:2]
    cells = zip(head.split(",")[1:], first.split(",")[1:])
    pairs = {tuple(int(gear) for gear in name.split(">")): float(cell) for name, cell in cells}
    ups = {left: kmh for (left, entered), kmh in pairs.items() if entered > left}
    return ups, {left: kmh for (left, entered), kmh in pairs.items() if entered < left}


def event(instants):
    return [IDLE if instant else -IDLE for instant in instants]


def margins(path, spec, vehicle, lines):
    lines, down_lines = lines
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
    # Whether a contact that is closed for less than the gearbox asks for, or only just as long, has moved it, the box can't
    # know until the lever comes anew.
    least_ms = number(gearbox.get("least-tap", "40 ms"))
    width = [max(pair) for pair in zip(pulse_ms(flag["up"], t_ms), pulse_ms(flag["down"], t_ms))]
    moves = [ms > least_ms for ms in width]
    gear, count = [], 1
    for at, v in enumerate(speed):
        if at and flag["gate"][at] and not flag["gate"][at - 1]:
            legal = range(gearbox["gate"]["entry"]["fixed"], top)
            count = next((g for g in legal if per_ratio * ratios[g - 1] * v <= redline), top)
        gear.append(count)
        if up[at] or down[at]:
            known = count is not None and moves[at]
            count = min(max(count + up[at] - down[at], 1), top) if known else None

    def landing(step, unknown):
        of = lambda g, v: per_ratio * ratios[min(max(g + step, 1), len(ratios)) - 1] * max(v, 0)
        return [unknown if g is None else of(g, v) for g, v in zip(gear, speed)]

    # No landing beyond the top gear.
    landing_up = [n if g is None or g < top else IDLE for n, g in zip(landing(1, IDLE), gear)]

    # Since the command before, whichever way; since the contact opened; down commands within the window so far.
    commands = [a or b for a, b in zip(up, down)]
    spacing, gap, downs = [IDLE] * len(rows), [IDLE] * len(rows), [0.0] * len(rows)
    before = None
    for at in (at for at, commanded in enumerate(commands) if commanded):
        if before is not None:
            spacing[at] = (t_ms[at] - t_ms[before]) / 1000
            gap[at] = spacing[at] - width[before] / 1000
        before = at
        window = [b for b in range(at + 1) if down[b] and t_ms[at] - t_ms[b] < 1000 * (CASCADE_S - tick_s) - 1e-6]
        downs[at] = float(len(window))
    age = [max(pair) for pair in zip(*(ages([row[name] for row in rows], t_ms) for name in ("speed_kmh", "pedal_pct")))]
    light = [u and 0 <= p <= LIGHT_PCT and g in lines for u, p, g in zip(up, pedal, gear)]
    beyond = [v - lines.get(g, 0) for v, g in zip(speed, gear)]

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
        "landing_up": landing_up,
        "landing_down": landing(-1, -IDLE),
        "watch": watch,
        "command": event(commands),
        "gear_or_high": [IDLE if g is None else float(g) for g in gear],
        "gear_or_low": [-IDLE if g is None else float(g) for g in gear],
        "width": [ms / 1000 for ms in width],
        "gap": gap,
        "spacing": spacing,
        "age": age,
        "downs": downs,
        "light": event(light),
        "beyond": beyond,
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
    lowest = spec["box"]["lowest-gear"]
    pulse = f"(width <= {LONGEST_S + tick_s}) and (width >= {SHORTEST_S - tick_s}) and (gap >= {GAP_S - tick_s})"
    commanded = {
        "never commands first": (f"(down >= 0) implies (gear_or_high >= {lowest + 1})", "down", "gear_or_high"),
        "gear range ends": (f"(up >= 0) implies (gear_or_low <= {top - 1})", "up", "gear_or_low"),
        "one step per tap": (f"(command >= 0) implies ({pulse})", "command", "width", "gap"),
        "not while shifting": (f"(command >= 0) implies (spacing >= {BLIND_S - tick_s})", "command", "spacing"),
        "fresh data at every command": (f"(command >= 0) implies (age <= {FRESH_S + tick_s})", "command", "age"),
        "downshift cascade limit": (f"(down >= 0) implies (downs <= {CASCADE_STEPS})", "down", "downs"),
    }
    # A box may go by any of the last few speeds: the same where they are.
    first = next((at for at, commanded in enumerate(commands) if commanded), len(rows))
    if len(set(speed[max(first - 50, 0) :])) == 1:
        commanded["light-pedal minimum upshift speed"] = ("(light >= 0) implies (beyond >= 0)", "light", "beyond")
    for rule, (formula, *names) in commanded.items():
        result[rule] = of(f"always({formula})", *names)
    # What a box commands that has taken over above the ceiling is the affair of other rules.
    if due_at is None:
        result["fresh data at every command"] = None
    # More are excused where the speed itself calls for them, to a count.
    fallen = [n > CASCADE_STEPS and v <= down_lines.get(g, -2.0) + 1 for n, v, g in zip(downs, speed, gear)]
    if any(fallen):
        del result["downshift cascade limit"]
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
    lines = closed_pedal_lines(specs / spec["map"])
    result = {path.stem: margins(path, spec, vehicle, lines) for path in sorted(folder.glob("*.csv"))}
    if sys.argv[3:] == ["--timed"]:
        result = {"margins": result, "spent": spent}
    print(json.dumps(result, indent=1))


main()
