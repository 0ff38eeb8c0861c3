"""Writes the p1812_*.csv tables: worked examples of Recommendation ITU-R P.1812.

Source: the validation examples that ITU-R Study Group 3 publishes with its
reference software for Recommendation ITU-R P.1812, with the equation numbers of
the edition that the examples name beside each value: the family `rburg` (27
runs, inland) and the family `b2iseac` (36 runs, inland, coast and sea).

Recipe, with the examples as CSV files in FOLDER/p1812 and FOLDER/p1812-coast
(profile_NAME.csv, and result_NAME_K.csv for run K on that profile):
    python3 tests/reference/make_p1812.py FOLDER tests/reference

p1812_inland.csv, p1812_coast.csv, p1812_coast_even.csv: the ground. Distance in
km; height in metres above the sea; zone; heights of the ground cover in metres,
as many columns as runs differ in it.
p1812_runs.csv: what went in. Which ground, how many points of it, whether the
zones are the ground's or all inland, and which column of cover; frequency in
MHz; share of the time in %; polarization; antenna heights above ground in
metres; latitude and longitude of both ends in degrees; fall of refractivity in
N-units a kilometre and refractivity at sea level; distances to the coast in km;
power in kW. All runs are at the median place, with antennas of 0 dBi.
p1812_values.csv: what came out, a column for each value (VALUES below has the
equation of each).
"""

import csv
import sys
from pathlib import Path

source, out = (Path(folder) for folder in sys.argv[1:])

ZONES = {"1": "sea", "3": "coast", "4": "inland"}
POLARIZATIONS = {"1": "horizontal", "2": "vertical"}

INPUTS = {
    "time_percent": "p (%)",
    "tx_height_m": "htg (m)",
    "rx_height_m": "hrg (m)",
    "tx_latitude_deg": "phi_t (deg)",
    "tx_longitude_deg": "lam_t (deg)",
    "rx_latitude_deg": "phi_r (deg)",
    "rx_longitude_deg": "lam_r (deg)",
    "delta_n": "DN",
    "n0": "N0",
    "tx_to_coast_km": "dct (km)",
    "rx_to_coast_km": "dcr (km)",
    "power_kw": "Ptx (kW)",
}

# Column of ours: label and equation in the examples.
VALUES = {
    "length_km": ("d (km)", ""),
    "tx_horizon_km": ("dlt (km)", "Eq (78)"),
    "rx_horizon_km": ("dlr (km)", "Eq (81a)"),
    "tx_elevation_mrad": ("th_t (mrad)", "Eqs (76-78)"),
    "rx_elevation_mrad": ("th_r (mrad)", "Eqs (79-81)"),
    "path_angle_mrad": ("th (mrad)", "Eq (82)"),
    "tx_altitude_m": ("hts (m)", ""),
    "rx_altitude_m": ("hrs (m)", ""),
    "sea_share": ("w", "Table 5"),
    "longest_land_km": ("dtm (km)", "Sec 3.6"),
    "longest_inland_km": ("dlm (km)", "Sec 3.6"),
    "latitude_deg": ("phi (deg)", "Eq (4)"),
    "anomalous_percent": ("b0 (%)", "Eq (5)"),
    "earth_radius_km": ("ae (km)", "Eq (7a)"),
    "smooth_start_m": ("hst (m)", "Eq (85)"),
    "smooth_end_m": ("hsr (m)", "Eq (86)"),
    "low_smooth_start_m": ("hst (m)", "Eq (90a)"),
    "low_smooth_end_m": ("hsr (m)", "Eq (90b)"),
    "diffraction_smooth_start_m": ("hstd (m)", "Eq (89)"),
    "diffraction_smooth_end_m": ("hsrd (m)", "Eq (89)"),
    "tx_over_smooth_m": ("htc (m)", "Eq (37a)"),
    "rx_over_smooth_m": ("hrc (m)", "Eq (37b)"),
    "ducting_tx_m": ("hte (m)", "Eq (92a)"),
    "ducting_rx_m": ("hre (m)", "Eq (92b)"),
    "roughness_m": ("hm (m)", "Eq (93)"),
    "lean": ("Fi", "Eq (40)"),
    "clear": ("Fj", "Eq (57)"),
    "short": ("Fk", "Eq (58)"),
    "free_space_db": ("Lbfs", "Eq (8)"),
    "line_of_sight_db": ("Lb0p", "Eq (10)"),
    "anomalous_line_of_sight_db": ("Lb0b", "Eq (11)"),
    "bullington_db": ("Lbulla (dB)", "Eq (21)"),
    "smooth_bullington_db": ("Lbulls (dB)", "Eq (21)"),
    "spherical_earth_db": ("Ldsph (dB)", "Eq (27)"),
    "median_diffraction_db": ("Ld50 (dB)", "Eq (39)"),
    "anomalous_diffraction_db": ("Ldb (dB)", "Eq (39)"),
    "diffraction_db": ("Ldp (dB)", "Eq (41)"),
    "median_with_diffraction_db": ("Lbd50 (dB)", "Eq (42)"),
    "with_diffraction_db": ("Lbd (dB)", "Eq (43)"),
    "least_db": ("Lminb0p (dB)", "Eq (59)"),
    "ducting_db": ("Lba (dB)", "Eq (46)"),
    "least_ducting_db": ("Lminbap (dB)", "Eq (60)"),
    "diffraction_or_duct_db": ("Lbda (dB)", "Eq (61)"),
    "without_scatter_db": ("Lbam (dB)", "Eq (62)"),
    "scatter_db": ("Lbs (dB)", "Eq (44)"),
    "combined_db": ("Lbc (dB)", "Eq (63)"),
    "loss_db": ("Lb (dB)", "Eq (69)"),
    "field_dbuv_m": ("Ep (dBuV/m)", "Eq (70)"),
    "field_of_power_dbuv_m": ("Ep (dBuV/m) w.r.t. Ptx, Gtx, Grx", ""),
}
# Listed twice: Table 5 repeats the heights of the antennas above the sea.
REPEATED = {"tx_altitude_m": ("htc (m)", "Table 5"), "rx_altitude_m": ("hrc (m)", "Table 5")}


