"""Light scattered in directions, worked out with NumPy, SciPy and colour-science alone.

Writes tests/checks/golden/oriented_values.csv (masks of lines and threads, by FFT) and
tests/checks/golden/oriented_frames.csv (small frames, before and after glass that has a direction).

    pip install numpy scipy colour-science
    python tests/scripts/golden_oriented.py

Nothing here is shared with the program: the masks are drawn and transformed; the laws of the frames are
plain sums over sizes, neighbours and the band (a blurred triangle through the mean of a folded normal
variable, Leone, Nelson and Nottingham, Technometrics 3, 1961); the mirrored border is made by mirroring
the frame and taking an ordinary FFT of four times its area.
"""

import numpy as np
from golden_scatter import BAND, LAM, OUT, pictures
from scipy.special import erf


def band(channel):
    return [(lam, w) for lam, w in zip(LAM, BAND[:, channel]) if w > 0]


# Masks


def regular(part, samples=4000):
    """Powers of the orders 0 to 5 of lines that cover `part`."""
    mask = np.ones(samples)
    mask[: round(part * samples)] = 0
    return np.abs(np.fft.fft(mask) / samples)[:6] ** 2


def threads(rng, pitches, per_pitch, part, jitter):
    """One axis of a net on a circle: each thread a step of uncertain length from the last."""
    steps = 1 + jitter * rng.standard_normal(pitches)
    places = np.cumsum(steps) * per_pitch
    size = int(round(places[-1]))
    fine = 8
    x = (np.arange(size * fine) + 0.5) / fine
    half = part * per_pitch / 2
    near = np.searchsorted(places, x)
    gap = np.minimum(
        np.abs(x - places[np.minimum(near, pitches - 1)]),
        np.minimum(np.abs(x - places[near - 1]), np.abs(x - (places[near - 1] - places[-1]))),
    )
    mask = (gap > half).astype(float)
    power = np.abs(np.fft.fft(mask) / mask.size) ** 2
    k = np.fft.fftfreq(mask.size, 1 / (fine * per_pitch))
    return k, power, mask.mean()


def net(part, jitter, channel, orders, count=60):
    """Light of a net within so many orders of green (0.55 um), and its account."""
    rng = np.random.default_rng(20260214)
    light = np.zeros(len(orders))
    straight = passed = 0.0
    for _ in range(count):
        (kx, px, mx), (ky, py, my) = (threads(rng, 160, 40, part, jitter) for _ in range(2))
        straight += px[0] * py[0]
        passed += mx * my
        # Sum over rows of the light within the chord, for a radius.
        order = np.argsort(np.abs(ky))
        rings, inside = np.abs(ky)[order], np.cumsum(py[order])
        within = lambda r: np.where(r >= 0, inside[np.searchsorted(rings, r, "right") - 1], 0.0)
        for i, o in enumerate(orders):
            for lam, w in band(channel)[::2]:
                r = o * 0.55 / lam
                m = np.abs(kx) <= r
                disc = (px[m] * within(np.sqrt(r * r - kx[m] ** 2))).sum()
                light[i] += w * (disc - px[0] * py[0])
    weight = sum(w for _, w in band(channel)[::2])
    straight, passed = straight / count, passed / count
    return straight, passed, light / weight / count / (passed - straight)


def lines(rng, size, coverage, width, spread):
    """One axis of engraved lines that fall anywhere, 1 px is 1 um; widths by area about `width`."""
    mask = np.ones(size)
    have = 0.0
    while have < -np.log(1 - coverage) * size:
        w = width * np.exp(-(spread**2) + spread * rng.standard_normal())
        have += w
        x = rng.uniform(0, size)
        at = np.arange(int(np.ceil(x)), int(np.floor(x + w)) + 1)
        mask[at % size] = 0
    return mask


