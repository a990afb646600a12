"""How long the window takes to show the sample's picture, beside an empty window of the same toolkit, and what it does
when nothing is asked of it. Linux; needs Xvfb, a Vulkan driver (software counts) and python-xlib.

    python3 benches/start.py
"""
import json
import os
import statistics
import subprocess
import sys
import time

from Xlib import X, display

TIMES = 5
here = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))


def built(*args):
    """The path of what cargo builds."""
    out = subprocess.run(["cargo", *args, "--message-format=json"], check=True, capture_output=True, text=True,
                         cwd=here).stdout
    paths = [json.loads(line).get("executable") for line in out.splitlines()]
    return [p for p in paths if p][-1]


def spread(root, box):
    """The grey range of a part of the screen, and its mean."""
    x, y, w, h = box
    data = root.get_image(x, y, w, h, X.ZPixmap, 0xFFFFFFFF).data
    values = [v for i, v in enumerate(data) if i % 4 != 3]
    return max(values) - min(values), statistics.mean(values)


def until(program, shown):
    """Milliseconds from the start until `shown` of the screen; the program is left running."""
    screen = display.Display(env["DISPLAY"])
    root = screen.screen().root
    began = time.monotonic()
    process = subprocess.Popen(program, env=env, cwd=here, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    while not shown(root):
        if process.poll() is not None or time.monotonic() - began > 60:
            sys.exit(f"{program[0]} showed nothing")
        time.sleep(0.002)
    took = 1e3 * (time.monotonic() - began)
    screen.close()
    return took, process


def processor_seconds(pid):
    with open(f"/proc/{pid}/stat", encoding="ascii") as f:
        fields = f.read().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


empty = built("bench", "--bench", "empty_window", "--no-run")
program = built("build", "--release", "--bin", "foreglass")
env = dict(os.environ, DISPLAY=":83")
env.pop("WAYLAND_DISPLAY", None)
server = subprocess.Popen(["Xvfb", ":83", "-screen", "0", "1280x800x24", "-nolisten", "tcp"], stderr=subprocess.DEVNULL)
time.sleep(1)
try:
    times = {"empty": [], "picture": []}
    for turn in range(TIMES + 1):
        # The middle of the screen in the empty window's colour; a picture's texture in the left pane.
        took, process = until([empty], lambda root: spread(root, (620, 400, 8, 8))[1] > 60)
        process.kill()
        process.wait()
        if turn:  # the first of each finds nothing in the system's caches
            times["empty"].append(took)
        took, process = until([program], lambda root: spread(root, (330, 300, 200, 60))[0] > 40
                              and spread(root, (330, 300, 200, 60))[1] > 4)
        if turn:
            times["picture"].append(took)
        if turn == TIMES:
            time.sleep(3)
            before = processor_seconds(process.pid)
            time.sleep(10)
            idle = 10 * (processor_seconds(process.pid) - before)
        process.kill()
        process.wait()
    nothing, picture = (statistics.median(times[k]) for k in ("empty", "picture"))
    print(json.dumps({"bench": "start", "empty_ms": round(nothing), "picture_ms": round(picture),
                      "over_ms": round(picture - nothing), "idle_percent": round(idle, 2)}))
finally:
    server.kill()
