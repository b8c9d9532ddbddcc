#!/usr/bin/env python3
"""Made-up spectra of problems.csv and their fits by SciPy, for outside_test.go.

usage: python3 fit.py     (in this folder) writes PROBLEM.csv and fits_scipy.csv

The model is written out from M. Born, E. Wolf, Principles of Optics, 7th ed. (1999), 1.5
and 1.6 (from memory): Snell's law, Fresnel's amplitudes,
Airy's sum of a film in complex amplitudes, the film in thickness and porosity. The
solver is scipy.optimize.least_squares (trf, tolerances 1e-15), the Jacobian central
differences of the sixth order, and what is known beforehand are more residuals. The
standard errors are those of the inverse of J'J times max(1, reduced chi-square).
"""
import csv
import platform
import re

import numpy as np
import scipy
from scipy.optimize import least_squares

SEED = 20260601
TIGHT = dict(method="trf", x_scale="jac", xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=1000)


def silica(nm):  # I. H. Malitson, J. Opt. Soc. Am. 55, 1205 (1965)
    w2 = (nm / 1000) ** 2
    return np.sqrt(1 + sum(b * w2 / (w2 - c * c) for b, c in ((0.6961663, 0.0684043), (0.4079426, 0.1162414), (0.8974794, 9.896161))))


def borosilicate_crown(nm):  # data sheet of the glass
    w2 = (nm / 1000) ** 2
    return np.sqrt(1 + sum(b * w2 / (w2 - c) for b, c in ((1.03961212, 0.00600069867), (0.231792344, 0.0200179144), (1.01046945, 103.560653))))


def soda_lime(nm):  # M. Rubin, Sol. Energy Mater. 12, 275 (1985), clear glass, without absorption
    w2 = (nm / 1000) ** 2
    return 1.5130 - 0.003169 * w2 + 0.003962 / w2


GLASSES = {"borosilicate-crown": borosilicate_crown, "soda-lime": soda_lime}


def bruggeman(e, p):
    b = (2 - 3 * p) * e + 3 * p - 1
    return (b + np.sqrt(b * b + 8 * e)) / 4


def lorentz_lorenz(e, p):
    q = (1 - p) * (e - 1) / (e + 2)
    return (1 + 2 * q) / (1 - q)


MIXINGS = {"bruggeman": bruggeman, "lorentz-lorenz": lorentz_lorenz}


def airy(n1, n2, d, nm, deg):
    """Reflectance for s and p of a film n1 of d nm on n2, and of n2 alone."""
    cos0 = np.cos(np.radians(deg))
    cos1, cos2 = (np.sqrt(1 - (np.sin(np.radians(deg)) / n) ** 2) for n in (n1, n2))
    turn = np.exp(4j * np.pi / nm * n1 * d * cos1)

    def s(na, ca, nb, cb):
        return (na * ca - nb * cb) / (na * ca + nb * cb)

    def p(na, ca, nb, cb):
        return (nb * ca - na * cb) / (nb * ca + na * cb)

    film, bare = [], []
    for fresnel in (s, p):
        top, under = fresnel(1, cos0, n1, cos1), fresnel(n1, cos1, n2, cos2)
        film.append(abs((top + under * turn) / (1 + top * under * turn)) ** 2)
        bare.append(fresnel(1, cos0, n2, cos2) ** 2)
    return film, bare


