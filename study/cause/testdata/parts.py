#!/usr/bin/env python3
"""How a change of solar transmittance divides among bare fraction, thickness and index, for the tests of this package.

usage: python3 parts.py    made with Python 3.11, NumPy 1.24.2 and SciPy 1.10.1

A uniform film on soda-lime glass, in places gone. solar_T is 1 less the energy-weighted mean of the Airy sum at normal
incidence over every row of ASTM G173-03 from 300 to 2500 nm (../../../optics/solar/am15g.csv), by trapezoids. Glass: M. Rubin,
Sol. Energy Mater. 12, 275 (1985); silica: I. H. Malitson, J. Opt. Soc. Am. 55, 1205 (1965), shifted to 1.458 at 550 nm;
index of the film from its porosity by Bruggeman's equation, solved by scipy.optimize.brentq at every wavelength. The part of a parameter
is the mean over the orders of itertools.permutations of what solar_T gains when that parameter goes from then to now.
"""
import itertools
import os

import numpy as np
from scipy.optimize import brentq

here = os.path.dirname(os.path.abspath(__file__))
NM, E = np.loadtxt(os.path.join(here, "..", "..", "..", "optics", "solar", "am15g.csv"), delimiter=",", comments="#", skiprows=5).T
KEEP = (NM >= 300) & (NM <= 2500)
NM, E = NM[KEEP], E[KEEP]


def silica(nm):
    w2 = (nm / 1000) ** 2
    return np.sqrt(1 + sum(b * w2 / (w2 - c * c) for b, c in ((0.6961663, 0.0684043), (0.4079426, 0.1162414), (0.8974794, 9.896161))))


def bruggeman(solid, porosity):
    return brentq(lambda e: (1 - porosity) * (solid - e) / (solid + 2 * e) + porosity * (1 - e) / (1 + 2 * e), 0.5, 2.5, xtol=1e-14)


def trapezoid(y):
    return float(np.sum((y[1:] + y[:-1]) * np.diff(NM)) / 2)


def solar(bare, thickness, porosity):
    n = np.sqrt([bruggeman(es, porosity) for es in (silica(NM) + 1.458 - silica(550.0)) ** 2])
    w2 = (NM / 1000) ** 2
    ns = 1.5130 - 0.003169 * w2 + 0.003962 / w2
    r1, r2 = (1 - n) / (1 + n), (n - ns) / (n + ns)
    x = 2 * r1 * r2 * np.cos(4 * np.pi * n * thickness / NM)
    film, glass = (r1**2 + r2**2 + x) / (1 + (r1 * r2) ** 2 + x), ((1 - ns) / (1 + ns)) ** 2
    return 1 - trapezoid(E * ((1 - bare) * film + bare * glass)) / trapezoid(E)


for then, now in (((0.0, 118.0, 0.36), (0.12, 96.0, 0.30)), ((0.02, 150.0, 0.25), (0.05, 140.0, 0.40))):
    parts = np.zeros(3)
    for order in itertools.permutations(range(3)):
        at = list(then)
        for i in order:
            before = solar(*at)
            at[i] = now[i]
            parts[i] += 100 * (solar(*at) - before) / 6
    print(then, "to", now, "solar_T %.6f to %.6f" % (solar(*then), solar(*now)),
          "index %.8f to %.8f" % tuple(np.sqrt(bruggeman(1.458**2, p[2])) for p in (then, now)),
          "parts in pp: bare %.5f thickness %.5f porosity %.5f" % tuple(parts))
