"""Writes pycraf_diffraction.csv: delta-Bullington by another implementation.

Recipe (made with pycraf 2.1.0, numpy 2.4.6):
    python3 -m venv venv && venv/bin/pip install pycraf
    venv/bin/python tests/reference/make_pycraf_diffraction.py > tests/reference/pycraf_diffraction.csv

pycraf implements ITU-R P.452-16, whose section 4.2 is the delta-Bullington
method of P.526 for bare ground. Of its results the median diffraction loss
`Ld50` is taken, which knows nothing of clutter, gases or the share of time.

Columns: spacing of the profile in metres; antenna heights above ground in
metres; frequency in MHz; polarization; fall of refractivity in N-units a
kilometre; ground heights in metres with blanks between; Ld50 in dB.
"""

import numpy as np
from astropy import units as u
from pycraf import conversions as cnv
from pycraf import pathprof

random = np.random.default_rng(1812)
print("spacing_m,tx_height_m,rx_height_m,frequency_mhz,polarization,delta_n,heights_m,ld50_db")
for case in range(50):
    points = int(random.integers(12, 61))
    spacing = int(random.integers(25, 900))
    relief = random.choice([0.0, 5.0, 60.0, 400.0])
    rough = random.normal(size=points).cumsum() * relief / 5
    heights = np.maximum(np.rint(200 + rough), 0).astype(float)
    tx, rx = (float(random.choice([1.5, 3.0, 10.0, 25.0, 60.0])) for _ in range(2))
    frequency = float(random.choice([146.0, 446.0, 1290.0, 3400.0]))
    polarization = int(random.integers(0, 2))
    delta_n = float(random.choice([30.0, 39.25, 45.0, 60.0]))
    distances = np.arange(points) * spacing / 1000
    path = pathprof.PathProp(
        frequency * u.MHz,
        290 * u.K, 1013 * u.hPa,
        6 * u.deg, 50 * u.deg, 6.1 * u.deg, 50 * u.deg,
        tx * u.m, rx * u.m,
        spacing * u.m,
        50 * u.percent,
        polarization=polarization,
        version=16,
        delta_N=delta_n * cnv.dimless / u.km, N0=325 * cnv.dimless,
        hprof_dists=distances * u.km, hprof_heights=heights * u.m,
        hprof_bearing=0 * u.deg, hprof_backbearing=0 * u.deg,
    )
    loss = pathprof.loss_diffraction(path)[0].value
    print(
        spacing, tx, rx, frequency, ["horizontal", "vertical"][polarization], delta_n,
        " ".join(f"{h:.0f}" for h in heights), repr(float(loss)), sep=",",
    )
