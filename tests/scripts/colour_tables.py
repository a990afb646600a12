"""Writes the number tables of src/colour/tables/ and tests/checks/chart_spectra.csv.

Needs `pip install colour-science==0.4.7 numpy` (both from PyPI). Run from the repository's root:

    python tests/scripts/colour_tables.py

Observer, illuminants A, D55 and D65, and the reflectance basis come from the CSV files in
tests/checks/; the components of daylight and the chart's spectra come from colour-science.
"""

import csv
import pathlib
import warnings

warnings.filterwarnings("ignore")

from colour.characterisation import SDS_COLOURCHECKERS
from colour.colorimetry import SDS_BASIS_FUNCTIONS_CIE_ILLUMINANT_D_SERIES
from colour import SpectralShape

ROOT = pathlib.Path(__file__).resolve().parents[2]
CHECKS = ROOT / "tests" / "checks"
TABLES = ROOT / "src" / "colour" / "tables"
GRID = list(range(380, 781, 5))


def read(name):
    with open(CHECKS / name, newline="") as file:
        return {int(row["nm"]): row for row in csv.DictReader(file)}


def rust(number):
    text = repr(float(number))
    return text if "." in text or "e" in text else text + ".0"


def table(doc, name, rows):
    width = len(rows[0])
    kind = "f64" if width == 1 else f"[f64; {width}]"
    lines = [f"/// {line}" if line else "///" for line in doc]
    lines.append(f"pub(in crate::colour) const {name}: [{kind}; {len(rows)}] = [")
    for row in rows:
        cells = ", ".join(rust(cell) for cell in row)
        lines.append(f"    {cells}," if width == 1 else f"    [{cells}],")
    lines.append("];")
    return "\n".join(lines)


def write(stem, head, tables):
    text = "\n".join(f"//! {line}" if line else "//!" for line in head) + "\n\n"
    (TABLES / f"{stem}.rs").write_text(text + "\n\n".join(tables) + "\n")


def main():
    TABLES.mkdir(parents=True, exist_ok=True)
    cie = read("cie1931_2deg_5nm_A_D55_D65.csv")
    by = ["Written by `tests/scripts/colour_tables.py`; 380 nm to 780 nm in steps of 5 nm."]
    write("observer", ["The standard observer.", "", *by], [table(
        ["CIE 1931 2° colour-matching functions x̄, ȳ, z̄ (ISO/CIE 11664-1; CIE 15 table T.4)."],
        "CIE_1931",
        [[cie[nm][k] for k in ("xbar", "ybar", "zbar")] for nm in GRID]),
        table(
            ["The same functions summed over 360 nm to 375 nm, and over 785 nm to 830 nm."],
            "BEYOND",
            [[round(sum(float(cie[nm][k]) for nm in part), 12) for k in ("xbar", "ybar", "zbar")]
             for part in (range(360, 380, 5), range(785, 831, 5))])])

    components = SDS_BASIS_FUNCTIONS_CIE_ILLUMINANT_D_SERIES
    daylight = [components[k].copy().align(SpectralShape(380, 780, 5)) for k in ("S0", "S1", "S2")]
    write("illuminants", ["Standard illuminants, and the components of daylight.", "", *by], [
        table(["Relative power of CIE illuminants A, D55 and D65, 100 at 560 nm (CIE 15 table T.1)."],
              "A_D55_D65", [[cie[nm][k] for k in ("A", "D55", "D65")] for nm in GRID]),
        table(["Components S0, S1, S2 of daylight (CIE 15 table T.2, by way of colour-science 0.4.7)."],
              "S0_S1_S2", [[round(float(s[nm]), 9) for s in daylight] for nm in GRID])])

    basis = read("mallett2019_basis.csv")
    write("reflectance", ["A basis of reflectance spectra.", "", *by], [table(
        ["Reflectance of the red, green and blue of Mallett and Yuksel, \"Spectral Primary Decomposition",
         "for Rendering with sRGB Reflectance\", EGSR 2019, doi 10.2312/sr.20191216. The authors' data is",
         "under the MIT licence, copyright 2019 Ian Mallett; taken by way of colour-science (BSD-3-Clause)."],
        "BASIS", [[basis[nm][k] for k in ("r", "g", "b")] for nm in GRID])])

    chart = SDS_COLOURCHECKERS["ISO 17321-1"]
    patches = {k: s.copy().align(SpectralShape(380, 780, 5)) for k, s in chart.items()}
    with open(CHECKS / "chart_spectra.csv", "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["nm", *(f"patch{i + 1}" for i in range(len(patches)))])
        for nm in GRID:
            out.writerow([nm, *(f"{float(s[nm]):.6g}" for s in patches.values())])


main()
