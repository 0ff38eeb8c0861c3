"""Writes p526_paths.csv and p526_cases.csv: worked examples of delta-Bullington.

Source: ITU-R Study Group 3, "Validation examples for the delta-Bullington
diffraction prediction method" (Recommendation ITU-R P.526, section 4.5): all
four paths, all twenty cases. The publisher's tolerance is 0.1 dB.

Recipe, with the examples as CSV files in FOLDER (path1.csv to path4.csv with
distance in km and height in m, expected.csv with a case a row):
    python3 tests/reference/make_p526.py FOLDER tests/reference

p526_paths.csv: path; distance between two points in metres and length of the
path in metres (the last step is shorter); ground heights in metres above the
sea with blanks between.
p526_cases.csv: path; frequency in MHz; antenna heights above ground in metres;
antenna heights over the smooth surface that is fitted to the ground, in metres;
in dB beyond free space the loss by Bullington over the ground and over the
smooth surface, by the spherical earth over that, and by delta-Bullington.
Horizontal polarization, land, effective earth radius 8500 km; the examples take
the speed of light for 3e8 m/s.
"""

import csv
import sys
from pathlib import Path

source, out = (Path(folder) for folder in sys.argv[1:])


def write(name, head, rows):
    with open(out / name, "w", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(head)
        table.writerows(rows)


def path(number):
    with open(source / f"path{number}.csv") as file:
        points = list(csv.DictReader(file))
    metres = [float(point["distance_km"]) * 1000 for point in points]
    step = round(metres[1] - metres[0], 6)
    assert all(abs(d - i * step) < 1e-6 for i, d in enumerate(metres[:-1]))
    assert 0 < metres[-1] - metres[-2] <= step
    return [number, f"{step:g}", round(metres[-1], 6), " ".join(p["height_m"] for p in points)]


write(
    "p526_paths.csv",
    ["path", "step_m", "length_m", "heights_m"],
    [path(number) for number in range(1, 5)],
)

# Columns of ours and where they come from.
COLUMNS = {
    "path": "path",
    "frequency_mhz": "frequency_mhz",
    "tx_height_m": "tx_height_agl_m",
    "rx_height_m": "rx_height_agl_m",
    "tx_over_smooth_m": "effective_tx_height_m",
    "rx_over_smooth_m": "effective_rx_height_m",
    "bullington_db": "bullington_actual_db",
    "smooth_bullington_db": "bullington_smooth_db",
    "spherical_earth_db": "spherical_earth_db",
    "delta_bullington_db": "delta_bullington_db",
}
with open(source / "expected.csv") as file:
    cases = sorted(csv.DictReader(file), key=lambda case: int(case["path"]))
write("p526_cases.csv", COLUMNS, [[case[c] for c in COLUMNS.values()] for case in cases])
