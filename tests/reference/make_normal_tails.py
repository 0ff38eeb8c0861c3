"""Writes normal_tails.csv: the normal distribution function far out.

Recipe (any mpmath; made with the version that the last line of this text names):
    python3 -m venv venv && venv/bin/pip install mpmath
    venv/bin/python tests/reference/make_normal_tails.py > tests/reference/normal_tails.csv

Columns: bounds of a standard normal variable (inf and -inf where there is
none); ln of the share between them; the densities at both bounds over that
share. All by mpmath at 400 digits, so that nothing is lost in differences.

Made with mpmath 1.4.1.
"""

from mpmath import erfc, exp, inf, log, mp, mpf, pi, sqrt

mp.dps = 400


def below(z):
    return erfc(-z / sqrt(2)) / 2


def density(z):
    return exp(-z * z / 2) / sqrt(2 * pi) if abs(z) < inf else mpf(0)


def share(low, high):
    if low > 0:
        return share(-high, -low)
    return (below(high) if high < inf else 1) - (below(low) if low > -inf else 0)


pairs = [(-inf, z) for z in (-200, -40, -37.5, -20, -8, -5, -1, -0.25, 0, 0.5, 2, 6, 9)]
pairs += [(z, inf) for z in (-9, -6, -2, -0.5, 0, 0.25, 1, 5, 8, 20, 37.5, 40, 200)]
pairs += [(low, low + width) for low in (-100, -30, -8, -2.5, -0.5, 0, 1, 6, 29, 60)
          for width in (0.001, 0.25, 1, 4, 20)]
print("low,high,log_share,at_low,at_high")
for low, high in pairs:
    low, high = mpf(low), mpf(float(high))
    d = share(low, high)
    cells = [float(low), float(high), *(float(x) for x in (
        log(d), density(low) / d, density(high) / d))]
    print(",".join(repr(c) for c in cells))
