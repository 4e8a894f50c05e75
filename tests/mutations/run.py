"""Constants changed by about 5 %, one at a time: some reference test must fail for each.

Run: python tests/mutations/run.py [words of the rows to try]

The tree is copied to a temporary folder, so nothing here is touched. Each row is a file, the text
of the constant, what it is changed to, and the reference tests of which one must notice.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

ANCHORS = "thrust supports flotation joints tests/routing/anchors"
"""The published checks of the anchors room, and its own tests for what is common practice."""

MUTATIONS = (
    ("routing/flow/intake/weir.py", "8.0 / 15.0", "8.4 / 15.0", "intake"),
    ("routing/flow/intake/weir.py", "2.49 *", "2.36 *", "intake"),
    ("routing/flow/intake/weir.py", "0.602 +", "0.632 +", "intake"),
    ("routing/flow/intake/weir.py", "0.083 *", "0.070 *", "intake"),
    ("routing/flow/intake/weir.py", "3.33 *", "3.5 *", "intake"),
    ("routing/flow/intake/weir.py", "3.367 *", "3.2 *", "intake"),
    ("routing/flow/intake/weir.py", "0.0012", "0.0020", "intake"),
    ("routing/flow/intake/mouth.py", "0.54, 0.72", "0.567, 0.72", "intake"),
    ("routing/flow/intake/mouth.py", "0.54, 0.72", "0.54, 0.756", "intake"),
    ("routing/flow/intake/mouth.py", "2.3 *", "2.19 *", "intake"),
    ("routing/flow/intake/settling.py", "1.65", "1.73", "intake"),
    ("routing/flow/intake/settling.py", "18.0, 1.0", "18.9, 1.0", "intake"),
    ("routing/flow/intake/settling.py", "18.0, 1.0", "18.0, 1.05", "intake"),
    ("routing/flow/intake/settling.py", "2650.0", "2780.0", "intake"),
    (
        "routing/flow/intake/data/limits.csv",
        "crest_coefficient,1.7",
        "crest_coefficient,1.785",
        "intake",
    ),
    ("routing/flow/intake/data/limits.csv", "shields,0.05", "shields,0.0525", "intake"),
    ("routing/flow/intake/data/v_notches.csv", "60,0.577", "60,0.606", "intake"),
    ("routing/flow/energy.py", "HOURS = 8760.0", "HOURS = 9198.0", "energy"),
    ("routing/flow/energy.py", "availability * (parts @ kw)", "(parts @ kw)", "energy"),
    ("routing/flow/energy.py", "3.0 / 16.0", "3.1 / 16.0", "energy"),
    ("routing/flow/energy.py", "4.0 ** (10.0 / 3.0)", "4.0 ** (10.2 / 3.0)", "energy"),
    ("routing/flow/flow_duration.py", "(days + 1.0)", "(days + 0.0)", "energy"),
    ("routing/strength/ring.py", "return 2.0 * elastic", "return 2.1 * elastic", "vacuum"),
    ("routing/strength/ring.py", "(outside_diameter_m - wall_m)", "outside_diameter_m", "vacuum"),
    ("routing/strength/burial.py", "32.0 *", "33.6 *", "vacuum"),
    ("routing/strength/burial.py", "-0.065", "-0.068", "vacuum"),
    ("routing/strength/burial.py", "12.0 *", "12.6 *", "vacuum"),
    ("routing/strength/burial.py", "0.33 *", "0.30 *", "vacuum"),
    ("routing/strength/data/limits.csv", "ovality_factor,0.64", "ovality_factor,0.672", "vacuum"),
    (
        "routing/strength/data/limits.csv",
        "safety_vents_work,2.0",
        "safety_vents_work,1.9",
        "vacuum",
    ),
    (
        "routing/strength/data/limits.csv",
        "safety_vents_frozen,4.0",
        "safety_vents_frozen,2.0",
        "vacuum",
    ),
    (
        "routing/strength/data/limits.csv",
        "most_vent_vacuum,34473.8",
        "most_vent_vacuum,36200",
        "vacuum",
    ),
    ("routing/strength/data/limits.csv", "column_parts,20000.0", "column_parts,5000", "vacuum"),
    ("routing/strength/vacuum.py", "wall_m=least_wall_m(pipe)", "wall_m=pipe.wall_m", "vacuum"),
    ("routing/strength/low_pressure.py", "FAR_SHARE = 1.1", "FAR_SHARE = 1.155", "vacuum"),
    (
        "routing/strength/data/surge_rules.csv",
        "1.60,1.0,0,Buried Pipe Design p. 246 (digilib.universitaspertamina.ac.id),",
        "1.68,1.0,0,Buried,",
        "class",
    ),
    ("routing/strength/data/surge_rules.csv", "PE4710,PE4710,,2.0", "PE4710,PE4710,,1.9", "class"),
    ("routing/strength/data/surge_rules.csv", ",1.0,1.0,100", ",1.0,1.0,105", "class"),
    ("routing/strength/data/surge_rules.csv", "STEEL,,1.5", "STEEL,,1.425", "class"),
    ("routing/strength/data/limits.csv", "head_in_hand,2.0", "head_in_hand,1.9", "class"),
    ("routing/strength/data/limits.csv", "shortest_pocket,100.0", "shortest_pocket,50.0", "class"),
    (
        "routing/strength/data/limits.csv",
        "unknown_surge_factor,0.72",
        "unknown_surge_factor,0.756",
        "class",
    ),
    ("routing/strength/class_line.py", "good[:, :-1] & good[:, 1:]", "good[:, :-1]", "class"),
    ("routing/choice/line.py", "/ (2.0 * water.gravity", "/ (2.1 * water.gravity", "choice"),
    ("routing/choice/diameters.py", "0.5 * (1.0 - share)", "0.55 * (1.0 - share)", "choice"),
    ("routing/choice/diameters.py", "- 0.5 * bore", "- 0.0 * bore", "choice"),
    (
        "routing/choice/sweep.py",
        "worth.recovery * price",
        "1.05 * worth.recovery * price",
        "choice",
    ),
    ("routing/flow/friction.py", "3.7", "3.885", "friction"),
    ("routing/flow/friction.py", "2.51", "2.6355", "friction"),
    ("routing/flow/friction.py", "64.0", "67.2", "friction"),
    ("routing/flow/empirical.py", "10.674", "11.2077", "friction"),
    ("routing/water.py", "999.97495", "1049.97", "water"),
    ("routing/flow/data/local_losses.csv", "0.35", "0.3675", "local_losses"),
    ("routing/pipe/data/derating.csv", "0.74", "0.777", "derating"),
    (
        "routing/fittings/data/sizing.csv",
        "fill_velocity_m_s,0.3",
        "fill_velocity_m_s,0.315",
        "fittings",
    ),
    ("routing/fittings/data/limits.csv", "freeboard_m,0.3", "freeboard_m,0.315", "fittings"),
    ("routing/anchors/data/limits.csv", "block_safety,1.5", "block_safety,1.575", "thrust"),
    ("routing/anchors/data/limits.csv", "concrete_n_m3,22800,", "concrete_n_m3,23940,", ANCHORS),
    ("routing/anchors/data/limits.csv", "block_friction,0.5,", "block_friction,0.525,", ANCHORS),
    (
        "routing/anchors/data/limits.csv",
        "block_height_share,0.5,",
        "block_height_share,0.525,",
        ANCHORS,
    ),
    ("routing/anchors/data/limits.csv", "block_cover_m,0.6096,", "block_cover_m,0.64008,", ANCHORS),
    ("routing/anchors/data/limits.csv", "unknown_soil_psf,500,", "unknown_soil_psf,525,", ANCHORS),
    ("routing/anchors/data/limits.csv", "velocity_m_s,3.0,", "velocity_m_s,3.15,", ANCHORS),
    ("routing/anchors/data/limits.csv", "sharp_bend_deg,90,", "sharp_bend_deg,94.5,", ANCHORS),
    ("routing/anchors/data/limits.csv", "saturated_n_m3,19000,", "saturated_n_m3,19950,", ANCHORS),
    ("routing/anchors/data/limits.csv", "peat_n_m3,11000,", "peat_n_m3,11550,", ANCHORS),
    (
        "routing/anchors/data/limits.csv",
        "soil_shoulder,0.1073,",
        "soil_shoulder,0.112665,",
        ANCHORS,
    ),
    (
        "routing/anchors/data/limits.csv",
        "flotation_safety,1.5,",
        "flotation_safety,1.575,",
        ANCHORS,
    ),
    ("routing/anchors/data/limits.csv", "flotation_known,1.2,", "flotation_known,1.26,", ANCHORS),
    ("routing/anchors/data/limits.csv", "saddle_friction,0.6,", "saddle_friction,0.63,", ANCHORS),
    (
        "routing/anchors/data/limits.csv",
        "anchor_straight_m,30,",
        "anchor_straight_m,31.5,",
        ANCHORS,
    ),
    ("routing/anchors/data/limits.csv", "steep_grade,1.0,", "steep_grade,1.05,", ANCHORS),
    ("routing/anchors/data/limits.csv", "sag_share,360,", "sag_share,378,", ANCHORS),
    ("routing/anchors/data/limits.csv", "frequency_hz,3,", "frequency_hz,3.15,", ANCHORS),
    ("routing/anchors/data/limits.csv", "wind_pa,1000,", "wind_pa,1050,", ANCHORS),
    ("routing/anchors/data/limits.csv", "thin_ring,200,", "thin_ring,210,", ANCHORS),
    ("routing/anchors/data/limits.csv", "published_most,3,", "published_most,3.15,", ANCHORS),
    ("routing/anchors/data/limits.csv", "rope_safety,5,", "rope_safety,5.25,", ANCHORS),
    (
        "routing/anchors/data/limits.csv",
        "flood_clearance_m,1.0,",
        "flood_clearance_m,1.05,",
        ANCHORS,
    ),
    ("routing/anchors/data/limits.csv", "joint_gap_m,0.005,", "joint_gap_m,0.00525,", ANCHORS),
    ("routing/anchors/data/limits.csv", "pe_gap_per_c,0.0002,", "pe_gap_per_c,0.00021,", ANCHORS),
    (
        "routing/anchors/data/limits.csv",
        "steel_yield_pa,235000000,",
        "steel_yield_pa,2.4675e+08,",
        ANCHORS,
    ),
    ("routing/anchors/data/limits.csv", "stick_m,6.0,", "stick_m,6.3,", ANCHORS),
    ("routing/trench/data/trench_widths.csv", "0.225,0.40", "0.225,0.42", "trench"),
    ("routing/flow/surge/bounds.py", "2.0 * ", "2.1 * ", "surge"),
)


def _path(name: str) -> str:
    return name if "/" in name else f"tests/reference/test_{name}.py"


def main() -> int:
    """Try every mutation; return how many no test noticed."""
    survived = 0
    wanted = [row for row in MUTATIONS if all(word in " ".join(row) for word in sys.argv[1:])]
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in ("routing", "tests"):
            shutil.copytree(ROOT / name, copy / name)
        shutil.copy(ROOT / "pyproject.toml", copy / "pyproject.toml")
        environment = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
        for file, constant, changed, test in wanted:
            path = copy / file
            text = path.read_text(encoding="utf-8")
            if constant not in text:
                print(f"gone      {file}: {constant}")
                survived += 1
                continue
            path.write_text(text.replace(constant, changed), encoding="utf-8")
            command = [sys.executable, "-m", "pytest", "-xq", "-p", "no:cacheprovider"]
            result = subprocess.run(
                [*command, *(_path(name) for name in test.split())],
                cwd=copy, env=environment, capture_output=True, text=True, check=False,
            )  # fmt: skip
            path.write_text(text, encoding="utf-8")
            # 1 is a failed test; anything else (no such file, nothing collected) proves nothing.
            if result.returncode != 1:
                word = "survived" if result.returncode == 0 else f"exit {result.returncode}  "
                print(f"{word}  {file}: {constant} -> {changed}")
                survived += 1
    print(f"{len(wanted) - survived} of {len(wanted)} noticed")
    return survived


if __name__ == "__main__":
    sys.exit(main())
