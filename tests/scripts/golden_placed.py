"""Placed colour worked out with NumPy, SciPy and colour-science alone.

Writes tests/checks/golden/placed_colour.csv: for a handful of stacks, the 3 x 3 matrix that a picture in
ACEScg sees through them on top of the uniform glass, row by row.

    pip install numpy scipy colour-science
    python tests/scripts/golden_placed.py

Nothing here is shared with the program: observer, daylight, reflectance basis, CAT16 and ACEScg come from
colour-science, and the mean over the pupil is SciPy's adaptive quadrature of 10^-D(lambda, h) over the
disc, by chords (one direction) or by nested chords (two directions, a ring).
"""

import csv
import pathlib

import colour
import numpy as np
from scipy.integrate import quad

OUT = pathlib.Path(__file__).resolve().parents[1] / "checks" / "golden" / "placed_colour.csv"

SHAPE = colour.SpectralShape(380, 780, 5)
NM = SHAPE.wavelengths
FULL = colour.SpectralShape(360, 830, 5)


def held(values):
    """The ends held to 360 and 830 nm, as the observer goes on there."""
    return np.interp(FULL.wavelengths, NM, values)


CMFS = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(FULL).values
KELVIN = 5600.0
xy = colour.temperature.CCT_to_xy_CIE_D(KELVIN)
light = colour.sd_CIE_illuminant_D_series(xy, M1_M2_rounding=False).align(SHAPE).values
basis = colour.recovery.MSDS_BASIS_FUNCTIONS_sRGB_MALLETT2019.copy().align(SHAPE).values
basis /= basis.sum(axis=1, keepdims=True)
ap1 = colour.RGB_COLOURSPACES["ACEScg"]


def xyz(spectrum):
    return held(spectrum) @ CMFS


def white(spectrum):
    w = xyz(spectrum)
    return w / w[1]


def under(spectrum):
    return np.stack([xyz(spectrum * basis[:, k]) for k in range(3)], axis=1)


adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(
    colour.xy_to_XYZ(ap1.whitepoint), white(light), transform="CAT16")
TO = adapt @ ap1.matrix_RGB_to_XYZ


def matrix(tau):
    return np.linalg.inv(TO) @ under(light * tau) @ np.linalg.inv(under(light)) @ TO


UNIFORM = 10 ** (-0.0011 * np.maximum(0.0, 650.0 - NM))


def band(peak, middle, wide):
    return peak * np.exp(-(((NM - middle) / wide) ** 2))


def part(h, length):
    """Share of the dye at h mm from the middle of a ramp."""
    return float(h >= 0) if length == 0 else float(np.clip(h / length + 0.5, 0.0, 1.0))


def chords(radius, density, length, at):
    """Mean over the disc at one wavelength, the glass changing in one direction."""
    kinks = [k - at for k in (-length / 2, length / 2) if -radius < k - at < radius]
    f = lambda v: 2 * np.sqrt(max(0.0, radius**2 - v * v)) * 10 ** (-density * part(at + v, length))
    value, _ = quad(f, -radius, radius, points=kinks or None, limit=200, epsabs=1e-11, epsrel=1e-11)
    return value / (np.pi * radius**2)


def quarter(radius, a, b, at, ring):
    """Two hard edges crossed at right angles and a ring: areas of the four quarters by chords.

    a, b: densities above and to the right of the edges, `at` = heights of the chief ray there;
    ring: (radius, centre x, centre y) in pupil coordinates.
    """
    def row(v):
        half = np.sqrt(max(0.0, radius**2 - v * v))
        low, high = -half, half
        if ring:
            r, cx, cy = ring
            d = r * r - (v - cy) ** 2
            if d <= 0:
                return 0.0
            low, high = max(low, cx - np.sqrt(d)), min(high, cx + np.sqrt(d))
        if high <= low:
            return 0.0
        edge = min(max(-at[1], low), high)
        light = (edge - low) + (high - edge) * 10**-b
        return light * 10 ** (-a * float(at[0] + v >= 0))

    cuts = [v for v in (-at[0],) if -radius < v < radius]
    grid = np.unique(np.concatenate([np.linspace(-radius, radius, 41), cuts]))
    total = sum(quad(row, p, q, epsabs=1e-10, epsrel=1e-10, limit=200)[0]
                for p, q in zip(grid[:-1], grid[1:]))
    return total / (np.pi * radius**2)


def by_density(f, *dyes):
    seen = {}
    out = []
    for key in zip(*dyes):
        if key not in seen:
            seen[key] = f(*key)
        out.append(seen[key])
    return np.array(out)


rose, blue = band(0.6, 545.0, 40.0), band(0.9, 455.0, 35.0)
rows = []
# One plane 100 mm before a pupil of 6 mm radius; the chief ray `at` mm above the ramp's middle.
for name, dye in (("rose", rose), ("blue", blue)):
    for length, at in ((0.0, -2.0), (0.0, 1.5), (12.0, 0.0), (12.0, 7.0), (45.0, -9.0), (0.0, 8.0)):
        tau = by_density(lambda d: chords(6.0, d, length, at), dye)
        rows.append((name, "", length, at, 0.0, 0.0, tau))
# Rose dense above, blue dense to the right, crossed; then with a ring of 7 mm at the second glass, its
# centre 3 mm left of the chief ray and 2 mm below; a neutral plane for the second too.
for at, ring in (((-1.0, 2.0), 0.0), ((2.5, -1.5), 7.0)):
    clip = (ring, -3.0, -2.0) if ring else None
    tau = by_density(lambda a, b: quarter(6.0, a, b, at, clip), rose, blue)
    rows.append(("rose", "blue", 0.0, *at, ring, tau))
    tau = by_density(lambda a: quarter(6.0, a, 0.9, at, clip), rose)
    rows.append(("rose", "neutral", 0.0, *at, ring, tau))

back = np.linalg.inv(matrix(UNIFORM))
with OUT.open("w", newline="") as file:
    out = csv.writer(file)
    out.writerow(["dye", "across", "length_mm", "at_mm", "across_at_mm", "ring_mm",
                  *(f"m{i}{j}" for i in range(3) for j in range(3))])
    for *told, tau in rows:
        m = matrix(UNIFORM * tau) @ back
        out.writerow([*told, *(f"{v:.9f}" for v in m.ravel())])
