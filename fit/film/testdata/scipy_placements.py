"""Placements by SciPy: one spot set down twice, and a session of a blank and two coupons.

usage: python3 scipy_placements.py    writes scipy_placements.json here

The film, its structure and its derivatives are those of scipy_law.py. Here each effect that
several readings distinguish has a parameter of its own: zero of the session and of each placement,
factor of each angle and of each curve, glass of the batch and of each coupon. Each film has a skeleton
index of its own, of which the same is unknown. All parameters of all spots are in one vector. Noise is declared; the reduced chi-square is below 1, so that nothing is
inflated.

sensitivities: a_j = -(c'S)_k·sd_j/sd² of the mean reflectance at normal incidence to the effects that outlive a session,
with S the covariance and c the gradient; structure of spot and reading are one parameter.
"""
import json
import platform

import numpy as np
import scipy
from scipy.optimize import least_squares

import scipy_law as law
from scipy_law import ANGLES, GLASS, NM, SHIFT, SIGMA

SPOT = [("optical_thickness", None, 0, 0), ("index", None, 0, 0), ("bare", None, 0, 0),
        ("gradient", None, 0, np.hypot(0.05, 0.01)), ("skin", None, 4, np.hypot(3, 1)),
        ("variance", None, 0.0025, np.hypot(0.0035, 0.0007)), ("leak", None, 0.00016, 0.00012), ("coupon_index", None, 0, 0.0005),
        ("skeleton_index", None, 1.458, 0.010)]
FILM = {"optical_thickness", "index", "bare", "gradient", "skin", "variance", "skeleton_index"}


def problem(spots):
    """Names, means and standard deviations of the priors of the parameters. spots: film or None, mountings."""
    out = [("glass_index", 0, 0.001), ("scale", 1, 0.01), ("s_share", 0.5, 0.01),
           ("wavelength_error", 0, 0.3), ("zero", 0, 0.0005)]
    for a in ANGLES:
        out += [("factor@%g" % a, 1, 0.01), ("angle@%g" % a, 0, 0.3)]
    for s, (film, mountings) in enumerate(spots):
        out += [("%d %s" % (s, n), m, sd) for n, _, m, sd in SPOT if film or n not in FILM]
        for k in range(mountings):
            out += [("%d tilt@%d" % (s, k + 1), 0, 0.05), ("%d place_zero@%d" % (s, k + 1), 0, 0.0002)]
            out += [("%d place_factor@%d" % (s, 1 + i + k * len(ANGLES)), 1, 0.002) for i in range(len(ANGLES))]
    return [n for n, _, _ in out], np.array([m for _, m, _ in out], float), np.array([sd for _, _, sd in out], float)


def bare_glass(v, index, deg):
    glass = index + v["glass_index"]
    cos, s2, out = np.cos(np.radians(1) * deg), np.sin(np.radians(1) * deg) ** 2, 0
    q2 = np.sqrt(glass**2 - s2)
    for e0, e2, w in ((cos, q2, v["s_share"]), (1 / cos, glass**2 / q2, 1 - v["s_share"])):
        out = out + w * ((e0 - e2) / (e0 + e2)) ** 2
    return out


def of_spot(v, s, film):
    u = {n: v["%d %s" % (s, n)] for n, _, _, _ in SPOT if film or n not in FILM}
    u.update({n: v[n] for n in ("wavelength_error", "s_share")})
    u["glass_index"] = v["glass_index"] + u["coupon_index"]
    return u


def model(names, spots, x):
    v, out = dict(zip(names, x)), []
    for s, (film, mountings) in enumerate(spots):
        u = of_spot(v, s, film)
        for k in range(mountings):
            for i, a in enumerate(ANGLES):
                deg = a + v["%d tilt@%d" % (s, k + 1)] + v["angle@%g" % a]
                if film:
                    r = law.surface(u, NM, SHIFT, GLASS, deg, v["s_share"])
                else:
                    r = bare_glass(u, GLASS, deg)
                gain = v["scale"] * v["factor@%g" % a] * v["%d place_factor@%d" % (s, 1 + i + k * len(ANGLES))]
                out.append(gain * (r + u["leak"] * (1 - r) ** 2) + v["zero"] + v["%d place_zero@%d" % (s, k + 1)])
    return np.concatenate(out)


