"""Makes tests/checks/gain_map: small JPEGs with a gain map behind them, and the light that they hold.

Needs from PyPI: pillow, numpy, colour-science, imagecodecs (its ultrahdr is the C++ library libultrahdr).
Run from the repository root: python tests/scripts/gain_map_frames.py

Every picture is flat in squares of 8 pixels, so that any decoder finds the same codes. values.csv holds, for
a few places of each, the working light (AP1) by the formula of ISO 21496-1, in double precision:
    light = (base + offset_base) 2^(min + (max - min) g^(1/gamma)) - offset_alternate
with the base decoded from sRGB, and the map brought to the picture's size by Pillow's bilinear resampling of
its floats (border to border, between pixels' centres). Container and metadata are written here from numbers.
other.jpg was written by libultrahdr, and its rows are what libultrahdr reads back; of plain.jpg both were
asked, and the script stops where they part.
"""

import csv
import io
import struct

import colour
import imagecodecs
import numpy as np
from PIL import Image

FOLDER = "tests/checks/gain_map/"
ISO_NAME = b"urn:iso:std:iso:ts:21496:-1\0"
SRGB, P3 = colour.RGB_COLOURSPACES["sRGB"], colour.RGB_COLOURSPACES["Display P3"]
AP1 = colour.RGB_COLOURSPACES["ACEScg"]
P3_PROFILE = open("tests/checks/icc_p3.icc", "rb").read()


def matrix(a, b):
    return colour.matrix_RGB_to_RGB(a, b, "Bradford")


