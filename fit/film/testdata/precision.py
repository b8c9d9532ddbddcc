#!/usr/bin/env python3
"""What noise and nuisances leave uncertain of a film, by the Fisher information.

usage: python3 precision.py    prints the figures of TestPrecisionTable, TestBudgetAddsUp and
TestPlanNotSeparable; made with NumPy 1.24.2.

A film of 118 nm, porosity 0.36 and bare fraction 0.05 on soda-lime glass, 380-1100 nm by
2 nm, noise 0.0005; the skeleton is fused silica and held. With J the derivatives by complex
steps and P the priors, the covariance is (J'J/0.0005^2 + P)^-1. "some" is noise and
scale (1 %) only; "all" also has a factor (1 %) and an error (0.3 degrees) of each angle and the s
share (0.05).

The model: Bruggeman's rule for air in silica (I. H. Malitson, J. Opt. Soc. Am. 55, 1205
(1965)), Snell's law, the Airy sum of a lossless film, glass of M. Rubin, Sol. Energy Mater. 12,
275 (1985), without absorption.
"""
import numpy as np

NM = np.arange(380.0, 1101.0, 2.0)
W2 = (NM / 1000) ** 2
GLASS = (1.5130 - 0.003169 * W2 + 0.003962 / W2) ** 2
SILICA = 1 + sum(b * W2 / (W2 - c * c) for b, c in ((0.6961663, 0.0684043), (0.4079426, 0.1162414), (0.8974794, 9.896161)))


def curve(d, p, bare, gain, degrees, share):
    b = (2 - 3 * p) * SILICA + 3 * p - 1
    e1 = (b + np.sqrt(b * b + 8 * SILICA)) / 4
    c0 = np.cos(degrees * np.pi / 180)
    s2 = 1 - c0 * c0
    q1, q2 = np.sqrt(e1 - s2), np.sqrt(GLASS - s2)
    total = 0
    for weight, a0, a1, a2 in ((share, c0, q1, q2), (1 - share, 1 / c0, e1 / q1, GLASS / q2)):
        r1, r2, r0 = (a0 - a1) / (a0 + a1), (a1 - a2) / (a1 + a2), (a0 - a2) / (a0 + a2)
        x = 2 * r1 * r2 * np.cos(4 * np.pi * q1 * d / NM)
        film = (r1 * r1 + r2 * r2 + x) / (1 + r1 * r1 * r2 * r2 + x)
        total = total + weight * ((1 - bare) * film + bare * r0 * r0)
    return gain * total


def model(x, angles):
    d, p, bare, scale, share = x[:5]
    n = len(angles)
    return np.concatenate([curve(d, p, bare, scale * f, a + t, share) for a, f, t in zip(angles, x[5:5 + n], x[5 + n:])])


def uncertainties(angles, everything, porosity=0.36, bare=0.05, noise=0.0005):
    n = len(angles)
    x = np.array([118, porosity, bare, 1, 0.5] + [1.0] * n + [0.0] * n)
    sd = np.array([np.inf] * 3 + [0.01, 0.05] + [0.01] * n + [0.3] * n)
    free = list(range(len(x))) if everything else [0, 1, 2, 3]
    columns = []
    for i in free:
        z = x.astype(complex)
        z[i] += 1e-30j
        columns.append(model(z, angles).imag / 1e-30 / noise)
    j = np.array(columns)
    return np.sqrt(np.diag(np.linalg.inv(j @ j.T + np.diag(1 / sd[free] ** 2))))[:3]


print("angles, nuisances: u of thickness (nm), porosity, bare fraction")
for everything in (False, True):
    for angles in ([8, 30, 45, 60], [8, 60], [8, 45]):
        print(angles, "all " if everything else "some", "%.2f %.4f %.4f" % tuple(uncertainties(angles, everything)))
print([8], "all ", "%.1f %.3f %.3f" % tuple(uncertainties([8], True, 0.35, 0)), "porosity 0.35, bare fraction 0, without bounds")
