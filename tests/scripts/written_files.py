"""What other libraries read in files that this program wrote, into tests/checks/written.

quay.exr is made here: shading, an edge and noise, as half floats with ACEScg's chromaticities, by OpenEXR's own library.
The program writes it without glass as PNG, TIFF, JPEG and EXR; OpenCV (libpng, libjpeg), tifffile and OpenEXR read
those back. values.csv: file, row, and the mean of red, green and blue over that row, in codes or in light. PNG and JPEG
are of several strips.

    pip install numpy opencv-python-headless tifffile OpenEXR
    cargo build --release --no-default-features
    python tests/scripts/written_files.py target/release/foreglass
"""

import csv
import subprocess
import sys
import tempfile
from pathlib import Path

import cv2
import numpy as np
import OpenEXR
import tifffile

PLACE = Path(__file__).parent.parent / "checks" / "written"
WIDTH, HEIGHT = 37, 150
# AP1 and the ACES white (Academy S-2014-004).
CHROMATICITIES = (0.713, 0.293, 0.165, 0.830, 0.128, 0.044, 0.32168, 0.33767)


def picture():
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    level = 0.3 * (1.0 + 0.8 * np.sin(x / 9.0) * np.cos(y / 31.0)) * np.where((x // 11 + y // 40) % 3 == 0, 2.0, 1.0)
    light = level[..., None] * [1.0, 0.8, 0.6]
    noise = np.random.default_rng(7).standard_normal(light.shape)
    return (light + noise * np.sqrt(2e-3 * light)).astype(np.float16)


def read(path):
    if path.suffix == ".exr":
        return OpenEXR.File(str(path)).channels()["RGB"].pixels
    if path.suffix == ".tif":
        return tifffile.imread(path)
    return cv2.imread(str(path), cv2.IMREAD_UNCHANGED)[..., ::-1]


def main():
    source = PLACE / "quay.exr"
    header = {
        "compression": OpenEXR.ZIP_COMPRESSION,
        "type": OpenEXR.scanlineimage,
        "chromaticities": CHROMATICITIES,
    }
    OpenEXR.File(header, {"RGB": picture()}).write(str(source))
    with tempfile.TemporaryDirectory() as folder:
        recipe = Path(folder) / "bare.json"
        recipe.write_text('{"format": "foreglass.recipe", "version": 1}')
        with open(PLACE / "values.csv", "w", newline="") as out:
            rows = csv.writer(out, lineterminator="\n")
            rows.writerow(["file", "row", "red", "green", "blue"])
            for ending in ["png", "tif", "jpg", "exr"]:
                path = PLACE / f"written.{ending}"
                subprocess.run([sys.argv[1], "render", source, "--recipe", recipe, "--bare", "--out", path], check=True)
                pixels = read(path)
                assert pixels.shape == (HEIGHT, WIDTH, 3), pixels.shape
                means = pixels.astype(np.float64).mean(axis=1)
                for y in range(0, HEIGHT, 3):
                    rows.writerow([path.name, y, *(f"{v:.9g}" for v in means[y])])


main()