def write(name, head, rows):
    with open(out / name, "w", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(head)
        table.writerows(rows)


def short(number):
    """The number without zeros at its end."""
    return f"{float(number):.10g}"


def listed(file):
    """What a result file lists, by label and equation."""
    found = {}
    for line in file.read_text().splitlines()[1:]:
        cells = [cell.strip() for cell in line.split(",")]
        if any(cells):
            # A value, then a blank; one label has commas of its own.
            label = ", ".join(cells[:-4]) if len(cells) > 5 else cells[0]
            equation = "" if len(cells) > 5 else cells[1]
            assert (label, equation) not in found, (file, label)
            found[label, equation] = cells[-2]
    return found


grounds, runs, values = {}, [], []


def ground_of(file):
    """Puts a profile with those over the same ground: ground, points, zones, cover."""
    with open(file) as rows:
        rows = list(csv.reader(rows))[1:]
    name = "inland" if "rburg" in file.stem else "coast"
    name += "_even" if "eqdist" in file.stem else ""
    places = [(short(row[0]), short(row[1])) for row in rows]
    zones = [ZONES[row[4]] for row in rows]
    cover = [short(row[3]) for row in rows]
    ground = grounds.setdefault(name, {"places": places, "zones": zones, "covers": []})
    assert ground["places"][: len(rows)] == places, file
    inland = set(zones) == {"inland"}
    if not inland and set(ground["zones"]) == {"inland"}:
        ground["zones"] = zones
    assert inland or zones == ground["zones"], file
    for index, known in enumerate(ground["covers"]):
        if known[: len(cover)] == cover:
            break
    else:
        index = len(ground["covers"])
        ground["covers"].append(cover)
    return [name, len(rows), "inland" if inland else "listed", f"cover_{index + 1}_m"], cover


for family in ["p1812", "p1812-coast"]:
    for file in sorted((source / family).glob("profile_*.csv")):
        name = file.stem.removeprefix("profile_")
        ground, cover = ground_of(file)
        for number in range(100):
            result = source / family / f"result_{name}_{number}.csv"
            if not result.exists():
                break
            found = listed(result)
            given = lambda label: found.pop((label, ""))
            assert given("Gtx (dBi)") == given("Grx (dBi)") == "0", result
            assert given("pL (%)") == "50" and given("sigmaL (dB)") == "0", result
            assert float(given("R2 (m)")) == float(cover[1]), result
            assert float(given("Rn-1 (m)")) == float(cover[-2]), result
            frequency = short(float(given("f (GHz)")) * 1000)
            polarization = POLARIZATIONS[given("pol")]
            inputs = [given(label) for label in INPUTS.values()]
            runs.append([f"{name}_{number}", *ground, frequency, polarization, *inputs])
            row = {column: found.pop(key) for column, key in VALUES.items()}
            for column, key in REPEATED.items():
                assert found.pop(key) == row[column], result
            assert not found, (result, found)
            values.append([f"{name}_{number}", *row.values()])

for name, ground in grounds.items():
    covers = [f"cover_{index + 1}_m" for index in range(len(ground["covers"]))]
    rows = zip(ground["places"], ground["zones"], *ground["covers"], strict=True)
    write(
        f"p1812_{name}.csv",
        ["distance_km", "height_m", "zone", *covers],
        [[*place, *rest] for place, *rest in rows],
    )
head = ["run", "ground", "points", "zones", "cover", "frequency_mhz", "polarization", *INPUTS]
write("p1812_runs.csv", head, runs)
write("p1812_values.csv", ["run", *VALUES], values)
