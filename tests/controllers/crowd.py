#!/usr/bin/env python3
"""Eight boxes in one process, each of which closes a contact for a tick each 1.3 s; the first argument names what is
wrong with them. `alone` as a second argument: it doesn't offer them."""
import json
import sys

mode = sys.argv[1]
alone = "alone" in sys.argv
ticks = 0
state = {}


def answer(i, asked, company):
    global ticks
    if "reset" in asked:
        kept = state.get(i, {}) if mode == "forgets-reset" else {}
        state[i] = {"ticks": 0} | kept
        return {"reset": "done"}
    ticks += 1
    own = state[i]
    own["ticks"] += 1
    if mode == "dies" and asked["supply_mv"] < 9000:
        sys.exit("brown-out")
    if mode == "dies-in-company" and company and asked["supply_mv"] < 9000:
        sys.exit("brown-out")
    count = ticks if mode == "one-clock" else own["ticks"]
    return {"t": asked["t"], "up": count % 130 == 0, "down": False}


for text in sys.stdin:
    line = json.loads(text)
    if isinstance(line, list):
        print(json.dumps([{"i": one["i"]} | answer(one["i"], one, len(line) > 1) for one in line]), flush=True)
    elif "sprag" in line:
        me = {"protocol": [1, 3], "name": "crowd", "version": "1", "answers": "contacts", "reset": True}
        print(json.dumps({"hello": me | ({} if alone else {"instances": 8})}), flush=True)
    else:
        print(json.dumps(answer(0, line, False)), flush=True)
