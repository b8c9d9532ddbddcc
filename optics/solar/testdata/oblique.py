#!/usr/bin/env python3
"""Reflectance of evenly diffuse light, and currents of devices in sunlight.

usage: python3 oblique.py    prints the figures of TestIsotropic and TestCurrentAgainstNumPy;
made with SciPy 1.10.1 and NumPy 1.24.2.

Diffuse light: adaptive integration of R(t) sin(2t) over t from 0 to 90 degrees, R by Fresnel's
equations and the sum of Airy for a film, the mean of both polarisations. Currents: trapezoids on
the union of the rows of ../am15g.csv (ASTM G173-03) and the wavelengths of the response.
"""
import os
import numpy as np
from scipy.constants import c, e, h
from scipy.integrate import quad


def airy(n, nm, sin):
    """|r|^2 of a stack of indices n with nm (one thickness, wavelength) between, both polarisations."""
    cos = np.sqrt(1 - (sin / n) ** 2)
    total = 0
    for p in (n * cos, cos / n):  # admittances of s, and the inverse of those of p
        r = (p[:-1] - p[1:]) / (p[:-1] + p[1:])
        if len(r) == 1:
            total += r[0] ** 2
            continue
        turn = np.exp(4j * np.pi * n[1] * cos[1] * nm[0] / nm[1])
        total += abs((r[0] + r[1] * turn) / (1 + r[0] * r[1] * turn)) ** 2
    return total / 2


for n, nm in (((1, 1.5), None), ((1, 1.25, 1.52), (118, 550)), ((1, 1.25, 1.52), (118, 400))):
    f = lambda t: airy(np.array(n, float), nm, np.sin(t)) * np.sin(2 * t)
    print("diffuse", n, nm, "%.11f" % quad(f, 0, np.pi / 2, epsabs=1e-13, epsrel=1e-13, limit=400)[0])

HERE = os.path.dirname(os.path.abspath(__file__))
NM, E = np.loadtxt(os.path.join(HERE, "..", "am15g.csv"), delimiter=",", comments="#", skiprows=5).T


def current(nm, share, lo=0, hi=1e9, y=lambda x: 1):
    lo, hi = max(lo, nm[0], NM[0]), min(hi, nm[-1], NM[-1])
    x = np.union1d(np.concatenate([NM, nm]), [lo, hi])
    x = x[(x >= lo) & (x <= hi)]
    return np.trapz(np.interp(x, NM, E) * x * 1e-9 * np.interp(x, nm, share) * y(x), x) * e / (h * c)


for gap in (1.12, 1.5, 1.1242):
    print("band gap", gap, repr(current([280, h * c / e * 1e9 / gap], [1, 1])))
nm, share = [400, 600, 1000], [0.2, 0.9, 0.5]
print("triangle", repr(current(nm, share)), "mean of nm/1000", repr(current(nm, share, y=lambda x: x / 1000) / current(nm, share)),
      "from 500 nm", repr(current(nm, share, lo=500) / current(nm, share)))
