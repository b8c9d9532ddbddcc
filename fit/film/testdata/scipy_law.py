"""One spot by SciPy with all effects of the law and the structure of its film free.

usage: python3 scipy_law.py    writes scipy_law.json here

A program of its own: numpy and SciPy, derivatives by complex steps, all parameters in one
vector. Effects that one reading cannot tell apart (errors of the glass of batch and coupon,
zeros and factors of session and placement, structure of spot and reading) are one parameter,
with the variances of their priors added. The film is cut into two steps in which the
permittivity falls along a line, each with half its phase, a hyperbolic turn and half its phase,
as the comment of optics.Surface.Structured says, and its thickness is spread by a
Gauss-Hermite rule of three points. Noise is declared; the reduced chi-square is below 1, so that
nothing is inflated.

sensitivities: a_j = -(c'S)_k·sd_j/sd² of the mean reflectance at normal incidence and of the
material left, with S the covariance and c the gradient.
"""
import json
import platform

import numpy as np
import scipy
from scipy.optimize import least_squares

NM = np.arange(380, 1101, 10.0)
ANGLES = [8.0, 30.0, 45.0, 60.0]
SIGMA = 0.0003
GAUSS = [(0.0, 2 / 3), (-np.sqrt(3), 1 / 6), (np.sqrt(3), 1 / 6)]


def sellmeier(b, c, um):
    return 1 + sum(bi * um**2 / (um**2 - ci) for bi, ci in zip(b, c))


GLASS = np.sqrt(sellmeier((1.03961212, 0.231792344, 1.01046945), (0.00600069867, 0.0200179144, 103.560653), NM / 1000))
SILICA = ((0.6961663, 0.4079426, 0.8974794), (0.0684043**2, 0.1162414**2, 9.896161**2))
SHIFT = np.sqrt(sellmeier(*SILICA, NM / 1000)) - np.sqrt(sellmeier(*SILICA, 0.55))

# name, true value or None for a draw, parts of the prior: owner's effect, mean, sd
PARAMS = [
    ("optical_thickness", 148.0, []), ("index", 1.29, []), ("bare", 0.06, []),
    ("skeleton_index", None, [("skeleton_index", 1.458, 0.010)]),
    ("glass_index", None, [("glass_index", 0, 0.001), ("coupon_index", 0, 0.0005)]),
    ("scale", None, [("scale", 1, 0.01)]), ("s_share", None, [("s_share", 0.5, 0.01)]),
    ("gradient", None, [("gradient", 0, 0.05), ("gradient_of_reading", 0, 0.01)]),
    ("skin", None, [("skin", 4, 3), ("skin_of_reading", 0, 1)]),
    ("variance", 0.004, [("variance", 0.0025, 0.0035), ("variance_of_reading", 0, 0.0007)]),
    ("tilt", None, [("tilt", 0, 0.05)]), ("wavelength_error", None, [("wavelength_error", 0, 0.3)]),
    ("zero", None, [("zero", 0, 0.0005), ("place_zero", 0, 0.0002)]), ("leak", None, [("leak", 0.00016, 0.00012)]),
]
for k, a in enumerate(ANGLES):
    PARAMS.append(("factor@%g" % a, None, [("factor@%g" % a, 1, 0.01), ("place_factor", 0, 0.002)]))
    PARAMS.append(("angle@%g" % a, None, [("angle@%g" % a, 0, 0.3)]))
NAMES = [p[0] for p in PARAMS]
MEAN = np.array([sum(m for _, m, _ in p[2]) for p in PARAMS], dtype=float)
SD = np.array([np.sqrt(sum(s * s for _, _, s in p[2])) for p in PARAMS])
KNOWN = SD > 0


def mix(solid, p):
    b = (1 - p) * (2 * solid - 1) + p * (2 - solid)
    return 0.25 * (b + np.sqrt(b * b + 8 * solid))


def porosity(eps, solid):
    a, b = (solid - eps) / (solid + 2 * eps), (1 - eps) / (1 + 2 * eps)
    return a / (a - b)


def turn(a, b, ratio):
    ch, sh = (ratio + 1 / ratio) / 2, (ratio - 1 / ratio) / 2
    return ch * a + sh * b, sh * a + ch * b


def rotate(b, y, phase):
    c, s = np.cos(phase), np.sin(phase)
    return b * c - y * s, b * s + y * c


