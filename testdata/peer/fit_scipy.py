#!/usr/bin/env python3
"""Speed of SciPy at the fit of BenchmarkFitPeer (fit/film/bench_test.go).

usage: python3 testdata/peer/fit_scipy.py [--rounds 5] [--count 200]

prints fits per second, round by round and their median. Run on the same machine, one
after the other,

    go test ./fit/film -run XXX -bench FitPeer

and divide its fits/s by this median: only that ratio means anything elsewhere.

The problem: made-up reflectance of a porous film of silica on soda-lime glass without
absorption, 380 to 1180 nm by 2 nm at 8, 30, 45 and 60 degrees, unpolarised, 1604
points of noise 0.0005; thickness, porosity, bare fraction and scale are fitted without
prior knowledge. The solver is scipy.optimize.least_squares, trf with bounds, two-point
differences and SciPy's own tolerances, from one start, in one thread. What no parameter
changes is computed once, before the clock starts. It does less than the fit of the
benchmark, which also finds its own start, weighs bare glass and gives a covariance.

Before timing, the model is compared with Fresnel's amplitudes; afterwards every
fit must have arrived at the film that it was given.

Needs Python 3, NumPy and SciPy (Debian: python3-scipy).
"""
import os

for name in ("OMP", "OPENBLAS", "MKL"):  # one thread, which is to be said before NumPy is loaded
    os.environ[name + "_NUM_THREADS"] = "1"

import argparse
import platform
import statistics
import time

import numpy as np
import scipy
from scipy.optimize import least_squares

NM = np.arange(380.0, 1181.0, 2.0)
ANGLES = np.radians([8.0, 30.0, 45.0, 60.0])[:, None]
NOISE = 0.0005
SETS, SEED = 200, 2024

# thickness nm, porosity, bare fraction, scale
LOWER, UPPER = (0.0, 0.0, 0.0, 0.5), (300.0, 0.9, 1.0, 1.5)
START, SIZE = (100.0, 0.3, 0.05, 1.0), (100.0, 0.3, 0.1, 1.0)
TRUE_FROM, TRUE_TO = (70, 0.15, 0.02, 0.9), (160, 0.55, 0.35, 1.1)

UM2 = (NM / 1000) ** 2
# I. H. Malitson, J. Opt. Soc. Am. 55, 1205 (1965)
SILICA = 1 + sum(b * UM2 / (UM2 - c * c) for b, c in ((0.6961663, 0.0684043), (0.4079426, 0.1162414), (0.8974794, 9.896161)))
# M. Rubin, Sol. Energy Mater. 12, 275 (1985), clear glass
GLASS = (1.5130 - 0.003169 * UM2 + 0.003962 / UM2) ** 2

# The film without absorption transmits, in either polarisation,
#
#     4 a c / ((a + c)^2 + (b^2 - a^2 - c^2 + (a c / b)^2) sin^2(phase))
#
# with the tilted admittances a of air, b of the film and c of the glass: n cos for s,
# n / cos for p. Tables of what a and c give:
SIN2, COS = np.sin(ANGLES) ** 2, np.cos(ANGLES)
GLASS_COS = np.sqrt(GLASS - SIN2)  # n cos inside


def tables(a, c):
    return 4 * a * c, (a + c) ** 2, a * a + c * c, (a * c) ** 2


S, P = tables(COS, GLASS_COS), tables(1 / COS, GLASS / GLASS_COS)
BARE = 1 - (S[0] / S[1] + P[0] / P[1]) / 2
TURN = 2 * np.pi / NM


def bruggeman(porosity):
    b = (2 - 3 * porosity) * SILICA + 3 * porosity - 1
    return (b + np.sqrt(b * b + 8 * SILICA)) / 4


def model(x):
    thickness, porosity, bare, scale = x
    film = bruggeman(porosity)
    b2 = film - SIN2  # of s, squared
    sin2 = np.sin(thickness * TURN * np.sqrt(b2)) ** 2
    passed = 0.0
    for (top, sum2, squares, product), b2 in ((S, b2), (P, film * film / b2)):
        passed = passed + top / (sum2 + (b2 - squares + product / b2) * sin2)
    return (scale * ((1 - bare) * (1 - passed / 2) + bare * BARE)).ravel()


def amplitudes(x):
    """The model by Snell, Fresnel and Airy in complex amplitudes."""
    thickness, porosity, bare, scale = x
    n1, n2 = np.sqrt(bruggeman(porosity)), np.sqrt(GLASS)
    c1, c2 = (np.sqrt(1 - SIN2 / n**2) for n in (n1, n2))
    turn = np.exp(4j * np.pi / NM * n1 * thickness * c1)
    total = 0.0
    for a, b, c in ((COS, n1 * c1, n2 * c2), (1 / COS, n1 / c1, n2 / c2)):
        r, q = (a - b) / (a + b), (b - c) / (b + c)
        film, glass = abs((r + q * turn) / (1 + r * q * turn)) ** 2, ((a - c) / (a + c)) ** 2
        total = total + ((1 - bare) * film + bare * glass) / 2
    return (scale * total).ravel()


def fit(readings):
    return least_squares(lambda x: model(x) - readings, START, jac="2-point", bounds=(LOWER, UPPER), method="trf", x_scale=SIZE)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5, help="how often the clock is started")
    parser.add_argument("--count", type=int, default=200, help="fits a round")
    options = parser.parse_args()
    if options.rounds < 1 or options.count < 1:
        parser.error("--rounds and --count are at least 1")

    rng = np.random.default_rng(SEED)
    films = rng.uniform(TRUE_FROM, TRUE_TO, (SETS, 4))
    off = max(abs(model(x) - amplitudes(x)).max() for x in films)
    if not off < 1e-13:
        raise SystemExit("the model is %.1e off the sum of amplitudes" % off)
    sets = [model(x) + NOISE * rng.standard_normal(ANGLES.size * NM.size) for x in films]

    print("Python %s, NumPy %s, SciPy %s, %s" % (platform.python_version(), np.__version__, scipy.__version__, platform.machine()))
    fit(sets[0])
    speeds = []
    for n in range(options.rounds):
        began = time.perf_counter()
        found = [fit(sets[i % SETS]) for i in range(options.count)]
        speeds.append(options.count / (time.perf_counter() - began))
        print("round %d: %.1f fits/s" % (n + 1, speeds[-1]))
        for i, r in enumerate(found):
            if not (r.success and abs(r.x[0] - films[i % SETS][0]) < 2 and 2 * r.cost < 1.3 * NOISE**2 * sets[0].size):
                raise SystemExit("fit %d did not arrive: %s for %s" % (i, r.x, films[i % SETS]))
    print("median: %.1f fits/s" % statistics.median(speeds))


if __name__ == "__main__":
    main()