def streak(coverage, width, spread, channel, angles, size=1 << 17, count=60):
    """Light across engraved lines within an angle, of what leaves its direction."""
    rng = np.random.default_rng(20260215)
    power = np.zeros(size)
    for _ in range(count):
        mask = lines(rng, size, coverage, width, spread)
        power += np.abs(np.fft.fft(mask) / size) ** 2
    power[0] = 0
    f = np.abs(np.fft.fftfreq(size))
    order = np.argsort(f)
    f, inside = f[order], np.cumsum(power[order]) / power.sum()
    return [sum(w * np.interp(a / lam, f, inside) for lam, w in band(channel)) for a in angles]


def star(normals, coverage, size=1024, count=24):
    """Account of lines across each of `normals` on a torus: covered by those of one direction, straight
    on, passed, and each streak's."""
    rng = np.random.default_rng(20260216)
    y, x = np.mgrid[0:size, 0:size]
    covered = straight = passed = streaks = 0.0
    for _ in range(count):
        mask = np.ones((size, size))
        for a, b in normals:
            one = lines(rng, size, coverage, 12.0, 0.3)
            covered += 1 - one.mean()
            mask *= one[(a * x + b * y) % size]
        power = np.abs(np.fft.fft2(mask) / mask.size) ** 2
        straight += power[0, 0]
        passed += mask.mean()
        k = np.arange(1, size)
        streaks += sum(power[(b * k) % size, (a * k) % size].sum() for a, b in normals)
    n = count * len(normals)
    return covered / n, straight / count, passed / count, streaks / n


def values():
    rows = []
    for m, power in enumerate(regular(0.1)):
        rows.append(("order", 0.1, 0, 1, m, power))
    for part, jitter in ((0.1, 0.05), (0.2, 0.1)):
        orders = [1.3, 2.6, 5.0, 12.0]
        straight, passed, share = net(part, jitter, 1, orders)
        rows.append(("net_direct", part, jitter, 1, 0, straight))
        rows.append(("net_passed", part, jitter, 1, 0, passed))
        rows += [("net_within", part, jitter, 1, o, s) for o, s in zip(orders, share)]
    angles = [0.003, 0.01, 0.03, 0.1]
    for channel in (0, 2):
        share = streak(0.02, 24.0, 0.3, channel, angles)
        rows += [("line_within", 24.0, 0.3, channel, a, s) for a, s in zip(angles, share)]
    for normals in ([(1, 0), (0, 1)], [(1, 0), (1, 2), (1, -2)]):
        covered, straight, passed, alone = star(normals, 0.06)
        n = len(normals)
        rows.append(("star_direct", covered, n, 1, 0, straight))
        rows.append(("star_passed", covered, n, 1, 0, passed))
        rows.append(("star_streak", covered, n, 1, 0, alone))
    with open(OUT / "oriented_values.csv", "w", newline="\n") as out:
        out.write("what,one,two,channel,at,value\n")
        for row in rows:
            out.write(",".join(v if isinstance(v, str) else f"{v:.9g}" for v in row) + "\n")


# Frames


def sizes(spread, n=8001):
    t = np.linspace(-8.5, 8.5, n)
    w = np.exp(-t * t / 2)
    return np.exp(spread * t), w / w.sum()


def groove(width, spread, channel, nu):
    d, share = sizes(spread)
    out = np.zeros_like(nu)
    for lam, w in band(channel):
        q = lam * np.abs(nu)[:, None] / (width * d)
        out += w * (np.maximum(0, 1 - q) @ share)
    return out


def rib(angle, spread, nu):
    d, share = sizes(spread)
    return np.sinc(2 * np.radians(angle) * np.abs(nu)[:, None] * d) @ share


def folded(x, sigma):
    """Mean of |x + sigma Z|."""
    return sigma * np.sqrt(2 / np.pi) * np.exp(-((x / sigma) ** 2) / 2) + x * erf(
        x / sigma / np.sqrt(2)
    )


