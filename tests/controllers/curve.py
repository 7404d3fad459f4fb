#!/usr/bin/env python3
"""A box with formulas for the lines, no table: between two pedal positions each line is a parabola or straight.

At the hello it fits each line's formula to the speeds that the map gives and refuses a map that the formula doesn't
meet; from then on it knows the formulas only. Up it shifts a hair above the curve, down a hair below. It serves
speed and pedal on a gate that holds the gear.
"""
import sys

from lines import serve, since

HAIR = 0.003
NEVER = -10**9


class Curve:
    """v = a + b s + c s² with s = (pedal - from) / (to - from) held between 0 and 1, and a ramp k for the last kick."""

    def __init__(self, pedals, speeds):
        changes = [p for p, v, w in zip(pedals, speeds, speeds[1:]) if v != w]
        ends = [q for q, v, w in zip(pedals[1:], speeds, speeds[1:]) if v != w]
        at = dict(zip(pedals, speeds))
        self.low, self.high = (changes[0], ends[-1]) if changes else (0, 100)
        self.kick = None
        if len(changes) == 2 and ends[0] == changes[1]:
            # Two straight pieces: the second is the kick.
            self.kick = (changes[1], ends[1], at[ends[1]] - at[ends[0]])
            self.high = ends[0]
        first, last = at[self.low], at[self.high]
        inner = [p for p in pedals if self.low < p < self.high]
        curved = 0.0
        if inner:
            p = inner[len(inner) // 2]
            s = self.share(p)
            curved = (at[p] - first - (last - first) * s) / (s * s - s)
        self.a, self.b, self.c = first, last - first - curved, curved
        for p, v in zip(pedals, speeds):
            if abs(self(p) - v) > 0.01:
                sys.exit("the map is no such curve: %.2f km/h at %g %% pedal, not %.2f" % (self(p), p, v))

    def share(self, pedal):
        return min(max((pedal - self.low) / (self.high - self.low), 0.0), 1.0)

    def __call__(self, pedal):
        s = self.share(pedal)
        v = self.a + self.b * s + self.c * s * s
        if self.kick:
            low, high, by = self.kick
            v += by * min(max((pedal - low) / (high - low), 0.0), 1.0)
        return v


class Box:
    def __init__(self, hello):
        self.h = hello
        pedals = hello["map"]["pedal_pct"]
        self.lines = {(line["from"], line["to"]): Curve(pedals, line["speed_kmh"]) for line in hello["map"]["lines"]}
        self.pulse_ms = 80
        self.reset()

    def reset(self):
        self.start = None
        self.v = self.v_at = self.p = self.p_at = None
        self.wild = self.entered = self.last = self.engaging = NEVER
        self.ups = self.downs = NEVER
        self.still = None
        self.out = None
        self.low = NEVER
        self.edge = self.good = None
        self.on = False
        self.pause = NEVER
        self.gear = None
        self.unsure = False
        self.pressed = True
        self.way = None
        self.history = []
        self.said_ready = False
        self.say = []

    def take(self, answers):
        for answer in answers:
            value = answer.get("value")
            if type(value) not in (int, float):
                continue
            at = since(answer["arrival"], self.start)
            if answer["signal"] == "pedal" and 0 <= value <= 100:
                self.p, self.p_at = value, at
            if answer["signal"] == "speed" and 0 <= value <= 255:
                if self.v is not None:
                    slope = (value - self.v) / max(at - self.v_at, 1) * 1000
                    apart = abs(value - self.v) > 2
                    if apart and not -self.h["fall_limit_kmh_per_s"] <= slope <= self.h["rise_limit_kmh_per_s"]:
                        # Stricter than a limit with two counts of rounding, but never for a change of two.
                        limit = self.h["rise_limit_kmh_per_s"] if slope > 0 else self.h["fall_limit_kmh_per_s"]
                        if abs(value - self.v) > limit * (at - self.v_at) / 1000 + 2:
                            self.wild = at
                if value > self.h["standstill_kmh"]:
                    self.still = None
                elif self.still is None:
                    self.still = at + (6000 if self.wild == at else 0)
                self.v, self.v_at = value, at

    def entry(self):
        fixed, rpm = self.h["entry"]["fixed"], self.h["rpm_per_kmh"]
        if self.v is None:
            return None
        for gear in range(fixed, self.h["top_gear"]):
            if rpm[gear - 1] * self.v <= self.h["redline_rpm"]:
                return gear
        return self.h["top_gear"]

    def tick(self, tick):
        h = self.h
        if self.start is None:
            self.start = tick["t"]
            self.out = None if tick["lever"] == "gate" else NEVER
        now = since(tick["t"], self.start)
        self.take(tick["answers"])
        age = now - min(self.v_at, self.p_at) if self.v is not None and self.p is not None else 10**9

        gate = tick["lever"] == "gate"
        left = False
        if not gate:
            self.out = now if self.out is None else self.out
            left = now - self.out >= h["lever_bounce_ms"]
        elif self.out is not None:
            away, self.out = now - self.out, None
            if away >= h["lever_bounce_ms"]:
                self.gear, self.unsure, self.entered = self.entry(), False, now
                if h["take_over"] == "lever" and away >= 200:
                    self.edge = now
        if "button" in tick:
            if tick["button"] and not self.pressed and gate and not self.on:
                self.edge = now
            self.pressed = tick["button"]

        taps = False
        for way in ("up", "down"):
            own = h["tap_wiring"] == "shared" and self.way == way and now - self.last <= self.pulse_ms + 30
            taps |= not own and (tick["tap_" + way] or tick["tap_%s_edges" % way] > 0)
        if taps:
            self.gear, self.unsure = None, True

        low = tick.get("range", "high") != "high"
        self.low = now if low else self.low
        lost = age > h["data_lost_ms"]
        ends = None
        if left or not tick["ignition"]:
            ends = "disengaged"
        if taps:
            if h["driver_tap"] == "disengages" or not self.on:
                ends = "disengaged"
            else:
                self.pause = now + h["driver_tap"]["pauses-ms"] + 20
        if low or (lost and h["lost_data"] == "disengages"):
            ends = "fault"
        elif lost:
            self.pause = max(self.pause, now + h["lost_data"]["pauses-ms"] + 20)
        if ends:
            if self.on:
                self.say.append(ends)
            self.on, self.pause = False, NEVER
            if ends == "disengaged":
                self.edge = None
        fine = (gate and not ends and not lost and now - self.low > h["range_high_for_ms"]
                and age <= h["data_fresh_ms"] and self.v <= h["ceiling_kmh"])
        self.good = (now if self.good is None else self.good) if fine else None
        within = h["after_edge"]["within-ms"] if isinstance(h["after_edge"], dict) else 10**9
        self.history = [at for at in self.history if now - at < 10_000]
        if (not self.on and fine and self.edge is not None and now - self.edge <= within
                and now - self.good >= h["conditions_held_ms"] + 50 and len(self.history) < 5):
            self.on, self.edge, self.engaging = True, None, now
            self.history.append(now)
            if self.gear is None and not self.unsure:
                self.gear = self.entry()
            self.say.append("engaged")
        if h["shifts_down_itself"] and self.gear and self.still is not None and now - self.still >= 2000:
            self.gear = min(self.gear, h["lowest_gear"])

        acts = self.on and now >= self.pause
        if acts and gate and self.gear and self.calm(now, age):
            self.shift(now)
        closed = acts and now - self.last < self.pulse_ms
        out = {"up": closed and self.way == "up", "down": closed and self.way == "down", "engaged": acts}
        if self.gear:
            out["gear"] = self.gear
        if not self.said_ready and age < 10**9:
            self.said_ready = True
            self.say.append("ready")
        if self.say and h["announces"]:
            out["announce"] = self.say.pop(0)
        return out

    def calm(self, now, age):
        h = self.h
        return (age <= h["data_fresh_ms"] and now - self.wild >= h.get("plausible_for_ms", 500) + 10
                and self.v >= h["standstill_kmh"] and now - self.engaging >= 500
                and now - max(self.last, self.entered) >= max(h["shift_blind_ms"], 1000))

    def shift(self, now):
        h, g = self.h, self.gear
        up, down = self.lines.get((g, g + 1)), self.lines.get((g, g - 1))
        if up and self.v >= up(self.p) + HAIR and now - self.downs >= h["opposite_dwell_ms"]:
            self.gear, self.way, self.last, self.ups = g + 1, "up", now, now
        elif (down and g > h["lowest_gear"] and self.v <= down(self.p) - HAIR
                and now - self.ups >= h["opposite_dwell_ms"]):
            self.gear, self.way, self.last, self.downs = g - 1, "down", now, now


if __name__ == "__main__":
    serve("curve", Box)
