"""Slopes by rank and shapes by generalised least squares, by SciPy. Prints the figures of shape_test.go.

    /usr/bin/python3 scipy_shape.py
"""
import math

import numpy as np
import scipy
from scipy.optimize import curve_fit
from scipy.stats import theilslopes

print("SciPy", scipy.__version__)

x = [0, 30, 90, 180, 270, 365]
y = [0.0, -0.02, -0.11, -0.16, -0.31, -0.36]
print("theilslopes", *(repr(float(v)) for v in theilslopes(y, x, 0.95)))
x = [0, 1, 2, 2, 3, 4, 5, 6]
y = [0.0, 1.0, 1.0, 3.0, 2.0, 2.0, 5.0, 4.0]
print("theilslopes, ties", *(repr(float(v)) for v in theilslopes(y, x, 0.95)))

# Changes at five pulls: own variances 1e-4 (2 and 3 times as much at two pulls), a baseline of 5e-5 that all share, and a
# session of 2e-5 that the second and the third share.
x = np.array([30.0, 90, 180, 270, 365])
y = np.array([-0.09, -0.21, -0.29, -0.36, -0.37])
cov = np.diag([1e-4, 2e-4, 1e-4, 3e-4, 1e-4]) + 5e-5
for i in (1, 2):
    for j in (1, 2):
        cov[i, j] += 2e-5
inverse = np.linalg.inv(cov)
shapes = {
    "linear": (lambda t, r: r * t, [-1e-3]),
    "exponential": (lambda t, a, s: -a * np.expm1(-t / s), [-0.4, 120]),
    "power": (lambda t, c, m: c * (t / 365.0) ** m, [-0.4, 0.6]),
    "two-stage": (lambda t, a, b, k: a * np.minimum(t, k) + b * np.maximum(t - k, 0), [-2.4e-3, -4e-4, 110]),
    "stretched": (lambda t, a, s, b: -a * np.expm1(-(t / s) ** b), [-0.4, 120, 0.9]),
}
for name, (f, start) in shapes.items():
    par, pcov = curve_fit(f, x, y, p0=start, sigma=cov, absolute_sigma=True, xtol=1e-14, ftol=1e-14, gtol=1e-14,
                          maxfev=100000)
    r = y - f(x, *par)
    chi2, p, k = float(r @ inverse @ r), len(par), len(x)
    aicc = chi2 + 2 * p + 2 * p * (p + 1) / (k - p - 1) if k - p - 1 > 0 else math.nan
    print(name, [float("%.9g" % v) for v in par], "u", [float("%.7g" % v) for v in np.sqrt(np.diag(pcov))],
          "chi2 %.8g" % chi2, "AICc %.8g" % aicc)
