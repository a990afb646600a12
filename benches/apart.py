"""Runs benches of `limits` with each of their working threads held to a core of its own. Linux.

    python3 benches/apart.py slider drag

Work that lasts some milliseconds and begins after a pause is at the mercy of where the kernel wakes threads: on a virtual machine whose
idle cores look taken it was seen to put two of them on one core and leave the other idle. This tells what the code takes.
"""
import json
import os
import subprocess
import sys
import time

here = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))


def program():
    out = subprocess.run(["cargo", "bench", "--bench", "limits", "--no-run", "--message-format=json"], check=True,
                         stdout=subprocess.PIPE, text=True, cwd=here).stdout
    made = (json.loads(line) for line in out.splitlines() if line.startswith("{"))
    return [m["executable"] for m in made if m.get("executable")][-1]


running = subprocess.Popen([program(), *sys.argv[1:]], cwd=here)
cores, held = sorted(os.sched_getaffinity(0)), {}
while running.poll() is None:
    for thread in sorted(map(int, os.listdir(f"/proc/{running.pid}/task"))):
        try:
            with open(f"/proc/{running.pid}/task/{thread}/comm", encoding="utf-8") as f:
                works = f.read().startswith("limits") and thread != running.pid
            if works and thread not in held:
                held[thread] = cores[len(held) % len(cores)]
                os.sched_setaffinity(thread, {held[thread]})
        except (FileNotFoundError, ProcessLookupError):
            pass  # It has ended meanwhile.
    time.sleep(0.02)
sys.exit(running.returncode)
