#!/usr/bin/env python3
"""A box that looks up whole numbers: for each pedal code and gear the least speed to shift up, the most to shift down.

The port carries the pedal in 255ths and the speed in whole km/h, so everything the map says can be worked out once, at
the hello. It serves levers and buttons, contacts and requests, with and without a gear signal.
"""
import math

from lines import serve, since

CODES = 255
FAR_PAST = -10**9


def line_kmh(pedals, speeds, pedal):
    """The speed of a line at a pedal position."""
    for (p0, v0), (p1, v1) in zip(zip(pedals, speeds), zip(pedals[1:], speeds[1:])):
        if p0 <= pedal <= p1:
            return v0 + (v1 - v0) * (pedal - p0) / (p1 - p0)
    return speeds[-1]


def tables(shift_map):
    """Whole speeds by (from, to) and pedal code: up at or above, down at or below."""
    found = {}
    for line in shift_map["lines"]:
        at = [line_kmh(shift_map["pedal_pct"], line["speed_kmh"], code * 100 / CODES) for code in range(CODES + 1)]
        up = line["to"] > line["from"]
        found[line["from"], line["to"]] = [math.ceil(v) if up else math.floor(v) for v in at]
    return found


class Box:
    def __init__(self, hello):
        self.hello = hello
        self.table = tables(hello["map"])
        self.top, self.lowest = hello["top_gear"], hello["lowest_gear"]
        self.asks = isinstance(hello["answers"], dict)
        self.width = hello["answers"]["requests"]["width_ms"] if self.asks else min(120, hello["longest_pulse_ms"])
        self.reads_gear = "gear" in hello["signals"]
        self.limits_range = hello["gate"] == "range-limit"
        self.shared = hello["tap_wiring"] == "shared"
        self.by_button = hello["take_over"] == "button"
        window = hello["after_edge"]
        self.window = math.inf if window == "any-time" else window["within-ms"]
        pause = hello["driver_tap"]
        self.tap_pause = None if pause == "disengages" else pause["pauses-ms"]
        pause = hello["lost_data"]
        self.loss_pause = None if pause == "disengages" else pause["pauses-ms"]
        self.reset()

    def reset(self):
        self.began = None
        self.speed = self.code = self.read_gear = None
        self.speed_at = self.code_at = self.gear_at = FAR_PAST
        self.gear_since = FAR_PAST
        self.leapt_at = FAR_PAST
        self.still_from = None
        self.in_gate = None
        self.out_from = None
        self.left_at = self.low_at = FAR_PAST
        self.edge_at = None
        self.right_from = None
        self.engaged = self.engaged_once = False
        self.engagements = []
        self.engaged_at = FAR_PAST
        self.paused_until = FAR_PAST
        self.button = True
        self.gear = None
        self.refusals = 0
        self.late_from = None
        self.moved_at = FAR_PAST
        self.command, self.command_at = None, FAR_PAST
        self.again_from = FAR_PAST
        self.commands_at = {"up": FAR_PAST, "down": FAR_PAST}
        self.say = []
        self.ready = False

    # What is read ------------------------------------------------------------------------------------------------

    def read(self, answers, now):
        for answer in answers:
            value = answer.get("value")
            if not isinstance(value, (int, float)):
                continue
            at = since(answer["arrival"], self.began)
            signal = answer["signal"]
            if signal == "speed" and 0 <= value <= 255:
                self.read_speed(value, at)
            elif signal == "pedal" and 0 <= value <= 100:
                self.code, self.code_at = round(value * CODES / 100), at
            elif signal == "gear" and 1 <= value <= self.top:
                if value != self.read_gear:
                    self.gear_since = at
                self.read_gear, self.gear_at = int(value), at

    def read_speed(self, value, at):
        leap = False
        if self.speed is not None:
            seconds = max(at - self.speed_at, 0) / 1000
            fell, rose = self.speed - value, value - self.speed
            leap = (fell > self.hello["fall_limit_kmh_per_s"] * seconds + 2
                    or rose > self.hello["rise_limit_kmh_per_s"] * seconds + 2)
            if leap:
                self.leapt_at = at
        if value > self.hello["standstill_kmh"]:
            self.still_from = None
        elif self.still_from is None or leap:
            # Wheels that have just locked are no standstill yet.
            self.still_from = at + (4000 if leap else 0)
        self.speed, self.speed_at = value, at

    def age(self, now):
        return now - min(self.speed_at, self.code_at)

    # What the driver does ----------------------------------------------------------------------------------------

    def follow_lever(self, tick, now):
        there = tick["lever"] == "gate"
        if self.in_gate is None:
            self.in_gate = there
        if there == self.in_gate:
            self.out_from = None
            return
        if self.out_from is None:
            self.out_from = now
        if now - self.out_from < self.hello["lever_bounce_ms"]:
            return
        self.in_gate = there
        since, self.out_from = self.out_from, None
        if not there:
            self.left_at, self.edge_at, self.gear = since, None, None
            return
        if since - self.left_at >= 200 and not self.by_button:
            self.edge_at = since
        self.gear, self.moved_at, self.refusals = self.entry_gear(), now, 0

    def follow_button(self, tick, now):
        pressed = tick.get("button", False)
        if pressed and not self.button and self.in_gate and not self.engaged:
            self.edge_at = now
        self.button = pressed

    def entry_gear(self):
        entry = self.hello["entry"]
        if isinstance(entry, dict):
            if self.speed is None:
                return None
            rpm = self.hello["rpm_per_kmh"]
            fits = [g for g in range(entry["fixed"], self.top + 1) if rpm[g - 1] * self.speed <= self.hello["redline_rpm"]]
            return fits[0] if fits else self.top
        if self.read_gear is None:
            return None
        return self.read_gear if entry == "current" else max(self.read_gear - 1, 1)

    def driver_taps(self, tick, now):
        tapped = False
        for way in ("up", "down"):
            closed, edges = tick["tap_" + way], tick["tap_%s_edges" % way]
            if not closed and not edges:
                continue
            if self.shared and self.command == way and now - self.command_at < self.width + 50:
                continue
            tapped = True
            if edges and self.gear is not None:
                step = edges if way == "up" else -edges
                self.gear = min(max(self.gear + step, 1), self.top)
            if edges:
                self.again_from = now + 700
        return tapped

    # Engaging ----------------------------------------------------------------------------------------------------

    def lets_go(self, tick, tapped, now):
        lost = self.age(now) > self.hello["data_lost_ms"]
        if not tick["ignition"] or tick.get("range", "high") != "high" or (lost and self.loss_pause is None):
            return "fault"
        if not self.in_gate or (tapped and self.tap_pause is None):
            return "disengaged"
        for happens, pause in ((tapped, self.tap_pause), (lost, self.loss_pause)):
            if happens:
                self.paused_until = max(self.paused_until, now + pause + 10)
        return None

    def engages(self, tick, tapped, now):
        right = (self.in_gate and tick["lever"] == "gate" and tick["ignition"] and tick.get("range", "high") == "high"
                 and not tapped and self.age(now) <= self.hello["data_fresh_ms"]
                 and (self.speed <= self.hello["ceiling_kmh"]
                      or (self.engaged_once and self.hello["ceiling_binds"] == "first")))
        if not right:
            self.right_from = None
            return False
        if self.right_from is None:
            self.right_from = now
        if self.edge_at is None or now - self.edge_at > self.window:
            return False
        self.engagements = [at for at in self.engagements if now - at < 10_000]
        return now - self.right_from >= self.hello["conditions_held_ms"] and len(self.engagements) < 5

    # Shifting ----------------------------------------------------------------------------------------------------

    def settle_gear(self, now):
        if self.gear is None:
            return
        if self.reads_gear and self.read_gear is not None:
            settled = self.gear_at - max(self.moved_at, self.command_at) >= 1600
            differs = settled and self.read_gear != self.gear
            if differs and self.limits_range and self.read_gear < self.gear:
                # The gearbox may stay below a limit as it likes; only where an upshift is long due, the limit is lower.
                if self.up_due(self.read_gear):
                    self.late_from = now if self.late_from is None else self.late_from
                    differs = now - self.late_from >= 2500
                else:
                    self.late_from, differs = None, False
            else:
                self.late_from = None
            if differs:
                # Refused, or the gearbox's own doing: what is read holds. A gearbox in the middle of a shift of its own
                # takes a tap up only after it, and then shifts: no hurry.
                self.moved_at = now
                self.refusals += self.command is not None and now - self.command_at < 6000
                self.gear = self.read_gear
            elif settled and self.read_gear == self.gear:
                self.refusals = 0
        elif self.hello["shifts_down_itself"] and self.still_from is not None and now - self.still_from >= 1000:
            self.gear = min(self.gear, self.lowest)

    def up_due(self, gear):
        line = self.table.get((gear, gear + 1))
        return line is not None and self.speed is not None and self.code is not None and self.speed >= line[self.code]

    def due(self, tick, now):
        hello = self.hello
        # One more try after a refusal, then none until the gear agrees or the lever comes in again.
        if (self.gear is None or self.refusals > 1 or tick["lever"] != "gate" or self.age(now) > hello["data_fresh_ms"]
                or now - self.leapt_at < hello.get("plausible_for_ms", 500) + 20
                or self.speed < hello["standstill_kmh"]
                or now - max(self.moved_at, self.command_at) < max(hello["shift_blind_ms"], 1000)
                or now < self.again_from
                or now - self.low_at < hello["range_high_for_ms"]
                or now - self.engaged_at < hello.get("quiet_after_engaging_ms", 500)):
            return None
        if self.reads_gear and now - self.gear_at <= hello["data_fresh_ms"]:
            if self.read_gear != self.gear or now - self.gear_since < hello["shift_settle_ms"]:
                return None
        dwell, gear = hello["opposite_dwell_ms"], self.gear
        up = self.table.get((max(gear, self.lowest), max(gear, self.lowest) + 1))
        if up and self.speed >= up[self.code] and now - self.commands_at["down"] >= dwell:
            return "up"
        down = self.table.get((gear, gear - 1)) if gear > self.lowest else None
        if down and self.speed <= down[self.code] and now - self.commands_at["up"] >= dwell:
            return "down"
        return None

    def tick(self, tick):
        if self.began is None:
            self.began = tick["t"]
        now = since(tick["t"], self.began)
        self.read(tick["answers"], now)
        self.follow_lever(tick, now)
        if self.by_button:
            self.follow_button(tick, now)
        tapped = self.driver_taps(tick, now)
        if tick.get("range", "high") != "high":
            self.low_at = now
        if self.engaged:
            why = self.lets_go(tick, tapped, now)
            if why:
                self.engaged, self.edge_at, self.right_from = False, None, None
                self.paused_until = FAR_PAST
                self.say.append(why)
        elif tapped:
            self.edge_at = None
        if not self.engaged and self.engages(tick, tapped, now):
            self.engaged = self.engaged_once = True
            self.engaged_at, self.edge_at = now, None
            self.engagements.append(now)
            if self.gear is None:
                self.gear = self.entry_gear()
            self.say.append("engaged")
        if not self.ready and self.speed is not None and self.code is not None:
            self.ready = True
            self.say.append("ready")
        self.settle_gear(now)
        acts = self.engaged and now >= self.paused_until
        asks = self.due(tick, now) if acts else None
        if asks:
            self.gear += 1 if asks == "up" else -1
            self.command, self.command_at = asks, now
            self.commands_at[asks] = now
        out = {"engaged": acts}
        if self.gear is not None:
            # What is counted under a range limit is the limit; the gear may lie below it.
            below = self.limits_range and self.read_gear is not None
            out["gear"] = min(self.gear, self.read_gear) if below else self.gear
        if self.asks:
            out["request"] = asks
        else:
            pulse = acts and now - self.command_at < self.width
            out["up"] = pulse and self.command == "up"
            out["down"] = pulse and self.command == "down"
        if self.say and self.hello["announces"]:
            out["announce"] = self.say.pop(0)
        return out


if __name__ == "__main__":
    serve("table", Box)
