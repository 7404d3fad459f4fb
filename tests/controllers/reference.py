#!/usr/bin/env python3
"""The reference controller once more, in Python, over protocol 1.0: it decides the same, tick for tick."""
import json
import sys

NEVER = -1_000_000_000
PULSE, ECHO, OUT, QUIET, GEAR_SETTLED, STILL, PLAUSIBLE, LOCKED = 120, 60, 200, 500, 1200, 1000, 500, 3000


class Box:
    def __init__(self, hello):
        self.h = hello
        self.pedals = hello["map"]["pedal_pct"]
        self.lines = {(l["from"], l["to"]): l["speed_kmh"] for l in hello["map"]["lines"]}
        self.requests = hello["answers"] != "contacts"
        self.width = (hello["answers"]["requests"]["width_ms"] if self.requests
                      else max(min(PULSE, hello["longest_pulse_ms"]), hello["shortest_pulse_ms"]))
        self.reset()

    def reset(self):
        self.first_clock = None
        self.v = self.p = self.g = None  # newest samples: (value, arrival)
        self.gear_since = self.implausible = NEVER
        self.still_since = None
        self.ready = self.in_gate = self.button = False
        self.turning = None
        self.turned = 0
        self.edge = self.held_since = None
        self.engaged = self.engaged_before = False
        self.engaged_at = self.paused_until = self.moved = NEVER
        self.counted = 0
        self.pulse = self.last = None
        self.last_at = self.last_up = self.last_down = NEVER
        self.pedal_at_up = 0.0

    def read(self, answers, clock, now):
        for answer in answers:
            value = answer.get("value")
            if value is None:
                continue
            at = now - min((clock - answer["arrival"]) % 2**64, -NEVER)
            if answer["signal"] == "speed" and 0 <= value <= 255:
                self.read_speed(value, at)
            elif answer["signal"] == "pedal" and 0 <= value <= 100:
                self.p = (value, at)
            elif answer["signal"] == "gear" and 1 <= value <= self.h["top_gear"]:
                if self.g is None or self.g[0] != value:
                    self.gear_since = at
                self.g = (value, at)

    def read_speed(self, value, at):
        wait = 0
        if self.v is not None:
            change = value - self.v[0]
            limit = self.h["fall_limit_kmh_per_s"] if change < 0 else self.h["rise_limit_kmh_per_s"]
            if abs(change) > limit * ((at - self.v[1]) / 1000.0) + 2.0:
                self.implausible, wait = at, LOCKED
        if value > self.h["standstill_kmh"]:
            self.still_since = None
        elif self.still_since is None:
            self.still_since = at + wait
        self.v = (value, at)

    def age(self, now):
        return now - (min(self.v[1], self.p[1]) if self.v and self.p else NEVER)

    def entry_gear(self):
        read = int(self.g[0]) if self.g else 0
        entry = self.h["entry"]
        if entry == "current":
            return read
        if entry == "one-below":
            return read - 1 if read > 1 else read
        if self.v is None:
            return 0
        ratios, top = self.h["rpm_per_kmh"], self.h["top_gear"]
        for gear in range(max(entry["fixed"], 1), top + 1):
            if (ratios[gear - 1] if gear <= len(ratios) else 0.0) * self.v[0] <= self.h["redline_rpm"]:
                return gear
        return top

    def follow_lever(self, tick, now):
        gate, pressed = tick["lever"] == "gate", tick.get("button", False)
        if now == 0:
            self.in_gate, self.button = gate, pressed
        if gate == self.in_gate:
            self.turning = None
        else:
            if self.turning is None:
                self.turning = now
            if now - self.turning >= self.h["lever_bounce_ms"]:
                edge = gate and self.h["take_over"] == "lever" and self.turning - self.turned >= OUT
                self.edge = self.turning if edge else None
                self.counted = self.entry_gear() if gate else 0
                self.in_gate, self.turned, self.turning = gate, self.turning, None
        if pressed and not self.button and self.in_gate and self.h["take_over"] == "button":
            self.edge = now
        self.button = pressed

    def driver_taps(self, tick, now):
        taps = False
        for way in ("up", "down"):
            level, edges = tick["tap_" + way], tick["tap_" + way + "_edges"]
            echo = (self.h["tap_wiring"] == "shared" and self.last == way
                    and now - self.last_at < self.width + ECHO)
            if echo or not (level or edges > 0):
                continue
            taps = True
            if edges > 0:
                self.moved = now
                if self.counted > 0:
                    self.counted = (min(self.counted + edges, self.h["top_gear"]) if way == "up"
                                    else max(self.counted - edges, 1))
        return taps

    def cause(self, tick, high, taps, lost):
        if not tick["ignition"] or not high or (lost and self.h["lost_data"] == "disengages"):
            return "fault"
        if not self.in_gate or (taps and self.h["driver_tap"] == "disengages"):
            return "disengaged"
        return None

    def may_engage(self, tick, high, taps, now):
        bound = self.h["ceiling_binds"] == "every" or not self.engaged_before
        right = (self.v is not None and self.in_gate and tick["lever"] == "gate" and tick["ignition"] and high
                 and not taps and self.age(now) <= self.h["data_fresh_ms"]
                 and (not bound or self.v[0] <= self.h["ceiling_kmh"]))
        if not right:
            self.held_since = None
            return False
        if self.held_since is None:
            self.held_since = now
        after = self.h["after_edge"]
        in_time = self.edge is not None and (after == "any-time" or now - self.edge <= after["within-ms"])
        if self.engaged or not in_time or now - self.held_since < self.h["conditions_held_ms"]:
            return False
        self.engaged, self.engaged_before, self.engaged_at, self.edge = True, True, now, None
        if self.counted == 0:
            self.counted = self.entry_gear() or self.h["lowest_gear"]
        return True

    def correct_count(self, now):
        if self.counted == 0:
            return
        if self.g is not None:
            if self.g[1] - max(self.moved, self.turned) >= GEAR_SETTLED:
                self.counted = int(self.g[0])
        elif self.h["shifts_down_itself"] and self.still_since is not None and now - self.still_since >= STILL:
            self.counted = min(self.counted, self.h["lowest_gear"])

    def line(self, gear, to, p):
        speeds = self.lines.get((gear, to))
        if speeds is None:
            return None
        p0, v0 = self.pedals[0], speeds[0]
        for p1, v1 in zip(self.pedals, speeds):
            if p < p1:
                return v1 if p1 == p0 else v0 + (v1 - v0) * (p - p0) / (p1 - p0)
            p0, v0 = p1, v1
        return v0

    def due(self, tick, now):
        h, v, p = self.h, self.v[0], self.p[0]
        agrees = (self.g is None or now - self.g[1] > h["data_fresh_ms"]
                  or (int(self.g[0]) == self.counted and now - self.gear_since >= h["shift_settle_ms"]))
        if not (tick["lever"] == "gate" and self.age(now) <= h["data_fresh_ms"] and now - self.implausible >= PLAUSIBLE
                and v >= h["standstill_kmh"] and now - self.moved >= h["shift_blind_ms"]
                and now - self.engaged_at >= QUIET and agrees):
            return None
        gear = max(self.counted, h["lowest_gear"])
        up, down = self.line(gear, gear + 1, p), self.line(self.counted, self.counted - 1, p)
        if (self.counted < h["top_gear"] and up is not None and v >= up
                and now - self.last_down >= h["opposite_dwell_ms"]):
            return "up"
        if (self.counted > h["lowest_gear"] and down is not None and v <= down
                and (p - self.pedal_at_up >= h["opposite_pedal_pct"] or now - self.last_up >= h["opposite_dwell_ms"])):
            return "down"
        return None

    def step(self, tick):
        clock = tick["t"]
        if self.first_clock is None:
            self.first_clock = clock
        now = (clock - self.first_clock) % 2**64
        self.read(tick["answers"], clock, now)
        self.follow_lever(tick, now)
        taps = self.driver_taps(tick, now)
        high = tick.get("range", "high") == "high"
        lost = self.age(now) > self.h["data_lost_ms"]
        say = None
        if self.engaged:
            for happens, reaction in ((taps, self.h["driver_tap"]), (lost, self.h["lost_data"])):
                if happens and reaction != "disengages":
                    self.paused_until = max(self.paused_until, now + reaction["pauses-ms"] + 1)
            say = self.cause(tick, high, taps, lost)
            if say:
                self.engaged, self.edge, self.paused_until, self.held_since = False, None, NEVER, None
        if self.may_engage(tick, high, taps, now):
            say = "engaged"
        self.correct_count(now)
        if not self.ready and self.v and self.p:
            self.ready, say = True, say or "ready"
        may = self.engaged and now >= self.paused_until
        way = self.due(tick, now) if may else None
        if way:
            self.pulse = self.last = way
            self.last_at = self.moved = now
            if way == "up":
                self.counted, self.last_up, self.pedal_at_up = self.counted + 1, now, self.p[0]
            else:
                self.counted, self.last_down = self.counted - 1, now
        if not may or now - self.last_at >= self.width:
            self.pulse = None
        reply = {"t": clock, "engaged": may, "gear": self.counted or None}
        if say and self.h["announces"]:
            reply["announce"] = say
        if self.requests:
            reply["request"] = way
        else:
            reply["up"], reply["down"] = self.pulse == "up", self.pulse == "down"
        return reply


box = None
for text in sys.stdin:
    line = json.loads(text)
    if "sprag" in line:
        box = Box(line)
        answers = "requests" if box.requests else "contacts"
        reply = {"hello": {"protocol": [1, 0], "name": "reference in Python", "version": "1", "answers": answers, "reset": True}}
    elif "reset" in line:
        box.reset()
        reply = {"reset": "done"}
    else:
        reply = box.step(line)
    sys.stdout.write(json.dumps(reply) + "\n")
    sys.stdout.flush()
