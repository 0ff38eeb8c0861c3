"""Writes estimate.csv: reports, and what scipy makes of them.

Recipe (any scipy; made with 1.17.1):
    python3 -m venv venv && venv/bin/pip install scipy
    venv/bin/python tests/reference/make_estimate.py > tests/reference/estimate.csv

Rows of a case: `prior` with the number of a parameter (offsets, bodies, then
sigma) in the column class, its mean and standard deviation (for sigma its
median, and the standard deviation of its logarithm; inf where nothing is
held); reports, `works`, `fails`, `between` and `level`, made up at random;
`fit` with the number of a parameter, its likeliest value and its standard
deviation (for sigma the value, and the deviation of its logarithm).

The posterior is written anew here, with scipy.special.log_ndtr. For a sigma,
offsets and bodies are found by scipy.optimize.root on the gradient, taken by
differences of eighth order; sigma is where the ln posterior there less half of
the ln determinant of the Hessian is greatest (offsets and bodies integrated out
by Laplace's approximation), found by scipy.optimize.brentq on its slope, taken in the
same way. The deviations follow from the law of total variance, with how the
others move with ln sigma taken by differences too. The script stops where a
slope that is left exceeds 1e-7.
"""

import math
import random
import sys

import numpy as np
from scipy.optimize import brentq, root
from scipy.special import log_ndtr

OFFSETS, BODIES = 3, 2
inf = math.inf


def table(priors, reports):
    """The ln posterior of offsets and bodies, and ln sigma."""
    censored = [r for r in reports if r[0] != "level"]
    levels = [r for r in reports if r[0] == "level"]

    def columns(rows):
        design = np.zeros((len(rows), OFFSETS + BODIES))
        for i, row in enumerate(rows):
            design[i, row[1]] += 1
            if row[2] is not None:
                design[i, OFFSETS + row[2]] -= 1
        return [design] + [np.array([r[k] for r in rows], float) for k in range(3, 9)]

    xc, margin, local_c, low, high, _, _ = columns(censored)
    xl, _, local_l, _, _, excess, spread = columns(levels)
    means = np.array([m for m, _ in priors])
    weights = np.array([1 / sd**2 for _, sd in priors])

    def f(p, log):
        full = np.append(p, log)
        s = np.hypot(math.exp(log), local_c)
        m = margin + xc @ p
        a, b = (low - m) / s, (high - m) / s
        turned = a + b > 0
        a, b = np.where(turned, -b, a), np.where(turned, -a, b)
        below_b = log_ndtr(b)
        total = (below_b + np.log1p(-np.exp(log_ndtr(a) - below_b))).sum()
        v = math.exp(2 * log) + local_l**2 + spread**2
        total -= 0.5 * ((excess - xl @ p) ** 2 / v + np.log(2 * math.pi * v)).sum()
        return total - 0.5 * (weights * (full - means) ** 2).sum()

    return f


WEIGHTS = (4 / 5, -1 / 5, 4 / 105, -1 / 280)


def slope(f, x, h):
    return sum(w * (f(x + k * h) - f(x - k * h)) for k, w in enumerate(WEIGHTS, 1)) / h


def gradient(f, x):
    unit = np.eye(len(x))
    return np.array([slope(lambda t, e=e: f(x + t * e), 0.0, 0.05) for e in unit])


def make(rng, kinds, n):
    offsets, bodies, sigma = (3.0, -2.0, 0.5), (1.5, -1.0), 6.5
    for _ in range(n):
        kind = rng.choice(kinds)
        cls, carry = rng.randrange(OFFSETS), rng.choice((None, 0, 1))
        margin, local = round(rng.uniform(-18, 24), 2), rng.choice((0.0, 1.5, 4.0))
        shift = offsets[cls] - (bodies[carry] if carry is not None else 0.0)
        y = margin + shift + rng.gauss(0, math.hypot(sigma, local))
        if kind == "call":
            yield ("works", cls, carry, margin, local, 0.0, inf, None, None) if y > 0 else (
                "fails", cls, carry, margin, local, -inf, 0.0, None, None)
        elif kind == "between":
            cuts = (-inf, -7.0, 0.0, 7.0, 14.0, inf)
            low, high = next((a, b) for a, b in zip(cuts, cuts[1:]) if a < y <= b)
            yield ("between", cls, carry, margin, local, low, high, None, None)
        else:
            spread = rng.choice((0.0, 2.0))
            yield ("level", cls, carry, margin, local, None, None,
                   round(y - margin + rng.gauss(0, spread), 2), spread)


def cell(x):
    return "" if x is None or (isinstance(x, float) and math.isinf(x)) else repr(x)


cases = [
    ("mixed", ("call", "between", "level"), 90, (4.0, 3.0, 0.35)),
    ("calls", ("call",), 120, (4.0, 3.0, 0.35)),
    ("ranges", ("between",), 70, (4.0, 3.0, 0.35)),
    ("nothing_held", ("call", "between", "level"), 110, (inf, inf, inf)),
]
print("case,what,class,carry,margin,local,low,high,excess,spread,value,sd")
for number, (name, kinds, n, (sd_offset, sd_body, sd_log)) in enumerate(cases):
    rng = random.Random(1958 + number)
    held = [(m, sd_offset) for m in (0.0, 1.0, -0.5)] + [(0.0, sd_body)] * 2
    median = 5.6
    reports = list(make(rng, kinds, n))
    for i, (mean, sd) in enumerate([*held, (median, sd_log)]):
        print(f"{name},prior,{i},,,,,,,,{mean!r},{sd!r}")
    for kind, cls, carry, *rest in reports:
        print(",".join([name, kind, str(cls), cell(carry), *(cell(x) for x in rest), "", ""]))
    priors = [*held, (math.log(median), sd_log)]
    posterior = table(priors, reports)
    start = np.array([m for m, _ in held])

    def others(log):
        def by(p):
            return gradient(lambda x: posterior(x, log), p)

        found = root(by, start, tol=1e-13).x
        if np.abs(by(found)).max() > 1e-7:
            sys.exit(f"{name}: a slope of {by(found)} is left")
        unit = np.eye(len(found))
        hessian = np.array([slope(lambda t, e=e: by(found + t * e), 0.0, 0.05) for e in unit])
        return found, -(hessian + hessian.T) / 2

    def marginal(log):
        found, information = others(log)
        return posterior(found, log) - 0.5 * np.linalg.slogdet(information)[1]

    def marginal_slope(log):
        return slope(marginal, log, 0.05)

    log = brentq(marginal_slope, math.log(3), math.log(12), xtol=1e-13)
    variance = -1 / slope(marginal_slope, log, 0.05)
    found, information = others(log)
    moves = slope(lambda at: others(at)[0], log, 0.05)
    covariance = np.linalg.inv(information) + np.outer(moves, moves) * variance
    values = [*found, math.exp(log)]
    for i, (value, v) in enumerate(zip(values, [*np.diag(covariance), variance])):
        print(f"{name},fit,{i},,,,,,,,{float(value):.12g},{math.sqrt(v):.12g}")
