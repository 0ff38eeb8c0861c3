"""Writes pycraf_entry.csv: building entry loss by another implementation.

Recipe (made with pycraf 2.1.0, numpy 2.4.6):
    python3 -m venv venv && venv/bin/pip install pycraf
    venv/bin/python tests/reference/make_pycraf_entry.py > tests/reference/pycraf_entry.csv

pycraf implements ITU-R P.2109-1. Columns: building; frequency in MHz;
elevation of the path in degrees; share of buildings where the loss is not
exceeded, in percent; loss in dB.
"""

from astropy import units as u
from pycraf import conversions as cnv
from pycraf import pathprof

print("building,frequency_mhz,elevation_deg,share_percent,loss_db")
for name, building in [
    ("traditional", pathprof.BuildingType.TRADITIONAL),
    ("thermally-efficient", pathprof.BuildingType.THERM_EFF),
]:
    for frequency in [80, 146, 446, 1290, 5800, 60000]:
        for elevation in [-20, 0, 10, 60]:
            for share in [1, 10, 50, 90, 99]:
                loss = pathprof.building_entry_loss(
                    frequency * u.MHz, elevation * u.deg, share / 100 * cnv.dimless, building
                )
                print(name, frequency, elevation, share, repr(loss.value.item()), sep=",")
