"""Makes tests/checks/lut: small LUTs, and what OpenColorIO makes of some triples through each.

Needs from PyPI: opencolorio, numpy.
Run from the repository root: python tests/scripts/lut_checks.py

values.csv holds for every LUT the triples that go in and those that come out, in single precision, its
optimiser and its quick logarithms and powers switched off. Plain-text tables of three dimensions are
read over tetrahedra, as the program reads them. Two LUTs over the half domain are too long to be kept;
the test writes them again by the rule in half_domain().
"""

import csv
import os
import tempfile

import numpy as np
import PyOpenColorIO as ocio

FOLDER = "tests/checks/lut/"
RNG = np.random.default_rng(20261126)

TRIPLES = [
    (0.0, 0.0, 0.0),
    (1.0, 1.0, 1.0),
    (0.18, 0.18, 0.18),
    (0.5, 0.25, 0.75),
    (0.31, 0.62, 0.05),
    (0.9, 0.1, 0.4),
    (0.07, 0.7, 0.7),
    (0.6, 0.6, 0.2),
    (0.001, 0.0004, 0.02),
    (-0.1, 0.4, -0.02),
    (1.3, 0.8, 2.5),
    (-3.0, 7.0, 0.333),
]


def through(path, text=None):
    """The triples through a file; plain text over tetrahedra."""
    plain = path.endswith(".cube")
    how = ocio.INTERP_TETRAHEDRAL if plain else ocio.INTERP_DEFAULT
    # A table of one dimension knows no tetrahedra.
    if plain and "LUT_3D_SIZE" not in text:
        how = ocio.INTERP_LINEAR
    transform = ocio.FileTransform(src=os.path.abspath(path), interpolation=how)
    processor = ocio.Config.CreateRaw().getProcessor(transform)
    values = np.array(TRIPLES, dtype=np.float32)
    processor.getOptimizedCPUProcessor(ocio.OPTIMIZATION_NONE).applyRGB(values)
    return values


def numbers(table):
    return "\n".join(" ".join(f"{v:.7g}" for v in row) for row in table) + "\n"


def bent_cube(side):
    """A table that is no curve by itself: a bent cube and some noise; red runs fastest."""
    grid = np.linspace(0, 1, side)
    b, g, r = np.meshgrid(grid, grid, grid, indexing="ij")
    rgb = np.stack([r, g, b], -1).reshape(-1, 3)
    mixed = rgb @ np.array([[0.8, 0.15, 0.0], [0.1, 0.9, 0.3], [0.1, -0.05, 0.7]])
    return np.maximum(mixed, 0) ** 1.5 * 1.4 - 0.05 + RNG.uniform(-0.04, 0.04, rgb.shape)


def blue_fastest(table, side):
    return table.reshape(side, side, side, 3).transpose(2, 1, 0, 3).reshape(-1, 3)


def plain_texts():
    line = np.linspace(0, 1, 7)[:, None] ** np.array([0.5, 0.8, 2.2]) + RNG.uniform(0, 0.05, (7, 3))
    return {
        "cube": "TITLE \"Quay\"\nLUT_3D_SIZE 5\n" + numbers(bent_cube(5)),
        "cube_domain": "# estuary\nLUT_3D_SIZE 3\nDOMAIN_MIN -0.2 0 0.05\nDOMAIN_MAX 1.5 0.8 2\n"
        + numbers(bent_cube(3)),
        "line": "LUT_1D_SIZE 7\n" + numbers(line),
        "line_domain": "LUT_1D_SIZE 7\nDOMAIN_MIN -0.5 -0.1 0\nDOMAIN_MAX 2 1 0.7\n" + numbers(line),
        "line_cube": "LUT_1D_SIZE 7\nLUT_1D_INPUT_RANGE -0.1 1.25\nLUT_3D_SIZE 4\n"
        "LUT_3D_INPUT_RANGE 0.1 0.9\n" + numbers(line) + numbers(bent_cube(4)),
    }


def node(tag, attributes, inside, depths="32f 32f"):
    into, out = depths.split()
    return (
        f'<{tag} inBitDepth="{into}" outBitDepth="{out}"{attributes and " " + attributes}>\n'
        f"{inside}</{tag}>\n"
    )


def array(table, dim):
    return f'<Array dim="{dim}">\n{numbers(table)}</Array>\n'


def log(style, *params):
    return node("Log", f'style="{style}"', "".join(f"<LogParams {p}/>\n" for p in params))


def exponent(style, *params):
    inside = "".join(f"<ExponentParams {p}/>\n" for p in params)
    return node("Exponent", f'style="{style}"', inside)


