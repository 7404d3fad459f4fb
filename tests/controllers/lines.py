"""The line protocol for boxes in Python: most ticks differ from the one before in their time only."""
import json
import sys


def serve(name, make):
    """Answers the hello, then drives the box that `make` makes of it: `reset()` and `tick(dict) -> dict` without t."""
    box = None
    seen, tick = None, None
    said, words = None, ""
    read, write = sys.stdin.buffer, sys.stdout.buffer
    for text in read:
        if not text.startswith(b'{"t":'):
            line = json.loads(text)
            if "sprag" in line:
                box = make(line)
                kind = "contacts" if line["answers"] == "contacts" else "requests"
                hello = {"protocol": [1, 0], "name": name, "version": "1", "answers": kind, "reset": True}
                answer = {"hello": hello}
            else:
                box.reset()
                answer = {"reset": "done"}
            write.write(json.dumps(answer).encode() + b"\n")
            write.flush()
            continue
        comma = text.index(b",")
        if text[comma:] != seen:
            seen, tick = text[comma:], json.loads(text)
        time = text[5:comma]
        tick["t"] = int(time)
        out = box.tick(tick)
        if out != said:
            said, words = out, json.dumps(out)[1:].encode() + b"\n"
        write.write(b'{"t":' + time + b"," + words)
        write.flush()


def since(now, then):
    """Milliseconds from one reading of the box's clock to another; the clock may wrap."""
    apart = (now - then) % 2**64
    return apart - 2**64 if apart >= 2**63 else apart
