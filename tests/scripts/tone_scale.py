"""The tone scale of an open standard's rendering for a standard display.

Writes tests/checks/tone_scale.csv: scene level of a grey in stops against 0.18, and the display's light, 0
to 1, through the ACES 1.0 output transform for SDR video (D65, 100 cd/m2), as OpenColorIO's built-in
transform works it out.

    pip install numpy opencolorio
    python tests/scripts/tone_scale.py

Run from the repository root.
"""

import csv

import numpy as np
import PyOpenColorIO as ocio

STYLE = "ACES-OUTPUT - ACES2065-1_to_CIE-XYZ-D65 - SDR-VIDEO_1.0"

config = ocio.Config.CreateRaw()
processor = config.getProcessor(ocio.BuiltinTransform(style=STYLE)).getDefaultCPUProcessor()
with open("tests/checks/tone_scale.csv", "w", newline="") as file:
    table = csv.writer(file, lineterminator="\n")
    table.writerow(["stops", "light"])
    for stops in np.arange(-8.0, 7.01, 0.125):
        light = processor.applyRGB([0.18 * 2.0**stops] * 3)[1]
        table.writerow([f"{stops:.3f}", f"{light:.8f}"])