def mean(names, s, x):
    v = dict(zip(names, x))
    u = of_spot(v, s, True)
    u["wavelength_error"] = 0 * x[0]
    return np.mean(law.surface(u, NM, SHIFT, GLASS, 0.0 * x[0], 0.5))


def solid(names, s, x):
    u = of_spot(dict(zip(names, x)), s, True)
    p = law.porosity(u["index"] ** 2, u["skeleton_index"] ** 2)
    return (1 - u["bare"]) * (u["optical_thickness"] / u["index"] * (1 - p) + u["skin"])


def solve(spots, seed):
    rng = np.random.default_rng(seed)
    names, centre, sd = problem(spots)
    known = sd > 0
    true = centre + 0.7 * sd * rng.standard_normal(sd.size)
    for s, (film, _) in enumerate(spots):
        for n, value in (film or {}).items():
            true[names.index("%d %s" % (s, n))] = value
    y = model(names, spots, true)
    y = np.round(y + 0.95 * SIGMA * rng.standard_normal(y.size), 7)

    def residuals(x, _=None):
        return np.concatenate([(model(names, spots, x) - y) / SIGMA, (x[known] - centre[known]) / sd[known]])

    r = least_squares(residuals, true, jac=lambda x, _=None: law.gradient(residuals, x).T, method="lm", x_scale="jac",
                      ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=4000)
    j = law.gradient(residuals, r.x).T
    assert 2 * r.cost / (y.size + known.sum() - r.x.size) < 1
    cov = np.linalg.inv(j.T @ j)
    out = {"cost": 2 * r.cost, "spectra": [[float("%.7f" % z) for z in c] for c in y.reshape(-1, NM.size)],
           "params": {n: [r.x[i], float(np.sqrt(cov[i, i]))] for i, n in enumerate(names)}, "means": {}, "solids": {}}
    by = {}
    for s, (film, _) in enumerate(spots):
        if film:
            for kind, f in (("means", mean), ("solids", solid)):
                c = law.gradient(lambda x: f(names, s, x), r.x)
                out[kind][str(s)] = [float(f(names, s, r.x)), float(np.sqrt(c @ cov @ c))]
                if kind == "means":
                    by[s] = c
    own = {"gradient": 0.05, "skin": 3, "variance": 0.0035}
    out["sensitivities"] = {}
    for s, c in by.items():
        moved = c @ cov
        at = {"glass_index": names.index("glass_index")}
        at.update({n: names.index("%d %s" % (s, n)) for n in ("coupon_index", "leak", "gradient", "skin", "variance", "skeleton_index")})
        out["sensitivities"][str(s)] = {n: float(-moved[i] * own.get(n, sd[i]) / sd[i] ** 2) for n, i in at.items()}
    if len(by) > 1:
        a, b = (by[s] for s in sorted(by))
        skeleton = [out["sensitivities"][str(s)]["skeleton_index"] for s in sorted(by)]
        out["u_difference_of_means"] = float(np.sqrt((a - b) @ cov @ (a - b) - 2 * skeleton[0] * skeleton[1]))
    return out


def main():
    a = {"optical_thickness": 148.0, "index": 1.29, "bare": 0.06, "variance": 0.004}
    b = {"optical_thickness": 139.0, "index": 1.31, "bare": 0.11, "variance": 0.005}
    out = {"made_by": "scipy_placements.py, Python %s, numpy %s, scipy %s" % (platform.python_version(), np.__version__,
                                                                              scipy.__version__),
           "sigma": SIGMA, "nm": list(NM), "angles": ANGLES, "mounted_once": solve([(a, 1)], 3), "mounted_twice": solve([(a, 2)], 3),
           "session": solve([(None, 1), (a, 1), (b, 1)], 4)}
    with open("scipy_placements.json", "w") as fh:
        json.dump(out, fh, indent=1)
        fh.write("\n")


if __name__ == "__main__":
    main()
