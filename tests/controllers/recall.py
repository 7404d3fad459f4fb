#!/usr/bin/env python3
"""A box that keeps no state but a diary: what happened and when. Each tick it reads in the diary what stands.

It engages by a button, closes contacts on wires it shares with the lever, and pauses on the driver's tap; where its
hello says otherwise it follows that. After a tap of the driver it knows no gear until the lever comes in again.
"""
from lines import serve, since

LONG_AGO = -10**9


class Box:
    def __init__(self, hello):
        self.h = hello
        self.reset()

    def reset(self):
        self.start = None
        self.diary = {}
        self.samples = {"speed": [], "pedal": []}
        self.engaged = False

    # The diary ---------------------------------------------------------------------------------------------------

    def note(self, what, at, value=None):
        self.diary[what] = (at, value)

    def at(self, what):
        return self.diary.get(what, (LONG_AGO, None))[0]

    def value(self, what):
        return self.diary.get(what, (LONG_AGO, None))[1]

    def ago(self, what, now):
        return now - self.at(what)

    # Reading -----------------------------------------------------------------------------------------------------

    def learn(self, answers):
        for answer in answers:
            signal, value = answer["signal"], answer.get("value")
            most = {"speed": 255, "pedal": 100}.get(signal)
            if most is None or value is None or not 0 <= value <= most:
                continue
            kept = self.samples[signal]
            kept.append((since(answer["arrival"], self.start), value))
            del kept[:-2]
            if signal == "speed" and len(kept) == 2 and self.leaps(*kept):
                self.note("leap", kept[-1][0])
            if signal == "speed":
                self.note_standing(*kept[-1])

    def leaps(self, old, new):
        seconds, by = (new[0] - old[0]) / 1000, new[1] - old[1]
        limit = self.h["rise_limit_kmh_per_s"] if by > 0 else self.h["fall_limit_kmh_per_s"]
        return abs(by) > limit * seconds + 2

    def note_standing(self, at, kmh):
        if kmh > self.h["standstill_kmh"]:
            self.diary.pop("standing", None)
        elif "standing" not in self.diary:
            self.note("standing", at + (8000 if self.at("leap") == at else 0))

    def age(self, now):
        if not (self.samples["speed"] and self.samples["pedal"]):
            return 10**9
        return now - min(self.samples["speed"][-1][0], self.samples["pedal"][-1][0])

    def speed(self):
        return self.samples["speed"][-1][1]

    # What stands -------------------------------------------------------------------------------------------------

    def gear_on_entry(self):
        h = self.h
        if not self.samples["speed"]:
            return None
        fits = (gear for gear in range(h["entry"]["fixed"], h["top_gear"])
                if h["rpm_per_kmh"][gear - 1] * self.speed() <= h["redline_rpm"])
        return next(fits, h["top_gear"])

    def notice(self, tick, now):
        h = self.h
        gate = tick["lever"] == "gate"
        if gate and "out" in self.diary:
            away = self.ago("out", now)
            del self.diary["out"]
            if away >= h["lever_bounce_ms"]:
                self.note("entry", now)
                self.note("gear", now, self.gear_on_entry())
                if away >= 200 and h["take_over"] == "lever":
                    self.note("asked", now)
        elif not gate and "out" not in self.diary:
            self.note("out", LONG_AGO if now == 0 else now)
        pressed = tick.get("button", False)
        if pressed and not self.value("button") and now > 0 and gate and not self.engaged:
            self.note("asked", now)
        self.note("button", now, pressed)
        for way in ("up", "down"):
            mine = h["tap_wiring"] == "shared" and self.ago(way, now) < 120 + 70
            if (tick["tap_" + way] or tick["tap_%s_edges" % way]) and not mine:
                self.note("tap", now)
                self.note("gear", now, None)
        if (h["shifts_down_itself"] and self.value("gear") and "standing" in self.diary
                and self.ago("standing", now) >= 2500 and self.value("gear") > h["lowest_gear"]):
            self.note("gear", now, h["lowest_gear"])

    def cause(self, tick, now):
        h = self.h
        if tick.get("range", "high") != "high":
            self.note("low", now)
        if not tick["ignition"] or self.at("low") == now:
            return "fault"
        if self.age(now) > h["data_lost_ms"]:
            if h["lost_data"] == "disengages":
                return "fault"
            self.note("loss", now)
        if "out" in self.diary and self.ago("out", now) >= h["lever_bounce_ms"]:
            return "disengaged"
        if self.at("tap") == now and (h["driver_tap"] == "disengages" or not self.engaged):
            return "disengaged"
        return None

    def pauses(self, now):
        for what, reaction in (("tap", self.h["driver_tap"]), ("loss", self.h["lost_data"])):
            if reaction != "disengages" and self.ago(what, now) <= reaction["pauses-ms"] + 30:
                if self.at(what) >= self.at("engaged"):
                    return True
        return False

    def wants_to_engage(self, tick, now):
        h = self.h
        first = "engaged" not in self.diary or h["ceiling_binds"] == "every"
        right = (tick["lever"] == "gate" and self.age(now) <= h["data_fresh_ms"] and self.at("tap") != now
                 and self.ago("low", now) > h["range_high_for_ms"]
                 and (not first or self.speed() <= h["ceiling_kmh"]))
        if not right:
            self.note("wrong", now)
        window = 10**9 if h["after_edge"] == "any-time" else h["after_edge"]["within-ms"]
        fifth = (self.value("engaged") or [])[-5:]
        often = len(fifth) == 5 and now - fifth[0] < 10_000
        return (right and self.ago("wrong", now) > h["conditions_held_ms"] + 200 and not often
                and self.at("asked") > self.at("ended") and self.ago("asked", now) <= window)

    def shift(self, now):
        h, gear = self.h, self.value("gear")
        if (not gear or self.age(now) > h["data_fresh_ms"] or self.speed() < h["standstill_kmh"]
                or self.ago("leap", now) < h.get("plausible_for_ms", 500) + 30
                or now - self.value("engaged")[-1] < 550 or self.ago("entry", now) < h["shift_blind_ms"]
                or min(self.ago("up", now), self.ago("down", now)) < max(h["shift_blind_ms"], 1000)):
            return None
        if self.beyond(gear, gear + 1) >= 0 and self.ago("down", now) >= h["opposite_dwell_ms"]:
            return "up"
        if gear > h["lowest_gear"] and self.beyond(gear, gear - 1) <= 0 and self.ago("up", now) >= h["opposite_dwell_ms"]:
            return "down"
        return None

    def beyond(self, low, high):
        """How far the speed read lies above a line; where there is none, on the side that asks for nothing."""
        shift_map, pedal = self.h["map"], self.samples["pedal"][-1][1]
        for line in shift_map["lines"]:
            if line["from"] == low and line["to"] == high:
                at, v = shift_map["pedal_pct"], line["speed_kmh"]
                right = next(i for i in range(1, len(at)) if pedal <= at[i] or i == len(at) - 1)
                part = (pedal - at[right - 1]) / (at[right] - at[right - 1])
                return self.speed() - (v[right - 1] + (v[right] - v[right - 1]) * part)
        return -1 if high > low else 1

    def tick(self, tick):
        if self.start is None:
            self.start = tick["t"]
        now = since(tick["t"], self.start)
        self.learn(tick["answers"])
        self.notice(tick, now)
        says = None
        cause = self.cause(tick, now)
        if cause:
            self.note("wrong", now)
            self.note("ended", now)
            says = cause if self.engaged else None
            self.engaged = False
        elif not self.engaged and self.wants_to_engage(tick, now):
            self.engaged = True
            self.note("engaged", now, (self.value("engaged") or [])[-4:] + [now])
            if self.value("gear") is None and self.at("tap") < self.at("entry"):
                self.note("gear", now, self.gear_on_entry())
            says = "engaged"
        acts = self.engaged and not self.pauses(now)
        way = self.shift(now) if acts and tick["lever"] == "gate" else None
        if way:
            self.note(way, now)
            self.note("gear", now, self.value("gear") + (1 if way == "up" else -1))
        out = {"up": acts and self.ago("up", now) < 120, "down": acts and self.ago("down", now) < 120, "engaged": acts}
        if says is None and "ready" not in self.diary and self.age(now) < 10**9:
            says = "ready"
            self.note("ready", now)
        if says and self.h["announces"]:
            out["announce"] = says
        return out


if __name__ == "__main__":
    serve("recall", Box)
