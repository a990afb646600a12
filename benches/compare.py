"""Runs `cargo bench` and the peer in one go and prints ratios. Needs NumPy and SciPy.

    python3 benches/compare.py
"""
import os
import re
import sys

import apart

SIZES = [(1920, 1080), (4243, 2828), (6000, 4000), (8191, 5461)]
UNIT = {"ns": 1e-6, "µs": 1e-3, "ms": 1.0, "s": 1e3}
here = os.path.dirname(os.path.abspath(__file__))


def divan():
    """Milliseconds of every bench (fastest, slowest, median, mean), by its name and size."""
    out = apart.run([apart.program("light"), "--bench"])
    times, path = {}, []
    for line in out.splitlines():
        name = re.match(r"([│ ]*)[├╰]─ ([\w-]+)", line)
        if name:  # three characters a level
            path = [*path[:len(name.group(1)) // 3], name.group(2)]
        size = re.search(r"\[(\d+), (\d+)\]", line)
        figures = re.findall(r"([\d.]+) (ns|µs|ms|s)\b", line)
        if figures:  # fastest, slowest, median, mean
            bench = path[0] if size else " ".join(path)
            key = (bench, (int(size.group(1)), int(size.group(2))) if size else None)
            times[key] = [float(v) * UNIT[u] for v, u in figures]
    return times


def peer():
    """Milliseconds of the peer by size."""
    sizes = [f"{w}x{h}" for w, h in SIZES]
    out = apart.run([sys.executable, os.path.join(here, "peer_dct.py"), *sizes])
    return {tuple(map(int, line.split()[:2])): float(line.split()[2]) for line in out.splitlines()}


def table(ours, peer):
    """Prints the ratios."""
    print("   size        peer ms  scatter ms  peer/scatter   look ms  look/scatter")
    for size in SIZES:
        scatter, look = ours[("scatter", size)][0], ours[("look", size)][0]
        print(f"{size[0]:5}x{size[1]:<5} {peer[size]:9.0f} {scatter:11.1f} {peer[size] / scatter:12.1f}x"
              f" {look:10.1f} {look / scatter:12.2f}x")
    for (bench, size), figures in ours.items():
        if size is None and bench.startswith(("oriented", "wide")):
            kind, switch, glass = bench.split()
            words = {"oriented": ("kept", "made anew"), "wide": ("even", "stretched")}[kind]
            print(f"{kind}, {glass}, {words[switch == 'true']}, 2 MP: {figures[0]:.1f} ms")
    print(f"preview, 2 MP, plan included: median {ours[('preview', None)][2]:.1f} ms")
    print(f"another strength, 2 MP, plan included: median {ours[('slider', None)][2]:.1f} ms")


if __name__ == "__main__":
    table(divan(), peer())