def excess(part, jitter, s):
    """C(s) - b^2 of one axis, s in pitches."""
    s = np.abs(s)
    out = np.maximum(0, part - s) - part**2
    for n in range(1, int(s.max() * 1.5 + 40)):
        sigma = jitter * np.sqrt(n)
        for x in (s - n, s + n):
            out += (folded(x + part, sigma) + folded(x - part, sigma)) / 2 - folded(x, sigma)
    return out


def threaded(pitch, thread, jitter, channel, u, v):
    part = thread / pitch
    b2 = (1 - part) ** 2
    out = np.zeros_like(u)
    for lam, w in band(channel):
        a, b = excess(part, jitter, lam * u / pitch), excess(part, jitter, lam * v / pitch)
        out += w * (b2 * (a + b) + a * b)
    return out / (b2 - b2 * b2)


def through(frame, per_radian, glass, channel):
    h, w = frame.shape
    four = np.block([[frame, frame[:, ::-1]], [frame[::-1], frame[::-1, ::-1]]])
    fy, fx = np.fft.fftfreq(2 * h)[:, None], np.fft.fftfreq(2 * w)[None, :]
    right, up = np.broadcast_arrays(fx * per_radian, -fy * per_radian)
    right, up = right.ravel(), up.ravel()
    scattered = np.zeros(right.size)
    for kind, weight, *p in glass["lobes"]:
        if kind == "harvey":
            scattered += weight * np.exp(-2 * np.pi * np.radians(p[0]) * np.hypot(right, up))
            continue
        turn = np.radians(p[0])
        along = right * np.cos(turn) + up * np.sin(turn)
        aside = up * np.cos(turn) - right * np.sin(turn)
        waver = lambda d: np.exp(-2 * (np.pi * np.radians(d) * aside) ** 2)
        if kind == "groove":
            scattered += weight * groove(p[1], p[2], channel, along) * waver(p[3])
        elif kind == "rib":
            scattered += weight * rib(p[1], p[2], along) * waver(p[3])
        else:
            scattered += weight * threaded(p[1], p[2], p[3], channel, along, aside)
    seen = np.exp(-2 * (np.pi * 0.7) ** 2 * (fx**2 + fy**2))
    gain = glass["direct"] + scattered.reshape(seen.shape) * seen
    out = np.fft.ifft2(np.fft.fft2(four) * gain).real
    return out[:h, :w] + glass["veil"] * frame.mean()


def frames():
    rays = {
        "direct": 0.78,
        "veil": 0.02,
        "lobes": [
            ("groove", 0.06, 17.0, 18.0, 0.35, 0.1),
            ("rib", 0.03, 17.0, 2.0, 0.7, 0.1),
            ("groove", 0.04, 107.0, 30.0, 0.2, 0.2),
            ("harvey", 0.02, 1.0),
        ],
    }
    cloth = {
        "direct": 0.6561,
        "veil": 0.03,
        "lobes": [("net", 0.1539, 31.0, 500.0, 50.0, 0.05), ("harvey", 0.04, 3.0)],
    }
    sets = [("rays", 31, 24, 300.0, rays), ("cloth", 27, 19, 2500.0, cloth)]
    with open(OUT / "oriented_frames.csv", "w", newline="\n") as out:
        out.write("# row kinds: set (name, width, height, pixels per radian), direct and veil (value),\n")
        out.write("# groove (weight, turn, width, spread, waver), rib (weight, turn, angle, spread, waver),\n")
        out.write("# net (weight, turn, pitch, thread, jitter), harvey (weight, width),\n")
        out.write("# in and out (channel, y, then the values of that row of pixels)\n")
        for name, w, h, per_radian, glass in sets:
            out.write(f"set,{name},{w},{h},{per_radian!r}\n")
            out.write(f"direct,{glass['direct']!r}\nveil,{glass['veil']!r}\n")
            for lobe in glass["lobes"]:
                out.write(",".join(v if isinstance(v, str) else repr(v) for v in lobe) + "\n")
            pictures(out, w, h, lambda frame, channel: through(frame, per_radian, glass, channel))


if __name__ == "__main__":
    OUT.mkdir(parents=True, exist_ok=True)
    values()
    frames()
