#!/usr/bin/env python3
"""Writes positions.csv: texts of positions and where other programs put them.

    pip install pyproj==3.7.2 mgrs==1.6.0 maidenhead==1.8.0
    python tests/reference/make_positions.py > tests/reference/positions.csv

UTM comes from PROJ through pyproj. MGRS squares and their centres
come from the mgrs package (GEOTRANS) and go back to degrees through PROJ. Centres
of Maidenhead squares come from the maidenhead package.
"""

import csv
import random
import sys

import maidenhead
import mgrs
import pyproj

random.seed(526)
out = csv.writer(sys.stdout, lineterminator="\n")
out.writerow(["source", "text", "latitude", "longitude"])
grid = mgrs.MGRS()


def utm(zone, south):
    return pyproj.Transformer.from_crs(
        f"EPSG:{32700 + zone if south else 32600 + zone}", "EPSG:4326", always_xy=True
    )


places = [(47.1234, -35.2345), (0.5, 0.5), (-33.9, 18.4), (71.2, 25.8), (-54.8, -68.3)]
places += [(random.uniform(-79, 83), random.uniform(-179.9, 179.9)) for _ in range(60)]
for latitude, longitude in places:
    text = grid.toMGRS(latitude, longitude, MGRSPrecision=5)
    zone, half, easting, northing = grid.MGRSToUTM(text)
    half = "south" if half == "S" else "north"
    to_degrees = utm(zone, half == "south")

    east, north = to_degrees.transform(easting, northing)
    out.writerow(["utm", f"{zone} {half} {easting:.1f} {northing:.1f}", f"{north:.9f}", f"{east:.9f}"])
    band = text[: 3 if text[1].isdigit() else 2]
    if not (band.endswith("S") or band.endswith("N")):
        out.writerow(["utm", f"{band} {easting:.1f}E {northing:.1f}N", f"{north:.9f}", f"{east:.9f}"])

    for digits in (5, 4, 3):
        text = grid.toMGRS(latitude, longitude, MGRSPrecision=digits)
        zone, half, easting, northing = grid.MGRSToUTM(text)
        east, north = utm(zone, half == "S").transform(easting, northing)
        out.writerow(["mgrs", text, f"{north:.9f}", f"{east:.9f}"])

    for pairs in (2, 3, 4):
        text = maidenhead.to_maiden(latitude, longitude, pairs)
        north, east = maidenhead.to_location(text, center=True)
        out.writerow(["maidenhead", text, f"{north:.9f}", f"{east:.9f}"])
