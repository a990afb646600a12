"""Everything about speed in one go, as the tables of DEVELOPERS.md. Needs NumPy and SciPy.

    python3 benches/table.py [--gpu LINES]

LINES is what `cargo bench --bench gpu` printed on a machine with graphics hardware; without it that bench runs here, on
small sizes where the adapter is software.
"""
import json
import sys

import apart
import compare


def lines(bench):
    out = apart.run([apart.program(bench), "--bench"])
    return [json.loads(line) for line in out.splitlines() if line.startswith("{")]


def figure(value, form="{:.1f}"):
    return "–" if value is None else form.format(value)


limits = lines("limits")
ours, peer = compare.divan(), compare.peer()
if "--gpu" in sys.argv:
    with open(sys.argv[sys.argv.index("--gpu") + 1], encoding="utf-8") as f:
        gpu = [json.loads(line) for line in f if line.startswith("{")]
else:
    gpu = lines("gpu")


def found(bench, mp):
    return next((r for r in limits if r["bench"] == bench and abs(r["mp"] - mp) < 0.1), {})


print("| engine | size | look, ms | another strength, ms | worst pixel | bytes over the floor |")
print("|---|---|---|---|---|---|")
for size in compare.SIZES:
    mp = round(size[0] * size[1] / 1e6, 1)
    error = found("error", mp)
    print(f"| processor | {mp} MP | {ours[('look', size)][2]:.1f} | {figure(found('strength', mp).get('light_ms'))} |"
          f" {figure(error.get('worst'), '{:.1e}')} | {figure(error.get('over_floor'))} |")
for row in gpu:
    if row.get("adapter"):
        mp = round(row["width"] * row["height"] / 1e6, 1)
        print(f"| {row['adapter']} | {mp} MP | {figure(row['look_ms'], '{:.2f}')} | {figure(row['strength_ms'], '{:.2f}')} |"
              f" {row['worst']:.1e} | {row['look_over_floor']:.1f} |")
print()
compare.table(ours, peer)
print()
for row in limits:
    print(json.dumps(row))