def srgb(code):
    v = np.asarray(code, dtype=float) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def squares(width, height, seed, low, high, channels):
    rng = np.random.default_rng(seed)
    small = rng.integers(low, high + 1, (height // 8, width // 8, channels))
    return np.kron(small, np.ones((8, 8, 1), dtype=int)).astype(np.uint8)


def jpeg(pixels, **options):
    out = io.BytesIO()
    mode = "L" if pixels.shape[2] == 1 else "RGB"
    image = Image.fromarray(pixels[:, :, 0] if mode == "L" else pixels, mode)
    image.save(out, "JPEG", quality=98, subsampling=0, **options)
    return out.getvalue()


def app2(body):
    return b"\xff\xe2" + struct.pack(">H", len(body) + 2) + body


def behind_start(file, segment):
    """Puts a segment behind the first one of a JPEG."""
    end = 4 + struct.unpack(">H", file[4:6])[0]
    return file[:end] + segment + file[end:]


def fraction(v, signed):
    return struct.pack(">iI" if signed else ">II", round(v * 100_000), 100_000)


def iso(m):
    out = struct.pack(">HHB", 0, 0, (128 if m["three"] else 0) | (64 if m["base"] else 0))
    out += fraction(m["headroom"][0], False) + fraction(m["headroom"][1], False)
    for c in range(3 if m["three"] else 1):
        out += fraction(m["min"][c], True) + fraction(m["max"][c], True) + fraction(m["gamma"][c], False)
        out += fraction(m["offset"][0], True) + fraction(m["offset"][1], True)
    return app2(ISO_NAME + out)


PACKET = """<x:xmpmeta xmlns:x="quay:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:hdrgm="http://quay.example/hdr-gain-map/1.0/"
 xmlns:Container="http://quay.example/photos/1.0/container/" xmlns:Item="http://quay.example/photos/1.0/container/item/"
 hdrgm:Version="1.0" %s</rdf:Description></rdf:RDF></x:xmpmeta>"""


def xmp_of_map(m):
    plain = {"GainMapMin": m["min"], "GainMapMax": m["max"], "Gamma": m["gamma"]}
    single = {"OffsetSDR": m["offset"][0], "OffsetHDR": m["offset"][1]}
    single |= {"HDRCapacityMin": m["headroom"][0], "HDRCapacityMax": m["headroom"][1]}
    attributes = "".join(f' hdrgm:{k}="{v}"' for k, v in single.items())
    if m["three"]:
        lists = "".join(
            f"<hdrgm:{k}><rdf:Seq>" + "".join(f"<rdf:li>{x}</rdf:li>" for x in v) + f"</rdf:Seq></hdrgm:{k}>\n"
            for k, v in plain.items()
        )
        return (PACKET % (attributes + ">" + lists)).encode()
    attributes += "".join(f' hdrgm:{k}="{v[0]}"' for k, v in plain.items())
    return (PACKET % (attributes + ">")).encode()


def xmp_of_base(length, padding):
    items = f'<rdf:li><Container:Item Item:Mime="image/jpeg" Item:Semantic="Primary" Item:Padding="{padding}"/></rdf:li>'
    items += f'<rdf:li><Container:Item Item:Mime="image/jpeg" Item:Semantic="GainMap" Item:Length="{length}"/></rdf:li>'
    return (PACKET % f"><Container:Directory><rdf:Seq>{items}</rdf:Seq></Container:Directory>").encode()


def list_of_pictures(first, second, place, big):
    """CIPA DC-007: version, number of pictures, entries."""
    e = ">" if big else "<"
    entry = struct.pack(e + "IIIHH", 0x030000, first, 0, 0, 0) + struct.pack(e + "IIIHH", 0, second, place, 0, 0)
    head = (b"MM\0*" if big else b"II*\0") + struct.pack(e + "IH", 8, 3)
    head += struct.pack(e + "HHI", 0xB000, 7, 4) + b"0100"
    head += struct.pack(e + "HHII", 0xB001, 4, 1, 2)
    head += struct.pack(e + "HHII", 0xB002, 7, 32, 8 + 2 + 36 + 4) + struct.pack(e + "I", 0)
    return b"MPF\0" + head + entry


def whole(base, gain, listed, padding=0, big=True, stale=0):
    """Base and map in one file, with a list of pictures where `listed`."""
    if not listed:
        return base + b"\0" * padding + gain
    segment = app2(list_of_pictures(0, 0, 0, big))
    total = len(base) + len(segment)
    end = 4 + struct.unpack(">H", base[4:6])[0]
    header = end + 4 + 4
    segment = app2(list_of_pictures(total, len(gain), total + padding - header + stale, big))
    return behind_start(base, segment) + b"\0" * padding + gain


def decoded(file, channels):
    image = Image.open(io.BytesIO(file))
    return np.asarray(image.convert("L" if channels == 1 else "RGB")).reshape(image.height, image.width, channels)


def expected(base, gain, m, channels):
    """The light of every pixel, stored way round."""
    light = srgb(decoded(base, 3))
    h, w = light.shape[:2]
    codes = decoded(gain, channels).astype(np.float32) / 255
    g = [np.asarray(Image.fromarray(codes[:, :, c % channels]).resize((w, h), Image.Resampling.BILINEAR)) for c in range(3)]
    space = SRGB if m["base"] else P3
    light = light @ matrix(SRGB, space).T
    out = np.empty_like(light)
    for c in range(3):
        lifted = m["min"][c] + (m["max"][c] - m["min"][c]) * g[c].astype(float) ** (1 / m["gamma"][c])
        out[:, :, c] = (light[:, :, c] + m["offset"][0]) * 2**lifted - m["offset"][1]
    return out @ matrix(space, AP1).T, float(out.max())


def meta(low, high, gamma=1.0, offset=(1 / 64, 1 / 64), headroom=None, base=True):
    three = isinstance(high, tuple)
    spread = lambda v: v if isinstance(v, tuple) else (v,) * 3
    high3 = spread(high)
    return {
        "three": three, "base": base, "min": spread(low), "max": high3, "gamma": spread(gamma),
        "offset": offset, "headroom": headroom or (0.0, max(high3)),
    }


rows = []


def note(name, light, brightest):
    h, w = light.shape[:2]
    rng = np.random.default_rng(5)
    for _ in range(24):
        x, y = int(rng.integers(w)), int(rng.integers(h))
        rows.append((name, x, y, *(f"{v:.6f}" for v in light[y, x]), f"{np.log2(brightest):.2f}"))


def main():
    base = squares(64, 48, 1, 20, 255, 3)
    base[:16, :24] = 255
    grey, colours = squares(16, 16, 2, 0, 255, 1), squares(32, 24, 3, 0, 255, 3)
    files = {
        # name: (metadata, map, form, options of the container)
        "iso_grey.jpg": (meta(0.0, 1.9), grey, "iso", {"listed": True}),
        "iso_rgb.jpg": (meta((-0.5, -0.25, 0.0), (2.0, 2.5, 1.5), (1.5, 1.0, 0.8), (1 / 64, 1 / 32)), colours, "iso", {"listed": True, "big": False}),
        "iso_alternate.jpg": (meta(0.0, (2.0, 2.5, 1.5), base=False), colours, "iso", {"listed": True}),
        # A map as large as the picture: no resampling to differ over.
        "plain.jpg": (meta((-0.5, -0.25, 0.0), (2.0, 2.5, 1.5), (1.5, 1.0, 0.8), (1 / 64, 1 / 32)), squares(64, 48, 4, 0, 255, 3), "iso", {"listed": True}),
        "xmp_grey.jpg": (meta(0.0, 2.3, 1.2, (0.0, 0.0)), grey, "xmp", {"listed": False, "padding": 37}),
        "xmp_rgb.jpg": (meta((-0.5, -0.25, 0.0), (2.0, 2.5, 1.5), (1.5, 1.0, 0.8)), colours, "xmp", {"listed": True, "big": False}),
        "turned.jpg": (meta(0.0, 1.9), grey, "iso", {"listed": True}),
        # The list of pictures points past the map, as after a change to the first picture's EXIF.
        "stale.jpg": (meta(0.0, 1.9), grey, "iso", {"listed": True, "stale": 211}),
        "brighter_base.jpg": (meta(0.0, 1.9, headroom=(1.9, 0.0)), grey, "iso", {"listed": True}),
        "absurd.jpg": (meta(0.0, 1.9, headroom=(0.0, 300.0)), grey, "iso", {"listed": True}),
        "cut.jpg": (meta(0.0, 1.9), grey, "iso", {"listed": True}),
    }
    for name, (m, codes, form, options) in files.items():
        channels = codes.shape[2]
        extra = {}
        if form == "iso":
            profile = {} if m["base"] else {"icc_profile": P3_PROFILE}
            gain = behind_start(jpeg(codes, **profile), iso(m))
        else:
            gain = jpeg(codes, xmp=xmp_of_map(m))
            extra["xmp"] = xmp_of_base(len(gain), options.get("padding", 0))
        if name == "turned.jpg":
            exif = Image.Exif()
            exif[0x0112] = 6
            extra["exif"] = exif
        plain = jpeg(base, **extra)
        if form == "iso":
            plain = behind_start(plain, app2(ISO_NAME + struct.pack(">HH", 0, 0)))
        file = whole(plain, gain, **options)
        light, brightest = expected(plain, gain, m, channels)
        if name in ("brighter_base.jpg", "absurd.jpg", "cut.jpg"):
            light, brightest = srgb(decoded(plain, 3)) @ matrix(SRGB, AP1).T, 1.0
        if name == "cut.jpg":
            file = file[: -len(gain) // 3]
        if name == "turned.jpg":
            # EXIF 2.32, orientation 6: the stored left column is the visual top row.
            light = np.rot90(light, -1)
        if name == "plain.jpg":
            asked = imagecodecs.ultrahdr_decode(file, dtype="float16", boost=1000.0)
            asked = np.asarray(asked, dtype=float)[:, :, :3] @ matrix(SRGB, AP1).T
            off = np.abs(asked - light) / (0.02 + light)
            print("libultrahdr parts from the formula by", off.max())
            assert off.max() < 0.015  # its gains come from a table of 1024
        with open(FOLDER + name, "wb") as out:
            out.write(file)
        note(name, light, brightest)
    other()
    with open(FOLDER + "values.csv", "w", newline="") as f:
        out = csv.writer(f, lineterminator="\n")
        out.writerow(("file", "x", "y", "ap1_r", "ap1_g", "ap1_b", "stops"))
        out.writerows(rows)


def other():
    """A picture that libultrahdr made from light, and the light that it reads back."""
    light = np.kron(np.random.default_rng(9).uniform(0, 1, (6, 8, 3)) ** 3 * 6, np.ones((8, 8, 1)))
    light = np.concatenate([light, np.ones_like(light[:, :, :1])], axis=2).astype(np.float16)
    file = imagecodecs.ultrahdr_encode(light, level=98, gamut=imagecodecs.ULTRAHDR.CG.BT_709, transfer=imagecodecs.ULTRAHDR.CT.LINEAR, scale=1)
    back = imagecodecs.ultrahdr_decode(file, dtype="float16", boost=1000.0)
    back = np.asarray(back, dtype=float)[:, :, :3]
    print("libultrahdr: ", back.shape, back.max(), len(file))
    # Without its comment; the map is the last thing in the file, so no place changes.
    at = file.rindex(b"\xff\xfe")
    file = file[:at] + file[at + 2 + struct.unpack(">H", file[at + 2 : at + 4])[0] :]
    with open(FOLDER + "other.jpg", "wb") as out:
        out.write(file)
    note("other.jpg", back @ matrix(SRGB, AP1).T, back.max())


if __name__ == "__main__":
    main()
