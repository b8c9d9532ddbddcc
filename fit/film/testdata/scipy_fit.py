#!/usr/bin/env python3
"""Made-up spectra of coated borosilicate crown glass and their fit by SciPy, for scipy_test.go.

usage: python3 scipy_fit.py    writes scipy_spectra.csv and scipy_fits.json here

The model is written out again from the Airy sum of a lossless film (M. Born, E. Wolf,
Principles of Optics, 7th ed. (1999), 1.6.4, from memory), in thickness and porosity; the solver is scipy.optimize.least_squares (trf, all
tolerances 1e-15, bounds, Jacobian by complex steps, priors as residuals). The
covariance is the inverse of J'J of the data over max(1, reduced chi-square) plus J'J of the priors.
"""
import json
import platform
import numpy as np
import scipy
from scipy.optimize import least_squares

NM = np.arange(380.0, 1101.0, 4.0)
ANGLES = [8.0, 30.0, 45.0, 60.0]
SIGMA = 0.0005
PRIORS = [("skeleton", 4, 1.458, 0.010), ("scale", 3, 1.0, 0.01)] + [("factor", 5 + k, 1.0, 0.01) for k in range(4)] + [("tilt", 9 + k, 0.0, 0.3) for k in range(4)]
# thickness nm, porosity, bare fraction, scale
TRUTHS = [(118.0, 0.36, 0.05, 1.004), (95.0, 0.20, 0.22, 0.992), (142.0, 0.48, 0.30, 1.0), (60.0, 0.30, 0.10, 1.006), (155.0, 0.25, 0.02, 0.997)]


def sellmeier(b, c):
    w2 = (NM / 1000) ** 2
    return 1 + sum(bi * w2 / (w2 - ci) for bi, ci in zip(b, c))


# SCHOTT N-BK7 data sheet, catalogue of 2017-01-20 (edition b); I. H. Malitson, J. Opt. Soc. Am. 55, 1205 (1965)
GLASS = sellmeier((1.03961212, 0.231792344, 1.01046945), (0.00600069867, 0.0200179144, 103.560653))
SILICA = np.sqrt(sellmeier((0.6961663, 0.4079426, 0.8974794), (0.0684043**2, 0.1162414**2, 9.896161**2)))
W550 = 0.55**2
SILICA_550 = np.sqrt(1 + sum(b * W550 / (W550 - c * c) for b, c in ((0.6961663, 0.0684043), (0.4079426, 0.1162414), (0.8974794, 9.896161))))


def bruggeman(es, p):
    b = (3 * (1 - p) - 1) * es + (3 * p - 1)
    return 0.25 * (b + np.sqrt(b * b + 8 * es))


def model(x):
    d, p, bare, scale, skeleton = x[:5]
    e1 = bruggeman((SILICA + skeleton - SILICA_550) ** 2, p)
    out = []
    for angle, factor, tilt in zip(ANGLES, x[5:9], x[9:]):
        s2, c0 = np.sin((angle + tilt) * np.pi / 180) ** 2, np.cos((angle + tilt) * np.pi / 180)
        q1, q2 = np.sqrt(e1 - s2), np.sqrt(GLASS - s2)
        total = 0
        for a0, a1, a2 in ((c0, q1, q2), (1 / c0, e1 / q1, GLASS / q2)):
            r1, r2 = (a0 - a1) / (a0 + a1), (a1 - a2) / (a1 + a2)
            x12 = 2 * r1 * r2 * np.cos(4 * np.pi / NM * q1 * d)
            film = (r1 * r1 + r2 * r2 + x12) / (1 + r1 * r1 * r2 * r2 + x12)
            r0 = (a0 - a2) / (a0 + a2)
            total = total + 0.5 * ((1 - bare) * film + bare * r0 * r0)
        out.append(scale * factor * total)
    return np.concatenate(out)


def residuals(x, y):
    return np.concatenate([(model(x) - y) / SIGMA, [(x[i] - m) / s for _, i, m, s in PRIORS]])


def jacobian(x, y):
    h, j = 1e-30, []
    for i in range(len(x)):
        z = x.astype(complex)
        z[i] += 1j * h
        j.append(residuals(z, y).imag / h)
    return np.array(j).T


def main():
    rng = np.random.default_rng(20260101)
    rows, fits = [], []
    for n, (d, p, bare, scale) in enumerate(TRUTHS):
        true = np.array([d, p, bare, scale, 1.458] + [1.0] * 4 + [0.2, -0.3, 0.1, 0.15])
        y = np.round(model(true) + SIGMA * rng.standard_normal(NM.size * len(ANGLES)), 7)
        rows.append(y)
        lo = [0, 0, 0, 0.5, 1.2] + [0.5] * 4 + [-3] * 4
        hi = [400, 0.9, 1, 1.5, 1.8] + [1.5] * 4 + [3] * 4
        r = least_squares(residuals, true, jac=jacobian, bounds=(lo, hi), method="trf", x_scale="jac",
                          ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=2000, args=(y,))
        j = jacobian(r.x, y)
        dof = y.size + len(PRIORS) - r.x.size
        chi2 = 2 * r.cost / dof
        data, prior = j[:y.size], j[y.size:]
        cov = np.linalg.inv(data.T @ data / max(1, chi2) + prior.T @ prior)
        solid = (1 - r.x[2]) * r.x[0] * (1 - r.x[1])
        g = np.zeros(r.x.size)
        g[:3] = (1 - r.x[2]) * (1 - r.x[1]), -(1 - r.x[2]) * r.x[0], -r.x[0] * (1 - r.x[1])
        u = np.sqrt(np.diag(cov))
        fits.append({"thickness_nm": r.x[0], "u_thickness_nm": u[0], "porosity": r.x[1], "u_porosity": u[1], "bare_fraction": r.x[2],
                     "u_bare_fraction": u[2], "scale": r.x[3], "u_scale": u[3], "solid_nm": solid, "u_solid_nm": float(np.sqrt(g @ cov @ g)),
                     "cost": 2 * r.cost, "reduced_chi2": chi2})
    with open("scipy_spectra.csv", "w") as fh:
        fh.write("# made-up spectra of scipy_fit.py, fractions; column tNaANGLE: truth N, angle in degrees\n")
        fh.write("nm," + ",".join("t%da%g" % (n, a) for n in range(len(TRUTHS)) for a in ANGLES) + "\n")
        table = np.array(rows).reshape(len(TRUTHS) * len(ANGLES), NM.size)
        for i, nm in enumerate(NM):
            fh.write("%g,%s\n" % (nm, ",".join("%.7f" % v for v in table[:, i])))
    versions = "Python %s, numpy %s, scipy %s" % (platform.python_version(), np.__version__, scipy.__version__)
    with open("scipy_fits.json", "w") as fh:
        json.dump({"made_by": "scipy_fit.py, " + versions, "sigma": SIGMA, "fits": fits}, fh, indent=1)
        fh.write("\n")


if __name__ == "__main__":
    main()
