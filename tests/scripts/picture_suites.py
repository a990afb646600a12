"""What other decoders make of the pictures of two test suites, written to tests/checks/suites/values.csv.

PNG: the pictures of PngSuite (W. van Schaik; free for any purpose) that come with libpng, decoded by OpenCV (libpng).
TIFF: test pictures of libtiff (its licence), decoded by tifffile and imagecodecs, which are not libtiff.
Each row: file, width, height, mean of red, green and blue over the picture, and the three at five places, as parts of the
largest code. A file that the other decoder refuses has no figures.

    pip install numpy opencv-python-headless tifffile imagecodecs
    python tests/scripts/picture_suites.py
"""

import csv
from pathlib import Path

import cv2
import numpy as np
import tifffile

SUITES = Path(__file__).parent.parent / "checks" / "suites"
PLACES = [(0, 0), (0.5, 0.5), (0.25, 0.75), (0.8, 0.1), (0.999, 0.999)]


def png(path):
    pixels = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    if pixels.ndim == 3:
        pixels = pixels[..., :3][..., ::-1]
    return pixels, np.iinfo(pixels.dtype).max


def tiff(path):
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        pixels = page.asarray()
        kind = page.photometric.name
        top = float(2**page.bitspersample - 1) if pixels.dtype.kind == "u" else 1.0
        if kind == "PALETTE":
            return np.moveaxis(np.asarray(page.colormap)[:, pixels.astype(int)], 0, -1), 65535.0
        if kind == "MINISWHITE":
            pixels = top - pixels
        if kind not in ("MINISWHITE", "MINISBLACK", "RGB"):
            raise ValueError(kind)
        if pixels.ndim == 3 and page.planarconfig == tifffile.PLANARCONFIG.SEPARATE:
            pixels = np.moveaxis(pixels, 0, -1)
        if kind != "RGB" and pixels.ndim == 3:
            pixels = pixels[..., 0]
        return pixels, 1.0 if pixels.dtype == bool else top


def main():
    with open(SUITES / "values.csv", "w", newline="") as out:
        rows = csv.writer(out, lineterminator="\n")
        rows.writerow(["file", "width", "height", *(f"{p}_{c}" for p in ("mean", 1, 2, 3, 4, 5) for c in "rgb")])
        for path in sorted([*SUITES.glob("png/*"), *SUITES.glob("tiff/*")]):
            name = f"{path.parent.name}/{path.name}"
            try:
                pixels, top = (png if path.parent.name == "png" else tiff)(path)
            except Exception as error:
                print(name, "refused:", error)
                rows.writerow([name])
                continue
            light = np.asarray(pixels, float) / top
            if light.ndim == 2:
                light = np.repeat(light[..., None], 3, axis=2)
            light = light[..., :3]
            height, width = light.shape[:2]
            at = [light[int(y * height), int(x * width)] for x, y in PLACES]
            figures = [light.mean(axis=(0, 1)), *at]
            rows.writerow([name, width, height, *(f"{v:.7f}" for f in figures for v in f)])


if __name__ == "__main__":
    main()
