"""Runs `cargo bench --bench files` and peers in one go and prints ratios: OpenCV for JPEG, PNG and TIFF, OpenEXR's own
library for EXR, each with its usual settings (JPEG at the same quality with colour at full size; TIFF as OpenCV
packs it, LZW), on the very same pictures. The peers code samples only: our figures hold light to codes, and
codes to light and the search for clipped samples, as well. Needs NumPy, opencv-python-headless and OpenEXR.

    python3 benches/peer_codecs.py
"""
import os
import re
import subprocess
import sys
import tempfile
import time

import cv2
import numpy as np
import OpenEXR

KINDS = ["jpg", "png", "tif", "exr"]
UNIT = {"ns": 1e-6, "µs": 1e-3, "ms": 1.0, "s": 1e3}
JPEG = [cv2.IMWRITE_JPEG_QUALITY, 92, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444]
here = os.path.dirname(os.path.abspath(__file__))


def ours(folder):
    out = subprocess.run(["cargo", "bench", "--bench", "files", *sys.argv[1:]], check=True, capture_output=True,
                         text=True, cwd=os.path.dirname(here),
                         env={**os.environ, "FOREGLASS_BENCH_FILES": folder}).stdout
    times, path = {}, []
    for line in out.splitlines():
        name = re.match(r"([│ ]*)[├╰]─ ([\w-]+)", line)
        if name:  # three characters a level
            path = [*path[:len(name.group(1)) // 3], name.group(2)]
        figures = re.findall(r"([\d.]+) (ns|µs|ms|s)\b", line)
        if figures and len(path) == 3:  # bench, cores, kind: fastest, slowest, median, mean
            times[tuple(path)] = float(figures[0][0]) * UNIT[figures[0][1]]
    return times


def best(work, times=3):
    found = []
    for _ in range(times):
        start = time.perf_counter()
        result = work()
        found.append((time.perf_counter() - start) * 1e3)
    return min(found), result


def peer(folder, kind):
    path = os.path.join(folder, "bench." + kind)
    again = os.path.join(folder, "peer." + kind)
    if kind == "exr":
        decode, pixels = best(lambda: OpenEXR.File(path).channels()["RGB"].pixels)
        header = {"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage}
        encode, _ = best(lambda: OpenEXR.File(header, {"RGB": pixels}).write(again))
        return encode, decode, os.path.getsize(again)
    with open(path, "rb") as file:
        data = np.frombuffer(file.read(), np.uint8)
    decode, pixels = best(lambda: cv2.imdecode(data, cv2.IMREAD_UNCHANGED))
    encode, (_, packed) = best(lambda: cv2.imencode("." + kind, pixels, JPEG if kind == "jpg" else []))
    return encode, decode, len(packed)


with tempfile.TemporaryDirectory() as folder:
    times = ours(folder)
    print("12 MP   encode: peer ms  one core  all cores  peer/all   MB (peer)"
          "   decode: peer ms  one core  all cores  peer/all")
    for kind in KINDS:
        encode, decode, size = peer(folder, kind)
        e, d = ([times[(what, cores, kind)] for cores in ("1", "0")] for what in ("encode", "decode"))
        own = os.path.getsize(os.path.join(folder, "bench." + kind))
        print(f"{kind:8}{encode:15.0f} {e[0]:9.0f} {e[1]:10.0f} {encode / e[1]:8.1f}x {own / 1e6:5.1f} ({size / 1e6:.1f})"
              f"{decode:17.0f} {d[0]:9.0f} {d[1]:10.0f} {decode / d[1]:8.1f}x")
