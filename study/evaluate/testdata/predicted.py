#!/usr/bin/env python3
"""What a stated film on soda-lime glass shows, by formulas of textbooks.

usage: python3 predicted.py    prints the figures of TestPredictedByPython, of TestTintByPython (study/tint) and of
TestPredictorOfRoughGlassAndOfAPane (fit/film); made with NumPy 1.24.2.

One uniform film by the sum of Airy and Fresnel's equations, s and p apart; silica by Malitson with air in its pores by
Bruggeman's rule, the solid shifted to 1.458 at 550 nm; glass by Rubin (1985), with its k in the pane only; a pane by the
sum over passes of incoherent light. Rough faces lose exp(-(4 pi s cos(t) / nm)^2), as the model of the project states it.
"""
import os
import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
OPTICS = os.path.join(HERE, "..", "..", "..", "optics")


def table(name):
    rows = []
    for line in open(os.path.join(OPTICS, name)):
        try:
            rows.append([float(v) for v in line.split(",")])
        except ValueError:
            pass
    return np.array(rows).T


NM, E = table("solar/am15g.csv")
K = table("soda_lime_k.csv")
OBSERVER = table("colour/cie1931.csv")
LIGHTS = table("colour/illuminants.csv")


def silica(nm):
    w2 = (nm * 1e-3) ** 2
    n2 = 1 + sum(b * w2 / (w2 - c * c) for b, c in
                 ((0.6961663, 0.0684043), (0.4079426, 0.1162414), (0.8974794, 9.896161)))
    return np.sqrt(n2)


def glass(nm):
    w2 = (nm * 1e-3) ** 2
    return 1.5130 - 0.003169 * w2 + 0.003962 / w2


def film_index(nm, p, skeleton=1.458):
    e = (silica(nm) - silica(np.array(550.0)) + skeleton) ** 2
    b = (2 - 3 * p) * e + (3 * p - 1)
    return np.sqrt((b + np.sqrt(b * b + 8 * e)) / 4)


def front(nm, d, p, angle, bare=0.0):
    """Reflectance of the front, s and p apart."""
    nm = np.asarray(nm, float)
    sin = np.sin(np.radians(angle))
    n = [np.ones_like(nm), film_index(nm, p), glass(nm)]
    cos = [np.sqrt(1 - (sin / v) ** 2) for v in n]
    out = []
    for pol in "sp":
        y = [v * c if pol == "s" else c / v for v, c in zip(n, cos)]
        r = lambda i, j: (y[i] - y[j]) / (y[i] + y[j])
        turn = np.exp(4j * np.pi * n[1] * cos[1] * d / nm)
        coated = abs((r(0, 1) + r(1, 2) * turn) / (1 + r(0, 1) * r(1, 2) * turn)) ** 2
        out.append(bare * r(0, 2) ** 2 + (1 - bare) * coated)
    return out


def reflectance(nm, d, p, angle, **kw):
    return sum(front(nm, d, p, angle, **kw)) / 2


def pane(nm, d, p, angle, mm):
    """Reflectance and transmittance of a pane with a bare far face."""
    nm = np.asarray(nm, float)
    k = np.interp(nm, K[0], K[1])
    cos = np.sqrt(1 - (np.sin(np.radians(angle)) / glass(nm)) ** 2)
    a = np.exp(-4 * np.pi * k * mm * 1e6 / nm / cos)
    R = T = 0
    for f, b in zip(front(nm, d, p, angle), front(nm, 0, p, angle)):
        R = R + (f + (1 - f) ** 2 * b * a * a / (1 - f * b * a * a)) / 2
        T = T + ((1 - f) * (1 - b) * a / (1 - f * b * a * a)) / 2
    return R, T


def mean(y, lo=300, hi=2500, photons=False):
    x = NM[(NM >= lo) & (NM <= hi)]
    w = np.interp(x, NM, E) * (x if photons else 1)
    return np.trapz(w * y(x), x) / np.trapz(w, x)


def lab(y, light):
    x = OBSERVER[0]
    s = np.interp(x, LIGHTS[0], LIGHTS[light])
    xyz = [100 * np.sum(s * c * y(x)) / np.sum(s * OBSERVER[2]) for c in OBSERVER[1:]]
    white = [100 * np.sum(s * c) / np.sum(s * OBSERVER[2]) for c in OBSERVER[1:]]
    f = lambda t: np.cbrt(t) if t > (6 / 29) ** 3 else t * (29 / 6) ** 2 / 3 + 4 / 29
    x, y, z = (f(a / b) for a, b in zip(xyz, white))
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)]), xyz


def tint(d, p, angle, light):
    """L*a*b* in so much light that bare glass at the angle has L* 90."""
    x = OBSERVER[0]
    s = np.interp(x, LIGHTS[0], LIGHTS[light]) * OBSERVER[2]
    scale = ((90 + 16) / 116) ** 3 * np.sum(s) / np.sum(s * reflectance(x, 0, p, angle))
    return lab(lambda x: scale * reflectance(x, d, p, angle), light)[0]


if __name__ == "__main__":
    np.set_printoptions(precision=12)
    for d, p, bare in ((118, 0.36, 0), (95, 0.30, 0.1)):
        for angle in (0, 8, 60, 75):
            T = lambda x: 1 - reflectance(x, d, p, angle, bare=bare)
            T0 = lambda x: 1 - reflectance(x, 0, p, angle)
            print("film", d, p, bare, "angle", angle, "solar_T", mean(T), "cell_T", mean(T, hi=1200, photons=True),
                  "gain_pp", 100 * (mean(T) - mean(T0)))
    for light in (1, 2, 4):
        for angle in (8, 60):
            print("lab", light, angle, *lab(lambda x: reflectance(x, 118, 0.36, angle), light))
    for angle in (8, 60):
        print("tint", angle, tint(118, 0.36, angle, 2))
        x = np.array([400.0, 550.0, 1000.0])
        print("R", angle, reflectance(x, 118, 0.36, angle), "s", front(x, 118, 0.36, angle)[0], "p", front(x, 118, 0.36, angle)[1])
        print("rough 20", reflectance(x, 118, 0.36, angle) * np.exp(-(4 * np.pi * 20 * np.cos(np.radians(angle)) / x) ** 2))
        print("pane 3.2 R, T", *pane(x, 118, 0.36, angle, 3.2))