def film(v, nm, shift, glass, deg, d, pol):
    """Reflectance of the film of thickness d for one polarisation."""
    s2, k = np.sin(np.radians(1) * deg) ** 2, 2 * np.pi / (nm + v["wavelength_error"])
    cos = np.cos(np.radians(1) * deg)
    solid = (v["skeleton_index"] + shift) ** 2
    p0 = porosity(v["index"] ** 2, v["skeleton_index"] ** 2)
    e2 = glass**2
    q2 = np.sqrt(e2 - s2)
    eta0, eta2 = (cos, q2) if pol == "s" else (1 / cos, e2 / q2)
    layers = []
    for j in range(2):
        top, low = (mix(solid, p0 + v["gradient"] * (2 * (j + 0.5 + o) / 2 - 1)) for o in (-np.sqrt(3) / 6, np.sqrt(3) / 6))
        mean, diff = (top + low) / 2, np.sqrt(3) * (top - low)
        if pol == "s":
            u = mean - s2
            layers.append((np.sqrt(u), k * np.sqrt(u), diff / u))
        else:
            r = diff / mean
            u = mean - s2 * (1 + r * r / 12)
            layers.append((mean / np.sqrt(u), k * np.sqrt(u), r * (1 - s2 / u)))
    eta = layers[-1][0]
    a, b, y = (eta + eta2**2 / eta) / 2, (eta - eta2**2 / eta) / 2, 0 * eta
    for j in (1, 0):
        here, rate, jump = layers[j]
        a, b = turn(a, b, here / eta)
        eta, delta = here, rate * d / 2
        b, y = rotate(b, y, delta)
        a, b = turn(a, b, np.exp(jump / 2 * (np.sin(delta) / delta - np.cos(delta))))
        b, y = rotate(b, y, delta)
    q1 = np.sqrt(solid - s2)
    here = q1 if pol == "s" else solid / q1
    a, b = turn(a, b, here / eta)
    b, y = rotate(b, y, 2 * k * q1 * v["skin"])
    a, b = turn(a, b, eta0 / here)
    return (a - eta2) / (a + eta2)


def surface(v, nm, shift, index, deg, share):
    """Area mean of film and bare glass."""
    d, glass = v["optical_thickness"] / v["index"], index + v["glass_index"]
    out = 0
    for pol, w in (("s", share), ("p", 1 - share)):
        mean = sum(g * film(v, nm, shift, glass, deg, d * (1 + np.sqrt(v["variance"]) * z), pol) for z, g in GAUSS)
        cos, s2 = np.cos(np.radians(1) * deg), np.sin(np.radians(1) * deg) ** 2
        q2 = np.sqrt(glass**2 - s2)
        e0, e2 = (cos, q2) if pol == "s" else (1 / cos, glass**2 / q2)
        out = out + w * ((1 - v["bare"]) * mean + v["bare"] * ((e0 - e2) / (e0 + e2)) ** 2)
    return out


def model(x):
    v, out = dict(zip(NAMES, x)), []
    for a in ANGLES:
        r = surface(v, NM, SHIFT, GLASS, a + v["tilt"] + v["angle@%g" % a], v["s_share"])
        out.append(v["scale"] * v["factor@%g" % a] * (r + v["leak"] * (1 - r) ** 2) + v["zero"])
    return np.concatenate(out)


def residuals(x, y):
    return np.concatenate([(model(x) - y) / SIGMA, (x[KNOWN] - MEAN[KNOWN]) / SD[KNOWN]])


def gradient(f, x):
    h, out = 1e-30, []
    for i in range(x.size):
        z = x.astype(complex)
        z[i] += 1j * h
        out.append(np.imag(f(z)) / h)
    return np.array(out)


def solar_mean(x):
    v = dict(zip(NAMES, x))
    v["wavelength_error"] = 0 * x[0]  # of the instrument, not of the surface
    return np.mean(surface(v, NM, SHIFT, GLASS, 0.0 * x[0], 0.5))


def solid(x):
    v = dict(zip(NAMES, x))
    p = porosity(v["index"] ** 2, v["skeleton_index"] ** 2)
    return (1 - v["bare"]) * (v["optical_thickness"] / v["index"] * (1 - p) + v["skin"])


def main():
    rng = np.random.default_rng(20261130)
    true = np.array([p[1] if p[1] is not None else MEAN[i] + 0.7 * SD[i] * rng.standard_normal() for i, p in enumerate(PARAMS)])
    y = np.round(model(true) + 0.95 * SIGMA * rng.standard_normal(NM.size * len(ANGLES)), 7)
    r = least_squares(residuals, true, jac=lambda x, y: gradient(lambda z: residuals(z, y), x).T, args=(y,), method="lm",
                      x_scale="jac", ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=2000)
    j = gradient(lambda z: residuals(z, y), r.x).T
    chi2 = 2 * r.cost / (y.size + KNOWN.sum() - r.x.size)
    assert chi2 < 1, chi2
    s = np.linalg.inv(j.T @ j)
    out = {"made_by": "scipy_law.py, Python %s, numpy %s, scipy %s" % (platform.python_version(), np.__version__, scipy.__version__),
           "sigma": SIGMA, "nm": list(NM), "angles": ANGLES, "spectra": [[float("%.7f" % z) for z in c] for c in y.reshape(-1, NM.size)],
           "cost": 2 * r.cost, "params": {n: [r.x[i], float(np.sqrt(s[i, i]))] for i, n in enumerate(NAMES)}, "quantities": {}}
    for name, f in (("mean", solar_mean), ("solid", solid)):
        c = gradient(f, r.x)
        moved = c @ s
        out["quantities"][name] = {"value": float(f(r.x)), "u": float(np.sqrt(c @ s @ c)),
                                   "sensitivities": {e: -moved[i] * sd / SD[i] ** 2 for i, p in enumerate(PARAMS) for e, _, sd in p[2]
                                                     if not e.startswith("place_factor")}}
    with open("scipy_law.json", "w") as fh:
        json.dump(out, fh, indent=1)
        fh.write("\n")


if __name__ == "__main__":
    main()
