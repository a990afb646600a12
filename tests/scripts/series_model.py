"""Makes tests/checks/series_model.csv: the light-balancing model of the numbers 80 to 85, worked out
with colour-science (PyPI) at 1 nm over 360-830 nm, apart from foreglass's own 5 nm tables.

Columns: correlated colour temperature (Ohno 2013) of 3200 K and 5500 K Planckian light and of CIE D55
through the glass, its loss under the first two, and its conversion power after JIS B 7125,
V = 221 (log10 Tr - log10 Tb), Tr the mean transmittance at 610, 635, 655 nm and Tb at 405, 435, 465 nm.
"""
import csv
import sys

import colour
import numpy as np

C2 = 1.438776877e-2
SHAPE = colour.SpectralShape(360, 830, 1)
NM = SHAPE.wavelengths
CMFS = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(SHAPE).values
SERIES = [("80A", -131), ("80B", -112), ("80C", -81), ("80D", -56), ("82", -10), ("82A", -21),
          ("82B", -32), ("82C", -45), ("81", 9), ("81A", 18), ("81B", 27), ("81C", 35), ("81D", 42),
          ("81EF", 52), ("85C", 81), ("85", 112), ("85B", 131)]


def planck(kelvin):
    metres = NM * 1e-9
    return metres ** -5 / np.expm1(C2 / (metres * kelvin))


def glass(mireds, nm):
    clearest = 410.0 if mireds < 0 else 640.0
    exponent = -C2 * mireds * 1e-6 * (1e9 / nm - 1e9 / clearest)
    return 0.9183 * np.minimum(1.0, np.exp(exponent))


def cct(light):
    xyz = light @ CMFS
    xy = colour.XYZ_to_xy(xyz)
    return colour.temperature.uv_to_CCT_Ohno2013(colour.xy_to_UCS_uv(xy))[0]


def loss(tau, light):
    return -np.log2((tau * light) @ CMFS[:, 1] / (light @ CMFS[:, 1]))


d55 = colour.SDS_ILLUMINANTS["D55"].copy().align(SHAPE).values
sources = {"3200": planck(3200.0), "5500": planck(5500.0), "D55": d55}
out = csv.writer(open(sys.argv[1], "w", newline=""))
out.writerow(["series", "mireds", "cct_3200", "cct_5500", "cct_D55", "loss_3200", "loss_5500",
              "jis_v", "source"])
for name, mireds in SERIES:
    tau = glass(mireds, NM)
    red, blue = (np.mean(glass(mireds, np.array(at))) for at in ([610., 635., 655.], [405., 435., 465.]))
    row = [f"{cct(tau * light):.2f}" for light in sources.values()]
    row += [f"{loss(tau, sources[k]):.5f}" for k in ("3200", "5500")]
    out.writerow([name, mireds, *row, f"{221 * (np.log10(red) - np.log10(blue)):.3f}",
                  f"colour-science {colour.__version__}, tests/scripts/series_model.py"])
