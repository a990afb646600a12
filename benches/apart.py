"""Runs a bench with each of its working threads held to a core of its own, where that can be done (Linux).

    python3 benches/apart.py limits slider drag

Work that lasts some milliseconds is at the mercy of where the kernel wakes threads: on a virtual machine whose idle cores look
taken it was seen to keep both workers on one core, the other idle, for as long as a bench took. This tells what the code
takes; `cargo bench` by itself tells what such a machine makes of it. The tables are made so, for the peer as well.
"""
import json
import os
import subprocess
import sys
import tempfile
import time

here = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))


def program(bench):
    """Builds a bench; the path of its program."""
    out = subprocess.run(["cargo", "bench", "--bench", bench, "--no-run", "--message-format=json"], check=True,
                         stdout=subprocess.PIPE, text=True, cwd=here).stdout
    made = (json.loads(line) for line in out.splitlines() if line.startswith("{"))
    return next(m["executable"] for m in made if m.get("executable") and m["target"]["name"] == bench)


def name(process, thread):
    with open(f"/proc/{process}/task/{thread}/comm", encoding="utf-8") as f:
        return f.read()


def run(command):
    """What a command prints."""
    with tempfile.TemporaryFile("w+", encoding="utf-8") as out:
        running = subprocess.Popen(command, cwd=here, stdout=out)
        hold(running)
        if running.returncode:
            sys.exit(running.returncode)
        out.seek(0)
        return out.read()


def hold(running):
    """Holds a program's workers, which have its own name, until it ends."""
    if not hasattr(os, "sched_setaffinity"):
        running.wait()
        return
    cores, held = sorted(os.sched_getaffinity(0)), {}
    while running.poll() is None:
        try:
            for thread in sorted(map(int, os.listdir(f"/proc/{running.pid}/task"))):
                works = thread != running.pid and name(running.pid, thread) == name(running.pid, running.pid)
                if works and thread not in held:
                    held[thread] = cores[len(held) % len(cores)]
                    os.sched_setaffinity(thread, {held[thread]})
        except (FileNotFoundError, ProcessLookupError):
            pass  # One has ended meanwhile.
        time.sleep(0.02)


if __name__ == "__main__":
    print(run([program(sys.argv[1]), "--bench", *sys.argv[2:]]), end="")
