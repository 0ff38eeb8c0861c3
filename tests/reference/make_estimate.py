"""Writes estimate.csv: reports, and what scipy makes of them.

Recipe (any scipy; made with 1.17.1):
    python3 -m venv venv && venv/bin/pip install scipy
    venv/bin/python tests/reference/make_estimate.py > tests/reference/estimate.csv

Rows of a case: `prior` with the number of a parameter (offsets, bodies, then
sigma) in the column class, its mean and standard deviation (for sigma its
median, and the standard deviation of its logarithm; inf where nothing is
held); reports, `works`, `fails`, `between` and `level`, made up at random;
`fit` with the number of a parameter, its likeliest value and the square root of
the diagonal of the inverse Hessian there (for sigma the value, and that of its
logarithm).

The posterior is written anew here, with scipy.special.log_ndtr. It is climbed
by scipy.optimize.minimize (BFGS), and the top is then pinned down by
scipy.optimize.root on its gradient, taken by differences of eighth order. The
script stops where the gradient that is left exceeds 1e-8.
"""

import math
import random
import sys

import numpy as np
from scipy.optimize import minimize, root
from scipy.special import log_ndtr
from scipy.stats import norm

OFFSETS, BODIES = 3, 2
inf = math.inf


def share(a, b):
    if a + b > 0:
        a, b = -b, -a
    if a == -inf:
        return log_ndtr(b)
    return log_ndtr(b) + np.log1p(-np.exp(log_ndtr(a) - log_ndtr(b)))


def log_posterior(p, priors, reports):
    sigma = math.exp(p[-1])
    total = 0.0
    for (mean, sd), x in zip(priors, [*p[:-1], p[-1]]):
        if sd < inf:
            total += -0.5 * ((x - mean) / sd) ** 2
    for kind, cls, carry, margin, local, low, high, excess, spread in reports:
        shift = p[cls] - (p[OFFSETS + carry] if carry is not None else 0.0)
        s = math.hypot(sigma, local)
        if kind == "level":
            total += norm.logpdf(excess, shift, math.hypot(s, spread))
        else:
            m = margin + shift
            total += share((low - m) / s, (high - m) / s)
    return total


def gradient(f, x):
    weights = (4 / 5, -1 / 5, 4 / 105, -1 / 280)
    out = []
    for i in range(len(x)):
        h = 2e-2
        e = np.zeros(len(x))
        e[i] = h
        out.append(sum(w * (f(x + k * e) - f(x - k * e)) for k, w in enumerate(weights, 1)) / h)
    return np.array(out)


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

    def f(x):
        return log_posterior(np.asarray(x), priors, reports)

    start = np.array([m for m, _ in priors])
    near = minimize(lambda x: -f(x), start, method="BFGS", options={"gtol": 1e-6}).x
    top = root(lambda x: gradient(f, x), near, tol=1e-13).x
    left = np.abs(gradient(f, top)).max()
    if left > 1e-8:
        sys.exit(f"{name}: a slope of {left} is left")
    hessian = np.array([
        gradient(lambda x, i=i: gradient(f, x)[i], top) for i in range(len(top))
    ])
    sds = np.sqrt(np.diag(np.linalg.inv(-(hessian + hessian.T) / 2)))
    values = [*top[:-1], math.exp(top[-1])]
    for i, (value, sd) in enumerate(zip(values, sds)):
        print(f"{name},fit,{i},,,,,,,,{float(value):.12g},{float(sd):.12g}")
