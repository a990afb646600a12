"""Makes tests/checks/icc_checks.csv and the two ICC profiles it speaks of.

Needs from PyPI: pillow (its ImageCms is LittleCMS 2), numpy, colour-science.
Run from the repository root: python tests/scripts/icc_checks.py

icc_p3.icc   curves and primaries: P3 with D65, adapted to D50 by Bradford, sRGB curve as `para` type 3
icc_table.icc  a table only (A2B0, 17 x 17 x 17, Lab): the same colours, so both engines can be compared
The expected sRGB codes are LittleCMS's (relative colorimetric, 8 bits); the expected working light is
colour-science's, in double precision, from the profile's own numbers.
"""

import csv
import struct

import colour
import numpy as np
import PIL
from PIL import Image, ImageCms, features

CHECKS = "tests/checks/"
D50 = np.array([0.96420, 1.0, 0.82491])
D65_XY = np.array([0.3127, 0.3290])
AP1_WHITE = np.array([0.32168, 0.33767])


def s15(v):
    return struct.pack(">i", int(round(v * 65536)))


def xyz_tag(v):
    return b"XYZ \0\0\0\0" + b"".join(s15(x) for x in v)


def text(words):
    body = words.encode("utf-16-be")
    return b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"GB", len(body), 28) + body


def profile(tags, pcs):
    table, body = b"", b""
    start = 128 + 4 + 12 * len(tags)
    for name, data in tags:
        data += b"\0" * (-len(data) % 4)
        table += name + struct.pack(">II", start + len(body), len(data))
        body += data
    size = start + len(body)
    head = struct.pack(">I4sI4s4s4s", size, b"\0\0\0\0", 0x04300000, b"mntr", b"RGB ", pcs)
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 24
    head += struct.pack(">I", 1) + b"".join(s15(x) for x in D50)
    head += b"\0" * (128 - len(head))
    return head + struct.pack(">I", len(tags)) + table + body


def colorants():
    p3 = colour.normalised_primary_matrix([[0.68, 0.32], [0.265, 0.69], [0.15, 0.06]], D65_XY)
    white = colour.xy_to_XYZ(D65_XY)
    return colour.adaptation.matrix_chromatic_adaptation_VonKries(white, D50, "Bradford") @ p3


def decode(v):
    v = np.asarray(v, dtype=float)
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def make_profiles():
    m = colorants()
    para = b"para\0\0\0\0" + struct.pack(">HH", 3, 0)
    para += b"".join(s15(x) for x in (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045))
    common = [(b"desc", text("Quay test profile")), (b"cprt", text("CC0")), (b"wtpt", xyz_tag(D50))]
    shaper = profile(
        common
        + [(n, xyz_tag(m[:, i])) for i, n in enumerate([b"rXYZ", b"gXYZ", b"bXYZ"])]
        + [(n, para) for n in [b"rTRC", b"gTRC", b"bTRC"]],
        b"XYZ ",
    )
    grid = np.linspace(0, 1, 17)
    rgb = np.stack(np.meshgrid(grid, grid, grid, indexing="ij"), -1).reshape(-1, 3)
    xyz = decode(rgb) @ m.T
    lab = colour.XYZ_to_Lab(np.maximum(xyz, 0), colour.XYZ_to_xy(D50))
    # mft2 keeps the older Lab coding: 65280 is L 100, a and b are offset by 128.
    codes = np.stack([lab[:, 0] * 652.8, (lab[:, 1] + 128) * 256, (lab[:, 2] + 128) * 256], -1)
    codes = np.clip(np.round(codes), 0, 65535).astype(">u2")
    line = struct.pack(">2H", 0, 65535)
    mft2 = b"mft2\0\0\0\0" + bytes([3, 3, 17, 0])
    mft2 += b"".join(s15(x) for x in (1, 0, 0, 0, 1, 0, 0, 0, 1)) + struct.pack(">2H", 2, 2)
    mft2 += line * 3 + codes.tobytes() + line * 3
    table = profile(common + [(b"A2B0", mft2)], b"Lab ")
    return {"icc_p3.icc": shaper, "icc_table.icc": table}, m


def main():
    profiles, m = make_profiles()
    levels = [0, 16, 64, 128, 200, 255]
    rgb = [(r, g, b) for r in levels for g in levels for b in levels]
    codes = np.array(rgb, dtype=np.uint8).reshape(1, -1, 3)
    to_ap1 = np.linalg.inv(
        colour.adaptation.matrix_chromatic_adaptation_VonKries(
            colour.xy_to_XYZ(AP1_WHITE), D50, "Bradford"
        )
        @ colour.normalised_primary_matrix(
            [[0.713, 0.293], [0.165, 0.830], [0.128, 0.044]], AP1_WHITE
        )
    )
    with open(CHECKS + "icc_checks.csv", "w", newline="") as out:
        rows = csv.writer(out, lineterminator="\n")
        out.write(
            f"# LittleCMS {features.version('littlecms2')} through pillow {PIL.__version__}; "
            f"colour-science {colour.__version__}; numpy {np.__version__}\n"
        )
        rows.writerow("profile,r,g,b,srgb_r,srgb_g,srgb_b,ap1_r,ap1_g,ap1_b".split(","))
        for name, data in profiles.items():
            with open(CHECKS + name, "wb") as f:
                f.write(data)
            image = Image.fromarray(codes, "RGB")
            done = ImageCms.profileToProfile(
                image,
                CHECKS + name,
                ImageCms.createProfile("sRGB"),
                renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
                outputMode="RGB",
                flags=ImageCms.Flags.NOOPTIMIZE | ImageCms.Flags.HIGHRESPRECALC,
            )
            for code, srgb in zip(rgb, np.asarray(done).reshape(-1, 3)):
                ap1 = to_ap1 @ (m @ decode(np.array(code) / 255))
                rows.writerow([name, *code, *srgb, *(f"{v:.7f}" for v in ap1)])


if __name__ == "__main__":
    main()
