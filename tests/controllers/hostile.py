#!/usr/bin/env python3
"""A controller that misbehaves in the way its first argument names, at the tick of its second (default 50 ms)."""
import json
import os
import signal
import subprocess
import sys
import time

mode = sys.argv[1]
when = int(sys.argv[2]) if len(sys.argv) > 2 else 50
first = None


def say(text):
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if mode == "ignores-term":
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
if mode == "silent":
    time.sleep(60)
if mode == "dies-at-start":
    sys.exit("no map file")

for text in sys.stdin:
    line = json.loads(text)
    if "sprag" in line:
        hello = {"protocol": [1, 0], "name": "hostile", "version": "0", "answers": "contacts", "reset": mode != "no-reset"}
        if mode == "no-hello":
            say("Hello!")
        elif mode == "newer":
            hello["protocol"] = [2, 0]
        elif mode == "requests":
            hello["answers"] = "requests"
        if mode != "no-hello":
            say(json.dumps({"hello": hello}))
        continue
    if "reset" in line:
        say('{"reset": "done"}')
        first = None
        continue
    t = line["t"]
    first = t if first is None else first
    if t - first > 60_000:  # only an idle hour lasts so long: nothing here is asked after one, and it takes Python ten seconds
        sys.exit("waited for long enough")
    if mode == "bad-then-dies":  # in each drive it commands though it never engaged; where the clock starts high it dies
        if t > 1 << 30 and t - first >= 1000:
            sys.exit(3)
        say(json.dumps({"t": t, "up": 500 <= t - first < 620, "down": False}))
        continue
    answer = json.dumps({"t": t, "up": False, "down": False})
    if t < when:
        say(answer)
    elif mode == "hangs" or mode == "ignores-term":
        while True:
            time.sleep(1)
    elif mode == "floods":
        say(answer + "\n" + answer)
    elif mode == "closes":
        os.close(1)
        time.sleep(60)
    elif mode == "garbage":
        say("shifting up now")
    elif mode == "wrong-key":
        say(json.dumps({"t": t, "up": False, "down": False, "gaer": 3}))
    elif mode == "other-tick":
        say(json.dumps({"t": t - 10, "up": False, "down": False}))
    elif mode == "dies":
        sys.stderr.write("division by zero\n")
        sys.exit(3)
    elif mode == "killed":
        os.kill(os.getpid(), signal.SIGKILL)
    elif mode == "nan":
        say('{"t": NaN, "up": false, "down": false}')
    elif mode == "huge-line":
        say("x" * (2 * 1024 * 1024))
    elif mode == "stderr-flood":
        sys.stderr.write("talk " * 400_000 + "\n")
        say(answer)
        when = 1 << 60
    elif mode == "leaves-child":
        subprocess.Popen(["sleep", "60"])
        say(answer)
        when = 1 << 60
    else:
        say(answer)
