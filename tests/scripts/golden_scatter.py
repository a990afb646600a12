"""Scattered light worked out with NumPy, SciPy and colour-science alone.

Writes tests/checks/golden/scatter_values.csv (laws of scatter, one figure a row) and
tests/checks/golden/scatter_frames.csv (small frames, before and after two glasses).

    pip install numpy scipy colour-science
    python tests/scripts/golden_scatter.py

Nothing here is shared with the program: the matching functions and the matrix come from colour-science,
the averages over size and band are plain sums on fine grids, the Bessel functions are SciPy's, and the
mirrored border is made by mirroring the frame and taking an ordinary FFT of four times its area.
"""

import pathlib

import colour
import numpy as np
from scipy.special import j0, j1

OUT = pathlib.Path(__file__).resolve().parents[1] / "checks" / "golden"

cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy()
cmfs = cmfs.align(colour.SpectralShape(380, 780, 5))
to_ap1 = np.linalg.inv(colour.RGB_COLOURSPACES["ACEScg"].matrix_RGB_to_XYZ)
BAND = np.clip(cmfs.values @ to_ap1.T, 0, None)
BAND /= BAND.sum(axis=0)
LAM = cmfs.wavelengths * 1e-3  # micrometres


def sizes(diameter, spread, n=6001):
    """Diameters and their shares of the covered area."""
    if spread == 0:
        return np.array([diameter]), np.array([1.0])
    t = np.linspace(-8.5, 8.5, n)
    w = np.exp(-t * t / 2)
    return diameter * np.exp(spread * t), w / w.sum()


def average(diameter, spread, channel, f, n=6001):
    """Mean of f(lambda / d) over sizes and band."""
    d, share = sizes(diameter, spread, n)
    return sum(w * (share @ f(lam / d)) for lam, w in zip(LAM, BAND[:, channel]) if w > 0)


def overlap(q):
    q = np.minimum(np.abs(q), 1.0)
    return 2 / np.pi * (np.arccos(q) - q * np.sqrt(1 - q * q))


def airy(u):
    u = np.maximum(u, 1e-9)
    return (2 * j1(u) / u) ** 2


def transfer(diameter, spread, channel, nu):
    return average(diameter, spread, channel, lambda t: overlap(t * nu))


def density(diameter, spread, channel, theta):
    return average(
        diameter, spread, channel, lambda t: airy(np.pi * theta / t) * np.pi / 4 / t**2, 20001
    )


def encircled(diameter, spread, channel, theta):
    return average(
        diameter,
        spread,
        channel,
        lambda t: 1 - j0(np.pi * theta / t) ** 2 - j1(np.pi * theta / t) ** 2,
        20001,
    )


def mask(rng, diameter, spread, coverage, size, dtype=float):
    """Opaque discs on a torus; 1 px is 1 micrometre. 1 is open, 0 is covered."""
    out = np.ones((size, size), dtype=dtype)
    want = -np.log(1 - coverage) * size * size
    have = 0.0
    while have < want:
        # Area-weighted log-normal: by number the median is lower by exp(-2 spread^2).
        d = diameter * np.exp(-2 * spread**2 + spread * rng.standard_normal())
        have += np.pi * d * d / 4
        y, x = rng.uniform(0, size, 2)
        r = int(d / 2 + 2)
        iy = np.arange(int(y) - r, int(y) + r + 1)
        ix = np.arange(int(x) - r, int(x) + r + 1)
        inside = (iy[:, None] - y) ** 2 + (ix[None, :] - x) ** 2 < d * d / 4
        at = np.ix_(iy % size, ix % size)
        out[at] = np.where(inside, 0.0, out[at])
    return out


def masks(diameter, spread, coverage, channel, angles, size=2048, count=12):
    """Encircled diffracted light of random masks of opaque discs, by FFT; 1 px is 1 micrometre.

    Discs fall anywhere, overlap freely, on a torus. Also returns the mean coverage, and the light that
    goes straight on and the light that is diffracted, by Parseval's sum over the spectrum.
    """
    rng = np.random.default_rng(20260113)
    f = np.fft.fftfreq(size)
    radius = np.hypot(f[:, None], f[None, :])
    power = np.zeros((size, size))
    covered = straight = 0.0
    for _ in range(count):
        open_ = mask(rng, diameter, spread, coverage, size)
        spectrum = np.abs(np.fft.fft2(open_) / open_.size) ** 2
        covered += 1 - open_.mean()
        straight += spectrum[0, 0]
        spectrum[0, 0] = 0
        power += spectrum
    order = np.argsort(radius, axis=None)
    inside = np.concatenate([[0.0], np.cumsum(power.ravel()[order])])
    inside /= inside[-1]
    rings = np.concatenate([[0.0], radius.ravel()[order]])
    share = [
        sum(w * np.interp(a / lam, rings, inside) for lam, w in zip(LAM, BAND[:, channel]))
        for a in angles
    ]
    return covered / count, straight / count, power.sum() / count, share


