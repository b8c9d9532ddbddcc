#!/usr/bin/env python3
"""Diffuse reflectance of bare glass: Duntley's formula and the integral of Fresnel's equations.

Prints n, from the air (formula, integral), from inside (integral). Debian's python3-scipy.
"""
import numpy as np
from scipy.integrate import quad


def fresnel(n, sin2):
    c = np.sqrt(1 - sin2)
    if sin2 >= n * n:
        return 1.0
    q = np.sqrt(n * n - sin2)
    return 0.5 * (((c - q) / (c + q)) ** 2 + ((n * n * c - q) / (n * n * c + q)) ** 2)


def mean(n):
    f = lambda th: fresnel(n, np.sin(th) ** 2) * np.sin(2 * th)
    ends = [0, np.pi / 2] if n >= 1 else [0, np.arcsin(n), np.pi / 2]
    return sum(quad(f, a, b, epsabs=1e-13, epsrel=1e-12, limit=400)[0] for a, b in zip(ends, ends[1:]))


def duntley(m):
    return (0.5 + (m - 1) * (3 * m + 1) / (6 * (m + 1) ** 2)
            + m ** 2 * (m ** 2 - 1) ** 2 / (m ** 2 + 1) ** 3 * np.log((m - 1) / (m + 1))
            - 2 * m ** 3 * (m ** 2 + 2 * m - 1) / ((m ** 2 + 1) * (m ** 4 - 1))
            + 8 * m ** 4 * (m ** 4 + 1) / ((m ** 2 + 1) * (m ** 4 - 1) ** 2) * np.log(m))


for n in (1.33, 1.5, 1.52):
    print('%.2f %.7f %.7f %.7f' % (n, duntley(n), mean(n), mean(1 / n)))
