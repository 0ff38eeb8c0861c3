"""Writes both_ways.csv: how likely two correlated normal levels both suffice.

Recipe (any scipy; made with 1.17.1):
    python3 -m venv venv && venv/bin/pip install scipy
    venv/bin/python tests/reference/make_both_ways.py > tests/reference/both_ways.csv

Columns: the two levels over what is needed, in standard deviations; the
correlation; the probability by scipy.stats.multivariate_normal; the same by
scipy.integrate.quad over the part that both share, on which the two are
independent. The script stops where these two differ by more than 1e-10.
"""

import math
import sys

from scipy.integrate import quad
from scipy.stats import multivariate_normal, norm


def conditioned(a, b, rho):
    """Given the shared part z, each level has its own normal part left."""
    if rho == 0:
        return norm.cdf(a) * norm.cdf(b)
    shared, own = math.sqrt(rho), math.sqrt(1 - rho)

    def given(z):
        return norm.pdf(z) * norm.cdf((a + shared * z) / own) * norm.cdf((b + shared * z) / own)

    turns = sorted({max(-9.0, min(9.0, -v / shared)) for v in (a, b)})
    return quad(given, -9, 9, points=turns, epsabs=1e-13, epsrel=1e-12, limit=500)[0]


print("talk_in,talk_out,correlation,probability,conditioned")
for rho in (0.0, 0.3, 0.5, 0.9, 0.99):
    for a in (-4.0, -2.0, -1.0, -0.25, 0.0, 0.5, 1.6448536, 2.3263479, 4.0):
        for b in (-3.0, -1.0, 0.0, 0.4, 1.6448536, 3.0):
            p = multivariate_normal.cdf(
                [a, b], mean=[0, 0], cov=[[1, rho], [rho, 1]], abseps=1e-14, releps=1e-14
            )
            q = conditioned(a, b, rho)
            if abs(p - q) > 1e-10:
                sys.exit(f"{a} {b} {rho}: {p} and {q}")
            print(f"{a!r},{b!r},{rho!r},{float(p)!r},{float(q)!r}")
