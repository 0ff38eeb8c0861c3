"""Writes fresnel.csv: Fresnel integrals and the exact knife-edge loss.

Recipe (any scipy; made with 1.17.1):
    python3 -m venv venv && venv/bin/pip install scipy
    venv/bin/python tests/reference/make_fresnel.py > tests/reference/fresnel.csv

Columns: nu; C(nu) and S(nu) of scipy.special.fresnel; the loss in dB behind a
half-plane, ITU-R P.526-15 section 4.1 equation (30). nu is a multiple of 1/64,
exact in binary.
"""

import math

from scipy.special import fresnel

print("nu,c,s,loss_db")
for step in range(-3 * 64, 10 * 64 + 1):
    nu = step / 64
    s, c = (float(v) for v in fresnel(nu))
    loss = -20 * math.log10(math.hypot(1 - c - s, c - s) / 2)
    print(f"{nu!r},{c!r},{s!r},{loss!r}")
