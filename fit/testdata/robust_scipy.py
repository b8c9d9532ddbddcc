"""Reference values for TestRobustAgainstSciPy, made with SciPy 1.10.1, NumPy as
printed: python3 robust_scipy.py

The data are made up: a decay with small errors, three points far off. SciPy's cost
is half of ours, so twice it is printed. least_squares stops within about 1e-6 of the
parameters, so that the root of the gradient is sought from there. The weights are rho'(z) of SciPy's own
loss functions (private: scipy.optimize._lsq.least_squares.IMPLEMENTED_LOSSES)."""
import numpy as np
import scipy
from scipy.optimize import least_squares, root
from scipy.optimize._lsq.least_squares import IMPLEMENTED_LOSSES

T = np.array([0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 5.5])
Y = np.array([5.02, 4.11, 3.42, 4.95, 2.24, 1.83, 1.59, 0.35, 1.12, 0.97, 0.83, 2.70])
SIGMA = 0.05


def residuals(b):
    return (b[0] * np.exp(-b[1] * T) + b[2] - Y) / SIGMA


def jacobian(b):
    e = np.exp(-b[1] * T)
    return np.stack([e, -b[0] * T * e, np.ones_like(T)], axis=1) / SIGMA


def weights(b, loss, scale):
    if loss == "linear":
        return np.ones_like(T)
    z = (residuals(b) / scale) ** 2
    rho = np.empty((3, len(z)))
    IMPLEMENTED_LOSSES[loss](z, rho, False)
    return rho[1]


print("scipy", scipy.__version__, "numpy", np.__version__)
for loss in "linear", "soft_l1", "huber":
    for scale in 1.0, 3.0:
        r = least_squares(residuals, [4, 0.5, 0.3], jac=jacobian, method="trf", loss=loss, f_scale=scale,
                          x_scale="jac", ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=10000)
        best = root(lambda b: jacobian(b).T @ (weights(b, loss, scale) * residuals(b)), r.x, tol=1e-15)
        print(loss, scale, best.x.tolist(), "cost", 2 * r.cost, "status", r.status,
              "moved by", np.max(np.abs(best.x / r.x - 1)), "gradient", np.max(np.abs(best.fun)))
        print("  weights", np.array2string(weights(best.x, loss, scale), precision=10, separator=", ", max_line_width=220))