def cdl(style, saturation=0.7):
    sop = "<SOPNode><Slope>1.1 0.9 1.3</Slope><Offset>-0.02 0.03 0.05</Offset>"
    sop += "<Power>0.8 1.2 1.5</Power></SOPNode>\n"
    sat = f"<SatNode><Saturation>{saturation}</Saturation></SatNode>\n"
    return node("ASC_CDL", f'style="{style}"', sop + sat)


def value_range(style, depths="32f 32f", **ends):
    inside = "".join(f"<{name}>{value}</{name}>\n" for name, value in ends.items())
    return node("Range", style and f'style="{style}"', inside, depths)


CAMERA = 'base="10" logSideSlope="0.25" logSideOffset="0.39" linSideSlope="5.5" linSideOffset="0.05"'


def common_luts():
    curve = np.linspace(0, 1, 9)[:, None] ** np.array([0.45])
    curves = np.linspace(0, 1, 6)[:, None] ** np.array([0.5, 1.7, 3.0])
    small = bent_cube(4)
    m = [[1.2, -0.15, -0.05], [0.1, 0.95, -0.05], [0.02, -0.3, 1.28]]
    m4 = [row + [add] for row, add in zip(m, (0.01, -0.02, 0.3))]
    ranges = dict(minInValue=0.1, maxInValue=0.8, minOutValue=-0.2, maxOutValue=1.1)
    codes = dict(minInValue=64, maxInValue=940, minOutValue=0, maxOutValue=255)
    power = 'exponent="2.2"'
    bend = 'exponent="2.4" offset="0.055"'
    out = {
        "matrix": node("Matrix", "", array(m, "3 3")),
        "matrix_add": node("Matrix", "", array(m4, "3 4")),
        "matrix_old": node("Matrix", "", array(m, "3 3 3")),
        "matrix_depths": node(
            "Matrix", "", array((np.array(m4) * [4, 4, 4, 4095]).tolist(), "3 4"), "10i 12i"
        )
        + node("Matrix", "", array((np.array(m) / 4095).tolist(), "3 3"), "12i 16f"),
        "curve": node("LUT1D", "", array(curve, "9 1")),
        "curves": node("LUT1D", 'interpolation="linear"', array(curves, "6 3")),
        "curves_8i": node("LUT1D", "", array((curves * 255).round(), "6 3"), "10i 8i"),
        "curve_raw": node(
            "LUT1D",
            'rawHalfs="true"',
            array(curve.astype(np.float16).view(np.uint16), "9 1"),
            "16i 16f",
        ),
        "curves_hue": node("LUT1D", 'hueAdjust="dw3"', array(curves, "6 3")),
        "cube": node("LUT3D", "", array(blue_fastest(small, 4), "4 4 4 3")),
        "cube_16i": node(
            "LUT3D",
            'interpolation="trilinear"',
            array((blue_fastest(small, 4) * 65535).round(), "4 4 4 3"),
            "12i 16i",
        ),
        "cube_tetrahedral": node(
            "LUT3D", 'interpolation="tetrahedral"', array(blue_fastest(small, 4), "4 4 4 3")
        ),
        "range": value_range("", **ranges),
        "range_open": value_range("noClamp", **ranges),
        "range_low": value_range("Clamp", minInValue=0.1, minOutValue=0.1),
        "range_high": value_range("Clamp", maxInValue=0.7, maxOutValue=0.7),
        "range_depths": value_range("Clamp", "10i 8i", **codes),
        "range_low_depths": value_range("", "10i 8i", minInValue=102.3, minOutValue=25.5),
        "log10": log("log10"),
        "log2": log("log2"),
        "antilog10": log("antiLog10"),
        "antilog2": log("antiLog2"),
        "lin_to_log": log("linToLog", CAMERA),
        "log_to_lin": log("logToLin", CAMERA),
        "log_default": log("linToLog"),
        "log_channels": log(
            "logToLin",
            'channel="R" base="10" logSideSlope="0.3"',
            'channel="G" base="10" linSideOffset="0.1"',
            'channel="B" base="10" logSideOffset="-0.2" linSideSlope="0.5"',
        ),
        "camera_log": log("cameraLinToLog", CAMERA + ' linSideBreak="0.01"'),
        "camera_lin": log("cameraLogToLin", CAMERA + ' linSideBreak="0.01"'),
        "camera_log_slope": log(
            "cameraLinToLog", CAMERA + ' linSideBreak="0.01" linearSlope="5.1"'
        ),
        "camera_lin_slope": log(
            "cameraLogToLin", CAMERA + ' linSideBreak="0.01" linearSlope="5.1"'
        ),
        "power_channels": exponent(
            "basicFwd", 'channel="R" exponent="2"', 'channel="B" exponent="0.4"'
        ),
        "bend_channels": exponent(
            "monCurveFwd",
            'channel="R" exponent="2.4" offset="0.055"',
            'channel="G" exponent="2" offset="0.1"',
            'channel="B" exponent="3" offset="0.16"',
        ),
        "camera": node("LUT1D", "", array(curves * 1.1 - 0.05, "6 3"), "10i 32f")
        + log("logToLin", CAMERA)
        + node("Matrix", "", array(m, "3 3"))
        + value_range("Clamp", minInValue=0, minOutValue=0),
    }
    for style in ["basic", "basicMirror", "basicPassThru"]:
        out[f"power_{style}"] = exponent(style + "Fwd", power)
        out[f"power_{style}_back"] = exponent(style + "Rev", power)
    for style in ["monCurve", "monCurveMirror"]:
        out[f"bend_{style}"] = exponent(style + "Fwd", bend)
        out[f"bend_{style}_back"] = exponent(style + "Rev", bend)
    for style in ["Fwd", "Rev", "FwdNoClamp", "RevNoClamp"]:
        out[f"cdl_{style}"] = cdl(style)
    out["cdl_boost"] = cdl("Fwd", 1.6)
    old = {
        "old_cdl": cdl("v1.2_Rev", 1.4),
        "old_index": node(
            "LUT1D",
            "",
            '<IndexMap dim="2">64@0 940@8</IndexMap>\n' + array(curve, "9 1"),
            "10i 32f",
        ),
    }
    return [(out, "3.0"), (old, "2.0")]


