"""Writes intervals.csv: confidence intervals by statsmodels and scipy.

Recipe (any of both; made with statsmodels 0.15.0 and scipy 1.17.1):
    python3 -m venv venv && venv/bin/pip install statsmodels scipy
    venv/bin/python tests/reference/make_intervals.py > tests/reference/intervals.csv

Rows of 95 %: `wilson` with how many of how many, and the interval of
statsmodels.stats.proportion.proportion_confint(method="wilson"); `bias` and
`spread` with a number n and the mean or standard deviation of the n values
(37 i mod 11) - 4.2, i = 0 ... n - 1, and their intervals by scipy.stats.t and
scipy.stats.chi2.
"""

import math

import numpy as np
from scipy.stats import chi2, t
from statsmodels.stats.proportion import proportion_confint

print("what,first,second,low,high")
for n in (1, 2, 5, 10, 40, 137, 1000):
    for worked in sorted({0, 1, n // 3, n // 2, n - 1, n}):
        low, high = proportion_confint(worked, n, alpha=0.05, method="wilson")
        print(f"wilson,{worked},{n},{float(low)!r},{float(high)!r}")
for n in (2, 3, 5, 12, 40, 200):
    x = np.array([(37 * i) % 11 - 4.2 for i in range(n)])
    mean, sd = float(x.mean()), float(x.std(ddof=1))
    low, high = t.interval(0.95, n - 1, loc=mean, scale=sd / math.sqrt(n))
    print(f"bias,{n},{mean!r},{float(low)!r},{float(high)!r}")
    low, high = (sd * math.sqrt((n - 1) / chi2.ppf(q, n - 1)) for q in (0.975, 0.025))
    print(f"spread,{n},{sd!r},{float(low)!r},{float(high)!r}")
