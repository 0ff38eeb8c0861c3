"""Writes pycraf_clutter.csv: clutter loss by an earlier form of the model.

Recipe (made with pycraf 2.1.0, numpy 2.4.6):
    python3 -m venv venv && venv/bin/pip install pycraf
    venv/bin/python tests/reference/make_pycraf_clutter.py > tests/reference/pycraf_clutter.csv

pycraf implements the proposal behind ITU-R P.2108-0 section 3.2, for 2 to
67 GHz; P.2108-1 changed one of the two terms. Columns: frequency in MHz;
distance in metres; share of places where the loss is not exceeded, in percent;
loss in dB.
"""

from astropy import units as u
from pycraf import pathprof

print("frequency_mhz,distance_m,share_percent,loss_db")
for frequency in [2000, 3400, 5800, 10000]:
    for distance in [250, 400, 700, 1000, 2000, 5000]:
        for share in [10, 50, 90]:
            loss = pathprof.clutter_imt(frequency * u.MHz, distance * u.m, share * u.percent)
            print(frequency, distance, share, repr(loss.value.item()), sep=",")