def scatter(frame, per_radian, glass, channel):
    """A frame through a glass, mirrored at its borders."""
    h, w = frame.shape
    four = np.block([[frame, frame[:, ::-1]], [frame[::-1], frame[::-1, ::-1]]])
    nu = np.hypot(np.fft.fftfreq(2 * h)[:, None], np.fft.rfftfreq(2 * w)[None, :]) * per_radian
    rings, back = np.unique(nu, return_inverse=True)
    speck = np.array([transfer(glass["diameter"], glass["spread"], channel, v) for v in rings])
    lobe = np.exp(-2 * np.pi * np.radians(glass["width"]) * rings)
    gain = glass["direct"] + glass["speck"] * speck + glass["lobe"] * lobe
    out = np.fft.irfft2(np.fft.rfft2(four) * gain[back].reshape(nu.shape), four.shape)
    return out[:h, :w] + glass["veil"] * frame.mean()


def glass(c, k, diameter, spread, width, veil):
    refracted = (1 - k) * c
    return {
        "direct": (1 - c) ** 2,
        "speck": c * (1 - c),
        "lobe": refracted * (1 - veil),
        "veil": refracted * veil,
        "absorbed": k * c,
        "diameter": diameter,
        "spread": spread,
        "width": width,
    }


def values():
    rows = []
    for diameter, spread in [(20.0, 0.0), (5.0, 0.25), (30.0, 0.4), (100.0, 0.6)]:
        for channel in range(3):
            for q in (0.02, 0.3, 0.8, 1.3):
                nu = q * diameter / 0.55
                args = (diameter, spread, channel, nu)
                rows.append(("transfer", *args, transfer(*args)))
            for x in (0.05, 0.5, 1.2197, 4.0):
                theta = x * 0.55 / diameter
                args = (diameter, spread, channel, theta)
                rows.append(("density", *args, density(*args)))
                rows.append(("encircled", *args, encircled(*args)))
    angles = [0.01, 0.02, 0.04, 0.08]
    covered, straight, diffracted, share = masks(20.0, 0.3, 0.02, 1, angles)
    rows.append(("mask_direct", 20.0, 0.3, 1, covered, straight))
    rows.append(("mask_diffracted", 20.0, 0.3, 1, covered, diffracted))
    for angle, part in zip(angles, share):
        rows.append(("mask_encircled", 20.0, 0.3, 1, angle, part))
    with open(OUT / "scatter_values.csv", "w", newline="\n") as out:
        out.write("what,diameter_um,spread,channel,at,value\n")
        for row in rows:
            out.write(",".join(v if isinstance(v, str) else f"{v:.12g}" for v in row) + "\n")


def pictures(out, w, h, through):
    """A small frame with two lamps, before and after `through(frame, channel)`, channel by channel."""
    y, x = np.mgrid[0:h, 0:w]
    base = 0.02 + 0.3 * (x / w) * (y / h)
    base[h // 4, w // 5] = 180.0
    base[h - 1, w - 2] = 40.0
    for channel, tint in enumerate((1.0, 0.75, 0.5)):
        frame = np.array([[float(f"{v:.6g}") for v in row] for row in base * tint])
        done = through(frame, channel)
        for kind, picture, form in (("in", frame, ".6g"), ("out", done, ".10g")):
            for line, row in enumerate(picture):
                text = ",".join(format(v, form) for v in row)
                out.write(f"{kind},{channel},{line},{text}\n")


def frames():
    sets = [
        ("dark", 32, 24, 96.0, glass(0.08, 0.9, 18.0, 0.35, 3.0, 0.2)),
        ("pale", 27, 19, 60.0, glass(0.12, 0.05, 30.0, 0.5, 4.0, 0.25)),
    ]
    with open(OUT / "scatter_frames.csv", "w", newline="\n") as out:
        out.write("# row kinds: set (name, width, height, pixels per radian), parameter (name, value),\n")
        out.write("# in and out (channel, y, then the values of that row of pixels)\n")
        for name, w, h, per_radian, pars in sets:
            out.write(f"set,{name},{w},{h},{per_radian!r}\n")
            for key, value in pars.items():
                out.write(f"parameter,{key},{value!r}\n")
            pictures(out, w, h, lambda frame, channel: scatter(frame, per_radian, pars, channel))


if __name__ == "__main__":
    OUT.mkdir(parents=True, exist_ok=True)
    values()
    frames()
