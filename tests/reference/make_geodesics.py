"""Geodesics on WGS 84 by the geographiclib package (PyPI, version in the table's first line).

    python3 -m venv v && v/bin/pip install geographiclib==2.1
    v/bin/python tests/reference/make_geodesics.py > tests/reference/geodesics.csv

Pairs up to 100 km apart, all over the earth, with a fixed seed.
"""

import random
from importlib.metadata import version

from geographiclib.geodesic import Geodesic

random.seed(20261205)
starts = [(0.0, 0.0), (46.99175, -34.90041), (60.0, 25.0), (89.9, 10.0), (-89.95, -170.0), (10.0, 179.9)]
starts += [(random.uniform(-85, 85), random.uniform(-180, 180)) for _ in range(44)]

print(f"# geographiclib {version('geographiclib')}")
print("latitude1,longitude1,bearing1,distance,latitude2,longitude2")
for latitude, longitude in starts:
    for distance in (25.0, 1000.0, 12345.678, 50_000.0, 100_000.0):
        bearing = random.uniform(0, 360)
        end = Geodesic.WGS84.Direct(latitude, longitude, bearing, distance)
        print(
            f"{latitude:.12f},{longitude:.12f},{bearing:.12f},{distance},"
            f"{end['lat2']:.12f},{end['lon2']:.12f}"
        )
