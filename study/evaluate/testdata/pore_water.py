#!/usr/bin/env python3
"""What water in the pores costs in solar transmittance, for the tests of declared water.

usage: python3 pore_water.py    made with NumPy 1.24.2 and SciPy 1.10.1

A film of 118 nm on soda-lime glass; of its pores a share is filled with water of index
1.333 (G. M. Hale, M. R. Querry, Appl. Opt. 12, 555 (1973), at 550 nm, from memory),
Bruggeman's equation, first of water and air, then of that
and silica, is solved by scipy.optimize.brentq at every row of ASTM G173-03, 300-2500 nm (../../../optics/solar/am15g.csv); solar_T is 1
less the energy-weighted mean of the Airy sum at normal incidence, by trapezoids. Glass:
M. Rubin, Sol. Energy Mater. 12, 275 (1985); silica: I. H. Malitson, J. Opt. Soc. Am. 55, 1205
(1965), shifted to 1.458 at 550 nm.
"""
import os
import numpy as np
from scipy.optimize import brentq

here = os.path.dirname(os.path.abspath(__file__))
NM, E = np.loadtxt(os.path.join(here, "..", "..", "..", "optics", "solar", "am15g.csv"), delimiter=",", comments="#", skiprows=5).T
NM, E = NM[(NM >= 300) & (NM <= 2500)], E[(NM >= 300) & (NM <= 2500)]
WATER = 1.333**2


def silica(nm):
    w2 = (nm / 1000) ** 2
    return np.sqrt(1 + sum(b * w2 / (w2 - c * c) for b, c in ((0.6961663, 0.0684043), (0.4079426, 0.1162414), (0.8974794, 9.896161))))


def trapezoid(y):
    return float(np.sum((y[1:] + y[:-1]) * np.diff(NM)) / 2)


def bruggeman(a, b, share):
    """the permittivity of a with the share of b in it"""
    rule = lambda e: (1 - share) * (a - e) / (a + 2 * e) + share * (b - e) / (b + 2 * e)
    return brentq(rule, 0.5, 2.5, xtol=1e-14)


def film_index(porosity, filled):
    pores = bruggeman(1.0, WATER, filled)
    return np.sqrt([bruggeman(es, pores, porosity) for es in (silica(NM) + 1.458 - silica(550.0)) ** 2])


def solar(porosity, filled):
    n, w2 = film_index(porosity, filled), (NM / 1000) ** 2
    ns = 1.5130 - 0.003169 * w2 + 0.003962 / w2
    r1, r2 = (1 - n) / (1 + n), (n - ns) / (n + ns)
    x = 2 * r1 * r2 * np.cos(4 * np.pi * n * 118 / NM)
    r = (r1**2 + r2**2 + x) / (1 + (r1 * r2) ** 2 + x)
    return 1 - trapezoid(E * r) / trapezoid(E)


for porosity in (0.36, 0.35):
    print("porosity %g: a tenth filled costs %.4f pp" % (porosity, 100 * (solar(porosity, 0) - solar(porosity, 0.1))))
print("0.3 filled costs %.4f pp at porosity 0.36" % (100 * (solar(0.36, 0) - solar(0.36, 0.3))))
solid, read = 1.458**2, bruggeman(1.458**2, bruggeman(1.0, WATER, 0.3), 0.36)
for filled in (0.29, 0.3, 0.31):  # the same film as it was read, if another share was filled
    of_solid, of_pores = ((e - read) / (e + 2 * read) for e in (solid, bruggeman(1.0, WATER, filled)))
    porosity = of_solid / (of_solid - of_pores)
    print("%g filled: porosity %.5f, solar_T with dry pores %.5f %%" % (filled, porosity, 100 * solar(porosity, 0)))


def dried(read, filled):
    """solar_T with dry pores of a film whose permittivity at 550 nm is read, if so much was filled"""
    of_solid, of_pores = ((e - read) / (e + 2 * read) for e in (solid, bruggeman(1.0, WATER, filled)))
    return 100 * solar(of_solid / (of_solid - of_pores), 0)


nodes, weights = np.polynomial.legendre.leggauss(41)
for name, filled, u in (("dry, 0.36", 0.0, 0.3 / np.sqrt(3)), ("3 tenths filled, 0.36", 0.3, 0.1)):
    read = bruggeman(solid, bruggeman(1.0, WATER, filled), 0.36)
    off = np.array([dried(read, 0.3 + np.sqrt(3) * u * x) for x in nodes]) - dried(read, 0.3)
    print("read as a film %s: root mean square if 0.3 +- %.4f was filled, evenly spread: %.5f pp, of which %.5f pp by the slope" %
          (name, u, np.sqrt(np.sum(weights * off**2) / 2), np.sum(weights * nodes * off) / 2 * np.sqrt(3)))
