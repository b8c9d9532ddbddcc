#!/usr/bin/env python3
"""Solar means, irradiances and photon fluxes, by plain trapezoids on the table.

usage: python3 worked.py    prints the figures of sun_test.go, weights_test.go and
example_test.go, and those of TestBareGlassSolarValues and TestFilmSolarValues of study/evaluate;
made with NumPy 1.24.2.

The table is ../am15g.csv (ASTM G173-03). Glass is M. Rubin, Sol. Energy Mater. 12,
275 (1985), without absorption: n = 1.5130 - 0.003169 w^2 + 0.003962/w^2, w in um. A film's
reflectance at normal incidence is the Airy sum of a lossless film. Weighted means are sum(T
E R)/sum(T E), T the trapezoid's weights on the rows of the table, times the wavelength for
photons.
"""
import os
import numpy as np

PLANCK, LIGHT, CHARGE = 6.62607015e-34, 299792458.0, 1.602176634e-19  # exact in the SI
table = np.loadtxt(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "am15g.csv"), delimiter=",", comments="#", skiprows=5)
NM, E = table.T


def band(lo, hi):
    x = np.unique(np.concatenate([[lo, hi], NM[(NM >= lo) & (NM <= hi)]]))
    return x, np.interp(x, NM, E)


def integral(y, x):
    return float(np.sum((y[1:] + y[:-1]) * np.diff(x)) / 2)


def soda(nm):
    w2 = (nm / 1000) ** 2
    return 1.5130 - 0.003169 * w2 + 0.003962 / w2


def reflectance(nm, glass, n=None, d=0.0):
    ns = glass(nm)
    if n is None:
        return ((1 - ns) / (1 + ns)) ** 2
    r1, r2 = (1 - n) / (1 + n), (n - ns) / (n + ns)
    x = 2 * r1 * r2 * np.cos(4 * np.pi * n * d / nm)
    return (r1**2 + r2**2 + x) / (1 + (r1 * r2) ** 2 + x)


def mean(lo, hi, photons, *of):
    x, y = band(lo, hi)
    w = y * x if photons else y
    return integral(w * reflectance(x, *of), x) / integral(w, x)


whole = integral(*band(280, 4000)[::-1])
print("irradiance, W/m2, and share of 280-4000 nm")
for lo, hi in ((280, 4000), (280, 400), (400, 700), (700, 2500), (2500, 4000), (380, 780), (300, 1200), (350, 1100), (300, 2500), (280, 1107)):
    watts = integral(*band(lo, hi)[::-1])
    print("%g-%g %.4f %.6f" % (lo, hi, watts, watts / whole))
print("photons, 1/(m2 s), and mA/cm2")
for lo, hi in ((280, 1107), (280, 1127), (300, 1100), (300, 1200), (350, 1200), (280, 4000)):
    x, y = band(lo, hi)
    flux = integral(y * x, x) * 1e-9 / (PLANCK * LIGHT)
    print("%g-%g %.6e %.4f" % (lo, hi, flux, flux * CHARGE / 10))
print("share of 300-2500 nm in 380-1100 nm: %.5f" % (integral(*band(380, 1100)[::-1]) / integral(*band(300, 2500)[::-1])))
print("solar reflectance at normal incidence, 300-1200, 350-1100 and 300-2500 nm")
crown = lambda nm: 1.52 + 0 * nm
for name, of in (("bare glass", (soda,)), ("1.25, 120 nm", (soda, 1.25, 120)), ("1.30, 100 nm", (soda, 1.30, 100)), ("1.38, 100 nm on 1.52", (crown, 1.38, 100))):
    for photons in (False, True):
        values = ["%.8f" % mean(lo, hi, photons, *of) for lo, hi in ((300, 1200), (350, 1100), (300, 2500))]
        print(name, "photon" if photons else "energy", *values)
print("gain of 1.25, 120 nm, 300-1200 nm: %.4f" % (mean(300, 1200, False, soda) - mean(300, 1200, False, soda, 1.25, 120)))
