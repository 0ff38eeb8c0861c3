"""Writes outliers.csv: reports of which some are gross errors, and what scipy makes of
them.

Recipe (any scipy; made with 1.17.1):
    python3 -m venv venv && venv/bin/pip install scipy
    venv/bin/python tests/reference/make_outliers.py > tests/reference/outliers.csv

Rows are those of estimate.csv (make_estimate.py), and `share` with the share of gross
errors in the column value, and in the column sd the sum of the chances of all reports
to be one.

The posterior is written anew here, with scipy.special.log_ndtr: each report has
(1 - e) P + e Q, where Q is a half for one bound, and for two bounds or a level that of a
normal 30 dB about the prediction (with the meter's own spread). e is where it is equal to
(1 + the sum of the chances) / (40 + the number of reports) at the top of all parameters
together, found by going on until it moves by less than 1e-12; that top by
scipy.optimize.minimize and then root on differences of eighth order. For this e the
values and deviations are found as make_estimate.py does it,
with smaller steps; what these leave of deviations is good to some 5e-6. The script stops where a
slope that is left exceeds 1e-7.
"""

import math
import random
import sys

import numpy as np
from scipy.optimize import brentq, minimize, root
from scipy.special import log_ndtr

OFFSETS, BODIES = 3, 2
GROSS_SD = 30.0
inf = math.inf


def log_between(a, b):
    turned = a + b > 0
    a, b = np.where(turned, -b, a), np.where(turned, -a, b)
    below_b = log_ndtr(b)
    return below_b + np.log1p(-np.exp(log_ndtr(a) - below_b))


def log_normal(r, v):
    return -0.5 * (r**2 / v + np.log(2 * math.pi * v))


class Posterior:
    """Of offsets and bodies p, and ln sigma, where a share of reports is gross errors."""

    def __init__(self, priors, reports):
        censored = [r for r in reports if r[0] != "level"]
        levels = [r for r in reports if r[0] == "level"]

        def columns(rows):
            design = np.zeros((len(rows), OFFSETS + BODIES))
            for i, row in enumerate(rows):
                design[i, row[1]] += 1
                if row[2] is not None:
                    design[i, OFFSETS + row[2]] -= 1
            return [design] + [np.array([r[k] for r in rows], float) for k in range(3, 9)]

        self.censored, self.levels = columns(censored), columns(levels)
        self.means = np.array([m for m, _ in priors])
        self.weights = np.array([1 / sd**2 for _, sd in priors])

    def logs(self, p, log):
        """ln P and ln Q of each report."""
        x, margin, local, low, high, _, _ = self.censored
        s = np.hypot(math.exp(log), local)
        m = margin + x @ p
        sound = log_between((low - m) / s, (high - m) / s)
        two = np.isfinite(low) & np.isfinite(high)
        wide = log_between((low - margin) / GROSS_SD, (high - margin) / GROSS_SD)
        gross = np.where(two, wide, math.log(0.5))
        x, _, local, _, _, excess, spread = self.levels
        v = math.exp(2 * log) + local**2 + spread**2
        sound = np.append(sound, log_normal(excess - x @ p, v))
        return sound, np.append(gross, log_normal(excess, GROSS_SD**2 + spread**2))

    def __call__(self, p, log, share):
        sound, gross = self.logs(p, log)
        if share > 0:
            sound = np.logaddexp(math.log1p(-share) + sound, math.log(share) + gross)
        full = np.append(p, log)
        return sound.sum() - 0.5 * (self.weights * (full - self.means) ** 2).sum()

    def gross_errors(self, p, log, share):
        sound, gross = self.logs(p, log)
        wrong = math.log(share) + gross
        return np.exp(wrong - np.logaddexp(math.log1p(-share) + sound, wrong)).sum()


WEIGHTS = (4 / 5, -1 / 5, 4 / 105, -1 / 280)


def slope(f, x, h):
    return sum(w * (f(x + k * h) - f(x - k * h)) for k, w in enumerate(WEIGHTS, 1)) / h