def process_list(name, version, nodes, where=' xmlns="urn:AMPAS:CLF:v3.0"'):
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<ProcessList id="{name}" name="Ferry {name}"'
        f' compCLFversion="{version}"{where}>\n<Description>For a test.</Description>\n'
        f"<InputDescriptor>Quay</InputDescriptor>\n<!-- a remark -->\n{nodes}</ProcessList>\n"
    )


def half_domain(raw):
    """Curves over the half domain; what is infinite or no number stays it.

    raw: entry i is the half-precision number of the bits i + 37, i + 74 and i, where those are finite.
    else: entry i is three quarters of the number of the bits i, for all channels.
    """
    bits = np.arange(65536, dtype=np.uint32)
    finite = (bits & 0x7FFF) <= 0x7BFF - 74
    if raw:
        table = [" ".join(str(b + a * f) for a in (37, 74, 0)) for b, f in zip(bits, finite)]
        dim, flags = "65536 3", 'halfDomain="true" rawHalfs="true"'
    else:
        with np.errstate(invalid="ignore"):
            values = bits.astype(np.uint16).view(np.float16).astype(np.float64) * 0.75
        table = [repr(float(v)) for v in values]
        dim, flags = "65536 1", 'halfDomain="true"'
    inside = f'<Array dim="{dim}">\n' + "\n".join(table) + "\n</Array>\n"
    return process_list("half", "3.0", node("LUT1D", flags, inside, "16f 16f"))


def main():
    os.makedirs(FOLDER, exist_ok=True)
    texts = {f"{name}.cube": text for name, text in plain_texts().items()}
    for nodes, version in common_luts():
        for name, inside in nodes.items():
            texts[f"{name}.clf"] = process_list(name, version, inside)
    where = ' xmlns="http://www.smpte-ra.org/ns/2136-1/2024"'
    texts["standard.clf"] = process_list("standard", "ST2136-1:2024", cdl("Fwd"), where)
    with open(FOLDER + "values.csv", "w", newline="") as out:
        rows = csv.writer(out, lineterminator="\n")
        out.write(f"# OpenColorIO {ocio.GetVersion()}, numpy {np.__version__}\n")
        rows.writerow("lut,r,g,b,out_r,out_g,out_b".split(","))

        def write(name, values):
            for triple, value in zip(TRIPLES, values):
                rows.writerow([name, *triple, *(f"{v:.9g}" for v in value)])

        for name, text in texts.items():
            with open(FOLDER + name, "w") as f:
                f.write(text)
            write(name, through(FOLDER + name, text))
        for name, raw in [("half_raw", True), ("half_text", False)]:
            with tempfile.NamedTemporaryFile("w", suffix=".clf") as f:
                f.write(half_domain(raw))
                f.flush()
                write(name, through(f.name))


if __name__ == "__main__":
    main()
