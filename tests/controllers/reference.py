#!/usr/bin/env python3
"""The reference controller once more, in Python, over protocol 1.6: it decides the same, tick for tick."""
import json
import sys

NEVER, NO_UP, NO_DOWN = -1_000_000_000, 1e9, -1.0
INSTANCES = 1 if "alone" in sys.argv else 64
PULSE, ECHO, OUT, OFTEN, SETTLED, LIMITED, STILL, LOCKED = 120, 60, 200, 10_000, 1200, 3000, 1000, 3000
ANSWER, NEW_WISH, ROUND, SPARE, MOST_RPM = 2500, 10_000, 100, 20, 16_383.75
IDENTIFIERS = {"speed": "010D", "engine-speed": "010C", "gear": "01A4", "d": "0149", "e": "014A", "relative": "015A"}


class Box:
    def __init__(self, hello):
        vars(self).update(hello)  # every entry of the hello, under its own name
        self.pedals = self.map["pedal_pct"]
        self.lines = {(line["from"], line["to"]): line["speed_kmh"] for line in self.map["lines"]}
        self.requests = self.answers != "contacts"
        own_width = max(min(PULSE, self.longest_pulse_ms), self.shortest_pulse_ms)
        self.width = self.answers["requests"]["width_ms"] if self.requests else own_width
        self.takes_map = self.map_is_good()
        self.reset()

    def map_is_good(self):
        p, n = self.pedals, len(self.pedals)
        axis = n and all(0 <= x <= 100 for x in p) and all(a < b for a, b in zip(p, p[1:]))
        lines = self.lines and len(self.lines) == len(self.map["lines"]) and all(
            abs(a - b) == 1 and min(a, b) >= 1 and max(a, b) <= len(self.rpm_per_kmh) and len(v) == n
            and all(0 <= x <= 255 for x in v) for (a, b), v in self.lines.items())
        return bool(axis and lines) and (self.out_of_first == "by-itself" or (1, 2) in self.lines) and all(
            (g, g + 1) in self.lines and (g + 1, g) in self.lines
            and all(up > down for up, down in zip(self.lines[g, g + 1], self.lines[g + 1, g]))
            for g in range(self.lowest_gear, self.top_gear))

    def reset(self):
        self.v = self.p = self.g = None  # newest samples: (value, arrival)
        self.first_clock = self.still_since = self.due_since = self.turning = self.edge = self.held_since = self.pulse = self.last = None
        self.ready = self.in_gate = self.pressed = self.rising = self.engaged = self.engaged_before = False
        self.engagements = []  # newest first
        self.gear_since = self.implausible = self.paused_until = self.moved = self.last_at = self.last_up = self.last_down = self.low_at = NEVER
        self.turned = self.counted = self.pedal_at_up = self.asked_from = self.tries = self.gear_was = self.wrong = 0
        self.answered, self.engine_off = True, False
        self.rpm, self.standing, self.round, self.off = None, NEVER, NEVER, None

    def read(self, answers, clock, now):
        for answer in (answer for answer in answers if answer.get("value") is not None):
            value, signal = answer["value"], answer["signal"]
            at = now - min((clock - answer["arrival"]) % 2**64, -NEVER)
            old, valid = {
                "speed": (self.v, 0 <= value <= 255), "pedal": (self.p, 0 <= value <= 100),
                "engine-speed": (self.rpm, 0 <= value <= MOST_RPM), "gear": (self.g, 1 <= value <= self.top_gear)}[signal]
            if signal == "pedal" and valid:
                value = min(max((value - self.pedal_released_pct) / ((self.pedal_floored_pct - self.pedal_released_pct) / 100), 0), 100)
            if valid and not (old and old[0] == value):
                self.standing = at
            if signal == "speed" and 0 <= value <= 255:
                self.read_speed(value, at)
            elif signal == "pedal" and valid:
                self.p = value, at
            elif signal == "gear" and 1 <= value <= self.top_gear:
                self.gear_since = self.gear_since if self.g and self.g[0] == value else at
                self.g = int(value), at
            elif signal == "engine-speed":
                self.engine_off = value == 0
                self.rpm = (value, at) if valid else self.rpm

    def read_speed(self, value, at):
        wait = 0
        if self.v:
            change = value - self.v[0]
            self.rising = change > 0 if change else self.rising
            limit = self.fall_limit_kmh_per_s if change < 0 else self.rise_limit_kmh_per_s
            if abs(change) > limit * ((at - self.v[1]) / 1000.0) + 2.0:
                self.implausible, wait = at, LOCKED
        since = at + wait if self.still_since is None else self.still_since
        self.still_since = since if value <= self.standstill_kmh else None
        self.v = value, at

    def stuck(self):
        still = self.rpm[1] - self.standing if self.rpm and self.rpm[0] > 0 else 0
        return self.notices_stuck and still >= self.stuck_noticed_ms // 2

    def ask(self, ignition, now):
        every = max(ROUND, len(self.signals) * 1000 // max(self.most_requests, 1) + SPARE)
        self.off = None if ignition else now if self.off is None else self.off
        if now - self.round < every or (self.off is not None and now - self.off >= self.sleeps_within_ms // 2):
            return []
        self.round = now
        return [IDENTIFIERS[self.pedal_identifier if signal == "pedal" else signal] for signal in self.signals]

    def age(self, now):
        return now - (min(self.v[1], self.p[1]) if self.v and self.p else NEVER)

    def entry_gear(self):
        read = self.g[0] if self.g else 0
        if self.entry in ("current", "one-below"):
            return read - 1 if self.entry == "one-below" and read > 1 else read
        fits = (gear for gear in range(max(self.entry["fixed"], 1), self.top_gear + 1)
                if gear > len(self.rpm_per_kmh) or self.rpm_per_kmh[gear - 1] * self.v[0] <= self.redline_rpm)
        return next(fits, self.top_gear) if self.v else 0

    def follow_lever(self, gate, pressed, now):
        if now == 0:
            self.in_gate, self.pressed = gate, pressed
        self.turning = None if gate == self.in_gate else now if self.turning is None else self.turning
        if self.turning is not None and now - self.turning >= self.lever_bounce_ms:
            arms = self.take_over == "lever" or self.re_arm == "back-in-gate" and self.engaged_before
            self.edge = self.turning if gate and arms and self.turning - self.turned >= OUT else None
            self.counted, self.tries, self.answered = self.entry_gear() if gate else 0, 0, True
            self.in_gate, self.turned, self.turning = gate, self.turning, None
        if pressed and not self.pressed and self.in_gate and self.take_over == "button":
            self.edge = now
        self.pressed = pressed

    def driver_taps(self, tick, now):
        taps = False
        for way in ("up", "down"):
            edges = tick[f"tap_{way}_edges"]
            echo = self.tap_wiring == "shared" and self.last == way and now - self.last_at < self.width + ECHO
            if echo or not (tick["tap_" + way] or edges):
                continue
            taps = True
            if edges:
                self.moved, self.tries, self.answered = now, 0, True
                moved = self.counted + (edges if way == "up" else -edges)
                self.counted = max(1, min(moved, self.top_gear)) if self.counted else 0
        return taps

    def may_engage(self, right, now):
        self.held_since = (now if self.held_since is None else self.held_since) if right else None
        after = self.after_edge
        in_time = self.edge is not None and (after == "any-time" or now - self.edge <= after["within-ms"])
        last = self.engagements[self.most_engagements - 1:] if self.most_engagements else [now]
        often = last and now - last[0] < OFTEN
        if not right or self.engaged or often or not in_time or now - self.held_since < self.conditions_held_ms:
            return False
        self.engaged, self.engaged_before, self.edge = True, True, None
        self.engagements.insert(0, now)
        self.counted = self.counted or self.entry_gear() or self.lowest_gear
        return True

    def correct_count(self, now):
        if not self.counted:
            return
        if self.g:
            below = self.gate == "range-limit" and self.g[0] < self.counted
            since = now if self.due_since is None else self.due_since
            self.due_since = since if below and self.is_up_due(self.g[0]) else None
            likes = below and (self.due_since is None or now - self.due_since < LIMITED) or self.g[1] < max(self.moved, self.turned) + SETTLED
            if not likes and self.g[1] >= (self.last_at + self.shift_confirmed_ms if now - self.g[1] <= self.data_fresh_ms or self.gear_since <= self.last_at else NEVER):
                self.counted = self.g[0]
        elif self.shifts_down_itself and self.still_since is not None and now - self.still_since >= STILL:
            self.counted = min(self.counted, self.lowest_gear)

    def watch_gear(self, now):
        was, self.gear_was = self.gear_was, self.g[0] if self.g else 0
        if self.gear_was == was or not self.gear_was or not was:
            return
        self.tries = 0
        if not self.answered and now - self.last_at <= ANSWER:
            self.answered = True
            if self.gate == "held-gear":
                self.wrong = 0 if self.last == ("up" if self.gear_was > was else "down") else self.wrong + 1

    def given_up(self, way, now):
        return (self.tries > self.refused_retries and self.last == way and self.asked_from == self.counted
                and now - self.last_at < NEW_WISH)

    def line(self, gear, to, missing):
        speeds, p = self.lines.get((gear, to)), self.p[0]
        if speeds is None:
            return missing
        p0, v0 = self.pedals[0], speeds[0]
        for p1, v1 in zip(self.pedals, speeds):
            if p < p1:
                return v1 if p1 == p0 else v0 + (v1 - v0) * (p - p0) / (p1 - p0)
            p0, v0 = p1, v1
        return v0

    def is_up_due(self, gear):
        return self.v and self.p and self.v[0] >= self.line(gear, gear + 1, NO_UP)

    def due(self, now):
        agrees = (not self.g or now - self.g[1] > self.data_fresh_ms
                  or (self.g[0] == self.counted and now - self.gear_since >= self.shift_settle_ms))
        if not (self.age(now) <= self.data_fresh_ms and now - self.implausible >= self.plausible_for_ms
                and self.v[0] >= self.standstill_kmh and not self.engine_off and now - max(self.moved, self.turned) >= self.shift_blind_ms
                and now - self.engagements[0] >= self.quiet_after_engaging_ms and agrees):
            return None
        gear, least = max(self.counted, 1 if self.out_of_first == "commanded" else self.lowest_gear), getattr(self, "downhill_rpm", 0)
        brakes = self.p[0] < 3 and self.rising and gear <= len(self.rpm_per_kmh) and self.rpm_per_kmh[gear - 1] * self.v[0] < least
        if (self.counted < self.top_gear and self.is_up_due(gear) and not brakes
                and not self.given_up("up", now) and now - self.last_down >= self.opposite_dwell_ms):
            return "up"
        excused = self.p[0] - self.pedal_at_up >= self.opposite_pedal_pct
        down = (self.counted > self.lowest_gear and self.v[0] <= self.line(self.counted, self.counted - 1, NO_DOWN)
                and not self.given_up("down", now))
        return "down" if down and (excused or now - self.last_up >= self.opposite_dwell_ms) else None

    def step(self, tick):
        clock, gate, high = tick["t"], tick["lever"] == "gate", tick.get("range", "high") == "high"
        self.first_clock = clock if self.first_clock is None else self.first_clock
        now = (clock - self.first_clock) % 2**64
        self.read(tick["answers"], clock, now)
        self.follow_lever(gate, tick.get("button", False), now)
        taps = self.driver_taps(tick, now)
        self.watch_gear(now)
        self.low_at = self.low_at if high else now
        lost, say = self.age(now) > self.data_lost_ms, None
        if self.engaged:  # disengaging comes first: it wins over whatever else this tick holds
            for happens, reaction in ((taps, self.driver_tap), (lost, self.lost_data)):
                if happens and reaction != "disengages":
                    self.paused_until = max(self.paused_until, now + reaction["pauses-ms"] + 1)
            wrong = self.wrong > self.wrong_shifts
            if not tick["ignition"] or not high or self.stuck() or (lost and self.lost_data == "disengages") or wrong:
                say = "fault"
            elif not self.in_gate or (taps and self.driver_tap == "disengages"):
                say = "disengaged"
            if say:
                self.engaged, self.edge, self.held_since, self.paused_until, self.wrong = False, None, None, NEVER, 0
        elif taps:
            self.edge = None
        bound = self.ceiling_binds == "every" or not self.engaged_before
        right = (self.takes_map and self.v is not None and self.in_gate and gate and tick["ignition"] and not self.engine_off and high and now - self.low_at >= self.range_high_for_ms and not taps and not self.stuck()
                 and now >= self.boot_quiet_ms and self.age(now) <= self.data_fresh_ms and (not bound or self.v[0] <= self.ceiling_kmh))
        if self.may_engage(right, now):
            say = "engaged"
        self.correct_count(now)
        if not self.ready and self.v and self.p:
            self.ready, say = True, say or "ready"
        may = self.engaged and now >= self.paused_until
        way = self.due(now) if may and gate else None
        if way:
            again = self.tries and self.last == way and self.asked_from == self.counted
            self.tries, self.asked_from, self.answered = self.tries + 1 if again else 1, self.counted, False
            self.pulse, self.last, self.last_at, self.moved = way, way, now, now
            self.counted = min(self.counted + 1, self.top_gear) if way == "up" else self.counted - 1
        if way == "up":
            self.last_up, self.pedal_at_up = now, self.p[0]
        elif way:
            self.last_down = now
        if not may or now - self.last_at >= self.width:
            self.pulse = None
        gear = min(self.counted, self.g[0]) if self.g and self.gate == "range-limit" else self.counted
        reply = {"t": clock, "engaged": may, "gear": gear if self.counted else None}
        reply |= {"request": way} if self.requests else {"up": self.pulse == "up", "down": self.pulse == "down"}
        asked = self.ask(tick["ignition"], now)
        reply |= {"requests": asked} if asked and self.sends_requests else {}
        return reply | {"announce": say} if say and self.announces else reply


def answer(box, asked):
    if "reset" in asked:
        box.reset()
        return {"reset": "done"}
    return box.step(asked)


for text in sys.stdin:
    line = json.loads(text)
    if isinstance(line, list):
        reply = [{"i": one["i"]} | answer(boxes[one["i"]], one) for one in line]
    elif "sprag" in line:
        boxes = [Box(line) for _ in range(INSTANCES)]
        me = {"protocol": [1, 6], "name": "reference in Python", "version": "1", "reset": True, "instances": INSTANCES}
        reply = {"hello": me | {"answers": "requests" if boxes[0].requests else "contacts"}}
    else:
        reply = answer(boxes[0], line)
    print(json.dumps(reply), flush=True)