def gradient(f, x):
    unit = np.eye(len(x))
    return np.array([slope(lambda t, e=e: f(x + t * e), 0.0, 0.01) for e in unit])


def make(rng, kinds, n):
    offsets, bodies, sigma = (3.0, -2.0, 0.5), (1.5, -1.0), 5.0
    for _ in range(n):
        kind = rng.choice(kinds)
        cls, carry = rng.randrange(OFFSETS), rng.choice((None, 0, 1))
        margin, local = round(rng.uniform(-18, 30), 2), rng.choice((0.0, 1.5, 4.0))
        shift = offsets[cls] - (bodies[carry] if carry is not None else 0.0)
        y = margin + shift + rng.gauss(0, math.hypot(sigma, local))
        if rng.random() < 0.08:
            y += rng.choice((-35, 35))
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
    ("mixed", ("call", "between", "level"), 120),
    ("levels", ("level",), 60),
    ("calls", ("call",), 150),
]
print("case,what,class,carry,margin,local,low,high,excess,spread,value,sd")
for number, (name, kinds, n) in enumerate(cases):
    rng = random.Random(1960 + number)
    held = [(m, 4.0) for m in (0.0, 1.0, -0.5)] + [(0.0, 3.0)] * 2
    median, sd_log = 5.6, 0.35
    reports = list(make(rng, kinds, n))
    for i, (mean, sd) in enumerate([*held, (median, sd_log)]):
        print(f"{name},prior,{i},,,,,,,,{mean!r},{sd!r}")
    for kind, cls, carry, *rest in reports:
        print(",".join([name, kind, str(cls), cell(carry), *(cell(x) for x in rest), "", ""]))
    posterior = Posterior([*held, (math.log(median), sd_log)], reports)

    def top(start, share):
        """The top of all parameters together."""
        def value(q):
            return posterior(q[:-1], q[-1], share)

        near = minimize(lambda q: -value(q), start, method="BFGS").x
        found = root(lambda q: gradient(value, q), near, tol=1e-13).x
        if np.abs(gradient(value, found)).max() > 1e-7:
            sys.exit(f"{name}: a slope of {gradient(value, found)} is left")
        return found

    at = top(np.array([m for m, _ in held] + [math.log(median)]), 0.0)
    share = 1 / 40
    while True:
        at = top(at, share)
        errors = posterior.gross_errors(at[:-1], at[-1], share)
        before, share = share, (1 + errors) / (40 + n)
        if abs(share - before) < 1e-12:
            break

    def others(log):
        def by(p):
            return gradient(lambda x: posterior(x, log, share), p)

        found = root(by, at[:-1], tol=1e-13).x
        if np.abs(by(found)).max() > 1e-7:
            sys.exit(f"{name}: a slope of {by(found)} is left")
        unit = np.eye(len(found))
        hessian = np.array([slope(lambda t, e=e: by(found + t * e), 0.0, 0.01) for e in unit])
        return found, -(hessian + hessian.T) / 2

    def marginal(log):
        found, information = others(log)
        return posterior(found, log, share) - 0.5 * np.linalg.slogdet(information)[1]

    def marginal_slope(log):
        return slope(marginal, log, 0.01)

    log = brentq(marginal_slope, at[-1] - 0.2, at[-1] + 0.3, xtol=1e-13)
    variance = -1 / slope(marginal_slope, log, 0.02)
    found, information = others(log)
    moves = slope(lambda at: others(at)[0], log, 0.01)
    covariance = np.linalg.inv(information) + np.outer(moves, moves) * variance
    values = [*found, math.exp(log)]
    errors = posterior.gross_errors(found, log, share)
    print(f"{name},share,0,,,,,,,,{share:.12g},{errors:.12g}")
    for i, (value, v) in enumerate(zip(values, [*np.diag(covariance), variance])):
        print(f"{name},fit,{i},,,,,,,,{float(value):.12g},{math.sqrt(v):.12g}")