class Problem:
    def __init__(self, row):
        self.name = row["problem"]
        self.u = {k[2:]: float(v) for k, v in row.items() if k.startswith("u_")}
        number = {k: float(row[k]) for k in ("noise_sd", "true_noise_sd", "skeleton", "thickness_nm", "porosity", "bare")}
        self.sigma, self.true_sigma, self.true = number["noise_sd"], number["true_noise_sd"], number
        self.nm = np.arange(float(row["from_nm"]), float(row["to_nm"]) + 1e-6, float(row["step_nm"]))
        self.glass, self.mix = GLASSES[row["glass"]](self.nm), MIXINGS[row["mixing"]]
        self.solid = silica(self.nm) - silica(550.0)
        self.columns = row["curves"].split()
        self.curves = [re.fullmatch(r"([\d.]+)([spun])", c).groups() for c in self.columns]
        # name: (what is known, its standard uncertainty or inf); the first three are always free
        known = {"thickness_nm": (100.0, np.inf), "porosity": (0.3, np.inf), "bare": (0.1, np.inf), "skeleton": (number["skeleton"], self.u["skeleton"]),
                 "glass": (0.0, self.u["glass"]), "scale": (1.0, self.u["scale"]), "s_share_native": (0.5, self.u["share"] if any(p == "n" for _, p in self.curves) else 0)}
        for angle in dict.fromkeys(a for a, _ in self.curves):
            known["factor@" + angle] = (1.0, self.u["factor"])
            known["angle@" + angle] = (0.0, self.u["angle_deg"])
        self.known = known
        self.free = [k for k, (_, u) in known.items() if u > 0]
        self.priors = [k for k in self.free if np.isfinite(known[k][1])]
        # steps of the differences
        self.step = np.array([{"thickness_nm": 0.1, "tilt": 0.02}.get(k.split("@")[0], 1e-3) for k in self.free])

    def model(self, values):
        v = {k: mean for k, (mean, _) in self.known.items()}
        v.update(values)
        film_index = np.sqrt(self.mix((v["skeleton"] + self.solid) ** 2, v["porosity"]))
        out = []
        for angle, pol in self.curves:
            film, bare = airy(film_index, self.glass + v["glass"], v["thickness_nm"], self.nm, float(angle) + v["angle@" + angle])
            share = {"s": 1, "p": 0, "u": 0.5, "n": v["s_share_native"]}[pol]
            s, p = ((1 - v["bare"]) * f + v["bare"] * b for f, b in zip(film, bare))
            out.append(v["scale"] * v["factor@" + angle] * (share * s + (1 - share) * p))
        return np.concatenate(out)

    def simulate(self, rng):
        values = {k: rng.normal(*self.known[k]) for k in self.priors}
        values.update((k, self.true[k]) for k in ("thickness_nm", "porosity", "bare"))
        readings = self.model(values)
        return np.round(readings + self.true_sigma * rng.standard_normal(readings.size), 7)

    def residuals(self, x, readings):
        v = dict(zip(self.free, x))
        return np.concatenate([(self.model(v) - readings) / self.sigma, [(v[k] - self.known[k][0]) / self.known[k][1] for k in self.priors]])

    def jacobian(self, x, readings):
        columns = []
        for i, h in enumerate(self.step):
            e = np.zeros(x.size)
            e[i] = h
            columns.append(sum(w * (self.residuals(x + k * e, readings) - self.residuals(x - k * e, readings)) for k, w in ((1, 45), (2, -9), (3, 1))) / (60 * h))
        return np.array(columns).T

    def fit(self, readings):
        """Sum of squares, parameters and standard errors."""
        start = np.array([self.true.get(k, self.known[k][0]) for k in self.free])
        r = least_squares(self.residuals, start, jac=self.jacobian, args=(readings,), **TIGHT)
        j, cost = self.jacobian(r.x, readings), 2 * r.cost
        data, prior = j[:len(readings)], j[len(readings):]  # residuals beyond the noise widen the noise, not what is known beforehand
        covariance = np.linalg.inv(data.T @ data / max(1, cost / (len(j) - r.x.size)) + prior.T @ prior)
        return cost, r.x, np.sqrt(np.diag(covariance))


def main():
    with open("problems.csv") as fh:
        problems = [Problem(row) for row in csv.DictReader(line for line in fh if not line.startswith("#"))]
    rng = np.random.default_rng(SEED)
    with open("fits_scipy.csv", "w") as out:
        out.write("# fit.py, Python %s, NumPy %s, SciPy %s: least_squares(%s)\n" % (
            platform.python_version(), np.__version__, scipy.__version__, ", ".join("%s=%r" % kv for kv in TIGHT.items())))
        out.write("# objective: sum of squares, of what is known beforehand too; its standard_error is 0\nproblem,quantity,value,standard_error\n")
        for p in problems:
            readings = p.simulate(rng)
            with open(p.name + ".csv", "w") as fh:
                fh.write("# made-up readings of fit.py, fractions; wavelengths in nm\nnm," + ",".join(p.columns) + "\n")
                for nm, row in zip(p.nm, readings.reshape(len(p.columns), -1).T):
                    fh.write("%g,%s\n" % (nm, ",".join("%.7f" % v for v in row)))
            cost, x, u = p.fit(readings)
            out.write("%s,objective,%.15g,0\n" % (p.name, cost))
            for row in zip(p.free, x, u):
                out.write("%s,%s,%.15g,%.15g\n" % (p.name, *row))


if __name__ == "__main__":
    main()
