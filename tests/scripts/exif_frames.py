"""Makes tests/checks/exif: small pictures whose EXIF was written by Pillow, and what Pillow reads back of it.

Needs from PyPI: pillow.
Run from the repository root: python tests/scripts/exif_frames.py

Each picture is a grey ramp. values.csv holds, a row each, the file, the tag's number and the value that
Pillow reads from the finished file (rationals as decimals).
"""

import csv

from PIL import Image
from PIL.TiffImagePlugin import IFDRational

FOLDER = "tests/checks/exif/"
CAMERA = 0x8769
EXPOSURE, STOP, INDEX, DISTANCE, FOCAL = 33434, 33437, 34855, 37382, 37386
TIME_APEX, STOP_APEX = 37377, 37378
ACROSS, DOWN, PLANE_X, PLANE_Y, PLANE_UNIT, EQUAL = 40962, 40963, 41486, 41487, 41488, 41989

FILES = {
    # A telephone: 4:3, the equivalent told.
    "phone.jpg": ((120, 90), 1, ">", {
        EXPOSURE: IFDRational(1, 120), STOP: IFDRational(178, 100), INDEX: 64, FOCAL: IFDRational(51, 10),
        EQUAL: 26, ACROSS: 120, DOWN: 90,
    }),
    # The same held upright, stored lying.
    "upright.jpg": ((120, 90), 6, "<", {FOCAL: IFDRational(51, 10), EQUAL: 26, ACROSS: 120, DOWN: 90}),
    # A still camera that tells the resolution in its sensor's plane, pixels per centimetre: 36 x 24 mm.
    "still.tif": ((90, 60), 1, "<", {
        FOCAL: IFDRational(50, 1), PLANE_X: IFDRational(25, 1), PLANE_Y: IFDRational(25, 1), PLANE_UNIT: 3,
        ACROSS: 90, DOWN: 60, TIME_APEX: IFDRational(6, 1), STOP_APEX: IFDRational(5, 1),
    }),
    "plain.png": ((96, 54), 1, ">", {EQUAL: 35, DISTANCE: IFDRational(5, 2), INDEX: 800}),
    # Cut to 12:5 after its EXIF was written.
    "cut.jpg": ((120, 50), 1, "<", {FOCAL: IFDRational(51, 10), EQUAL: 26, ACROSS: 120, DOWN: 90}),
    # A focal length and nothing to measure it by.
    "lens.jpg": ((90, 60), 1, "<", {FOCAL: IFDRational(50, 1), INDEX: 0}),
}


def picture(size):
    out = Image.new("L", size)
    out.putdata([40 + (150 * (i % size[0])) // size[0] for i in range(size[0] * size[1])])
    return out.convert("RGB")


rows = []
for name, (size, orientation, order, camera) in FILES.items():
    exif = Image.Exif()
    exif.endian = order
    exif[0x0112] = orientation
    exif.get_ifd(CAMERA).update(camera)
    # Of a TIFF Pillow writes only what the block itself says that it has.
    exif[CAMERA] = exif.get_ifd(CAMERA)
    options = {"quality": 95, "subsampling": 0} if name.endswith("jpg") else {}
    picture(size).save(FOLDER + name, exif=exif, **options)
    back = Image.open(FOLDER + name).getexif().get_ifd(CAMERA)
    assert set(camera) <= set(back), (name, back)
    rows += [(name, tag, repr(float(back[tag]))) for tag in camera]

with open(FOLDER + "values.csv", "w", newline="") as f:
    out = csv.writer(f, lineterminator="\n")
    out.writerow(("file", "tag", "value"))
    out.writerows(rows)
