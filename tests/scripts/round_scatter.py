"""Round diffusion worked out with NumPy, SciPy and colour-science alone.

Writes tests/checks/golden/round_scatter.csv, one figure a row:

- mask_*: FFTs of random masks of opaque discs that overlap freely, 5 to 45 per cent covered: what goes
  straight on, what is diffracted, the transform of the diffracted light and the light enclosed by an
  angle, averaged over a channel's band;
- overlap_*: the law of such masks, exp(mu g) - 1, by plain sums over size, band and shift;
- disc_transfer: lenslets' 2 J1(x)/x over a log-normal spread of half-angles;
- droplet_*: van de Hulst's extinction and the direct light of droplets, band and sizes by plain sums.

    pip install numpy scipy colour-science
    python tests/scripts/round_scatter.py

Nothing here is shared with the program.
"""

import numpy as np
from golden_scatter import BAND, LAM, OUT, mask, overlap
from scipy.special import j0, j1

ROWS = []


def row(what, diameter, spread, coverage, channel, at, value):
    ROWS.append((what, diameter, spread, coverage, channel, at, value))


def masks(diameter, spread, coverage, channel, size=2048, count=16):
    rng = np.random.default_rng(20260214)
    f = np.fft.fftfreq(size)
    radius = np.hypot(f[:, None], f[None, :])
    power = np.zeros((size, size))
    covered = straight = 0.0
    for _ in range(count):
        open_ = mask(rng, diameter, spread, coverage, size, np.float32)
        spectrum = np.abs(np.fft.fft2(open_) / open_.size) ** 2
        covered += 1 - open_.mean(dtype=float)
        straight += spectrum[0, 0]
        spectrum[0, 0] = 0
        power += spectrum
    covered, straight, power = covered / count, straight / count, power / count
    row("mask_direct", diameter, spread, covered, channel, 0.0, straight)
    row("mask_diffracted", diameter, spread, covered, channel, 0.0, power.sum())
    order = np.argsort(radius, axis=None)
    inside = np.concatenate([[0.0], np.cumsum(power.ravel()[order])])
    inside /= inside[-1]
    rings = np.concatenate([[0.0], radius.ravel()[order]])
    band = BAND[:, channel]
    for x in (0.2, 0.4, 0.7, 1.2, 2.0):
        angle = x * 0.55 / diameter
        share = sum(w * np.interp(angle / lam, rings, inside) for lam, w in zip(LAM, band))
        row("mask_encircled", diameter, spread, covered, channel, angle, share)
    # The autocovariance: rings of whole shifts, straight lines between them.
    shifts = np.fft.fftfreq(size, 1 / size)
    far = np.hypot(shifts[:, None], shifts[None, :])
    near = far < 3 * diameter
    back = np.fft.ifft2(power).real[near] * power.size
    at = np.arange(0, 3 * diameter + 1, 1.0)
    nearest = np.argsort(far[near])
    smooth = np.interp(at, far[near][nearest], back[nearest])
    width = 0.75
    mean = [
        np.average(back, weights=np.maximum(0, 1 - np.abs(far[near] - a) / width)) if a > 0 else smooth[0]
        for a in at
    ]
    mean = np.array(mean) / mean[0]
    for q in (0.15, 0.3, 0.5, 0.8, 1.2):
        nu = q * diameter / 0.55
        value = sum(w * np.interp(lam * nu, at, mean) for lam, w in zip(LAM, band))
        row("mask_transfer", diameter, spread, covered, channel, nu, value)


def sizes(spread, n):
    t = np.linspace(-8.5, 8.5, n)
    w = np.exp(-t * t / 2)
    return np.exp(spread * t), w / w.sum()


def law(diameter, spread, coverage, channel):
    """Plain sums: g on a fine even grid of shifts, Hankel integrals by Simpson's rule."""
    mu = -np.log(1 - coverage)
    d, share = sizes(spread, 3001)
    # Shifts in median diameters for 1 micrometre of wavelength.
    end = np.exp(8.5 * spread)
    x = np.linspace(0, 1, 40001)
    q = end * x**3  # finer near zero
    g = np.array([share @ overlap(v / d) for v in q])
    h = np.expm1(mu * g) / np.expm1(mu)
    slope = 3 * end * x**2
    w = np.full(x.size, 2.0)
    w[1::2] = 4.0
    w[[0, -1]] = 1.0
    w *= (x[1] - x[0]) / 3 * slope
    band = [(lam, b) for lam, b in zip(LAM, BAND[:, channel]) if b > 0]
    for t in (0.05, 0.3, 0.8, 1.3):
        nu = t * diameter / 0.55
        v = nu / diameter
        value = sum(
            b * np.expm1(mu * (share @ overlap(lam * v / d))) / np.expm1(mu) for lam, b in band
        )
        row("overlap_transfer", diameter, spread, coverage, channel, nu, value)
    for t in (0.05, 0.5, 1.2197, 4.0):
        z = t * 0.55  # angle times diameter
        density = sum(
            b / lam**2 * 2 * np.pi * (w @ (h * q * j0(2 * np.pi * q * z / lam))) for lam, b in band
        )
        inside = sum(
            b * 2 * np.pi * z / lam * (w @ (h * j1(2 * np.pi * q * z / lam))) for lam, b in band
        )
        row("overlap_density", diameter, spread, coverage, channel, z / diameter, density * diameter**2)
        row("overlap_encircled", diameter, spread, coverage, channel, z / diameter, inside)


def disc(angle, spread):
    a, share = sizes(spread, 20001)
    for x in (0.02, 0.3, 1.0, 2.0, 3.8317, 5.0, 8.0, 15.0, 40.0):
        nu = x / (2 * np.pi * angle)
        u = 2 * np.pi * angle * a * nu
        row("disc_transfer", angle, spread, 0.0, 1, nu, share @ (2 * j1(u) / u))


def extinction(rho):
    return 2 - 4 / rho * np.sin(rho) + 4 / rho**2 * (1 - np.cos(rho))


def droplets(diameter, spread, step, depth):
    """Direct light of droplets of index step `step` that would cover `depth` if none overlapped."""
    d, share = sizes(spread, 4001)
    for channel in range(3):
        value = 0.0
        for lam, b in zip(LAM, BAND[:, channel]):
            if b > 0:
                rho = 2 * np.pi * diameter * d * step / lam
                value += b * np.exp(-depth * (share @ extinction(rho)))
        row("droplet_direct", diameter, spread, depth, channel, step, value)


if __name__ == "__main__":
    OUT.mkdir(parents=True, exist_ok=True)
    for rho in (0.5, 1.0, 2.0, 4.085174, 7.634, 10.0, 20.0):
        row("droplet_extinction", 0.0, 0.0, 0.0, 1, rho, extinction(rho))
    droplets(2.0, 0.0, 0.1, 0.2)
    droplets(2.0, 0.3, 0.1, 0.2)
    droplets(5.0, 0.25, 0.1, 0.5)
    for spread in (0.1, 0.35, 0.5):
        disc(0.004, spread)
    for spread, coverage, channel in ((0.25, 0.1, 0), (0.45, 0.38, 1), (0.6, 0.25, 2)):
        law(20.0, spread, coverage, channel)
    for coverage in (0.05, 0.15, 0.3, 0.45):
        masks(30.0, 0.45, coverage, 1)
    with open(OUT / "round_scatter.csv", "w", newline="\n") as out:
        out.write("what,diameter_um_or_angle,spread,coverage,channel,at,value\n")
        for r in ROWS:
            out.write(",".join(v if isinstance(v, str) else f"{v:.12g}" for v in r) + "\n")
