#!/usr/bin/env python3
"""A made-up session of a blank and two coated spots on borosilicate crown glass, two angles, a native
beam, and its joint fit by SciPy, for joint_session_test.go.

usage: python3 scipy_joint.py    writes scipy_joint.json here

The model is that of scipy_fit.py with an s share and an error of the index of the
glass, all spots and parameters in one vector: nothing is eliminated. The solver is
scipy.optimize.least_squares (trf, all tolerances 1e-15, bounds, Jacobian by complex
steps, priors as residuals); the covariance is the inverse of J'J of the data over max(1, reduced
chi-square) plus J'J of the priors.
"""
import json
import platform
import numpy as np
import scipy
from scipy.optimize import least_squares

NM = np.arange(380.0, 1101.0, 9.0)
ANGLES = [8.0, 55.0]
SIGMA = 0.0005
# name, true value, lower, upper, mean and standard deviation of the prior
SHARED = [("scale", 0.985, 0.5, 1.5, 1.0, 0.01), ("s_share_native", 0.53, 0.0, 1.0, 0.5, 0.05),
          ("glass_index", 0.0006, -0.1, 0.1, 0.0, 0.001), ("factor@8", 1.003, 0.5, 1.5, 1.0, 0.01), ("factor@55", 0.996, 0.5, 1.5, 1.0, 0.01),
          ("angle@8", 0.2, -3, 3, 0.0, 0.3), ("angle@55", 0.3, -3, 3, 0.0, 0.3)]
SKELETON = (1.455, 1.2, 1.8, 1.458, 0.010)  # of each film, likewise; what is uncertain of it is the same of all films
FILMS = [(118.0, 0.36, 0.08, SKELETON[0]), (98.0, 0.25, 0.15, SKELETON[0])]  # thickness nm, porosity, bare fraction, skeleton index


def sellmeier(b, c, um):
    w2 = um**2
    return 1 + sum(bi * w2 / (w2 - ci) for bi, ci in zip(b, c))


# SCHOTT N-BK7 data sheet, catalogue of 2017-01-20 (edition b); I. H. Malitson, J. Opt. Soc. Am. 55, 1205 (1965)
GLASS = np.sqrt(sellmeier((1.03961212, 0.231792344, 1.01046945), (0.00600069867, 0.0200179144, 103.560653), NM / 1000))
SILICA_B, SILICA_C = (0.6961663, 0.4079426, 0.8974794), (0.0684043**2, 0.1162414**2, 9.896161**2)
SILICA = np.sqrt(sellmeier(SILICA_B, SILICA_C, NM / 1000))
SILICA_550 = np.sqrt(sellmeier(SILICA_B, SILICA_C, 0.55))


def bruggeman(es, p):
    b = (3 * (1 - p) - 1) * es + (3 * p - 1)
    return 0.25 * (b + np.sqrt(b * b + 8 * es))


def spot(shared, film):
    scale, share, shift = shared[:3]
    glass = (GLASS + shift) ** 2
    out = []
    for k, angle in enumerate(ANGLES):
        factor, tilt = shared[3 + k], shared[5 + k]
        s2, c0 = np.sin((angle + tilt) * np.pi / 180) ** 2, np.cos((angle + tilt) * np.pi / 180)
        q2 = np.sqrt(glass - s2)
        total = 0
        for weight, a0, a2, isp in ((share, c0, q2, False), (1 - share, 1 / c0, glass / q2, True)):
            r0 = (a0 - a2) / (a0 + a2)
            one = r0 * r0
            if film is not None:
                d, p, bare, skeleton = film
                e1 = bruggeman((SILICA + skeleton - SILICA_550) ** 2, p)
                q1 = np.sqrt(e1 - s2)
                a1 = e1 / q1 if isp else q1
                r1, r2 = (a0 - a1) / (a0 + a1), (a1 - a2) / (a1 + a2)
                x12 = 2 * r1 * r2 * np.cos(4 * np.pi / NM * q1 * d)
                one = (1 - bare) * (r1 * r1 + r2 * r2 + x12) / (1 + r1 * r1 * r2 * r2 + x12) + bare * one
            total = total + weight * one
        out.append(scale * factor * total)
    return np.concatenate(out)


def model(x):
    n = len(SHARED)
    return np.concatenate([spot(x[:n], None)] + [spot(x[:n], x[n + 4 * i : n + 4 * i + 4]) for i in range(len(FILMS))])


def residuals(x, y):
    own = [(x[len(SHARED) + 4 * i + 3] - SKELETON[3]) / SKELETON[4] for i in range(len(FILMS))]
    return np.concatenate([(model(x) - y) / SIGMA, [(x[i] - m) / s for i, (_, _, _, _, m, s) in enumerate(SHARED)], own])


def jacobian(x, y):
    h, j = 1e-30, []
    for i in range(len(x)):
        z = x.astype(complex)
        z[i] += 1j * h
        j.append(residuals(z, y).imag / h)
    return np.array(j).T


def main():
    rng = np.random.default_rng(20260202)
    true = np.array([s[1] for s in SHARED] + [v for f in FILMS for v in f])
    y = model(true)
    y = np.round(y + SIGMA * rng.standard_normal(y.size), 7)
    lo = [s[2] for s in SHARED] + [0, 0, 0, SKELETON[1]] * len(FILMS)
    hi = [s[3] for s in SHARED] + [400, 0.9, 1, SKELETON[2]] * len(FILMS)
    r = least_squares(residuals, true, jac=jacobian, bounds=(lo, hi), method="trf", x_scale="jac", ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=2000, args=(y,))
    j = jacobian(r.x, y)
    dof = y.size + len(SHARED) + len(FILMS) - r.x.size
    chi2 = 2 * r.cost / dof
    data, prior = j[:y.size], j[y.size:]
    cov = np.linalg.inv(data.T @ data / max(1, chi2) + prior.T @ prior)
    u = np.sqrt(np.diag(cov))
    n = len(SHARED)
    g = np.zeros(r.x.size)
    g[n], g[n + 4] = 1, -1
    a = -cov[[n, n + 4], [n + 3, n + 7]] / SKELETON[4]  # of the thickness of each film, by the skeleton index of its own
    names = ["thickness_nm", "porosity", "bare_fraction"]
    versions = "Python %s, numpy %s, scipy %s" % (platform.python_version(), np.__version__, scipy.__version__)
    out = {
        "made_by": "scipy_joint.py, " + versions, "sigma": SIGMA, "nm": list(NM), "angles": ANGLES,
        "u_glass_index": 0.001,
        "spectra": [[float("%.7f" % v) for v in c] for c in y.reshape(-1, NM.size)],
        "cost": 2 * r.cost, "reduced_chi2": chi2,
        "shared": {SHARED[i][0]: [r.x[i], u[i]] for i in range(n)},
        "films": [{names[k]: [r.x[n + 4 * i + k], u[n + 4 * i + k]] for k in range(3)} for i in range(len(FILMS))],
        "thickness_difference_nm": [r.x[n] - r.x[n + 4], float(np.sqrt(g @ cov @ g - 2 * a[0] * a[1]))],
        "covariance_scale_s_share": cov[0, 1],
    }
    with open("scipy_joint.json", "w") as fh:
        json.dump(out, fh, indent=1)
        fh.write("\n")


if __name__ == "__main__":
    main()
