"""Reference values for TestBoundedAgainstSciPy, made with SciPy 1.10.1, NumPy as
printed: python3 bounded_scipy.py

method="dogbox" puts active parameters exactly on their bounds, and is used where
it arrives. In the second problem it stops short of the minimum (cost 6436.7), so
"trf" is used, which stays just inside."""
import numpy as np
import scipy
from scipy.optimize import least_squares

TIGHT = dict(x_scale="jac", ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=10000)


def show(name, residuals, jacobian, start, lower, upper, method="dogbox"):
    r = least_squares(residuals, start, jac=jacobian, bounds=(lower, upper), method=method, **TIGHT)
    print(name, r.x.tolist(), "cost", 2 * r.cost, "active", r.active_mask.tolist(), "status", r.status)


print("scipy", scipy.__version__, "numpy", np.__version__)

# Misra1a of the NIST StRD, b1 kept from its optimum 238.9
x, y = np.loadtxt("nist_strd/Misra1a.csv", delimiter=",", skiprows=5, unpack=True)
show("misra1a", lambda b: b[0] * (1 - np.exp(-b[1] * x)) - y,
     lambda b: np.stack([1 - np.exp(-b[1] * x), b[0] * x * np.exp(-b[1] * x)], axis=1),
     [200, 0.0005], [0, 0], [230, 1])

# Thurber of the NIST StRD, b3 and b6 kept from their optima 583.2 and 0.398
x, y = np.loadtxt("nist_strd/Thurber.csv", delimiter=",", skiprows=5, unpack=True)
P = np.stack([x**0, x, x**2, x**3], axis=1)


def thurber(b):
    return P @ b[:4] / (1 + P[:, 1:] @ b[4:])


show("thurber", lambda b: thurber(b) - y,
     lambda b: np.hstack([P, -thurber(b)[:, None] * P[:, 1:]]) / (1 + P[:, 1:] @ b[4:])[:, None],
     [1300, 1500, 500, 75, 1, 0.4, 0.05], [0, 0, 0, 0, 0, 0.39, 0], [2000, 2000, 560, 100, 2, 0.45, 0.5],
     method="trf")

# Rosenbrock's valley, the way to (1, 1) closed by x0 <= 0.5
show("valley", lambda b: np.array([10 * (b[1] - b[0] ** 2), 1 - b[0]]),
     lambda b: np.array([[-20 * b[0], 10], [-1, 0]]), [-1.2, 1], [-2, -2], [0.5, 2])

# the same, both parameters stopped: x0 >= 1.2, x1 <= 1
show("corner", lambda b: np.array([10 * (b[1] - b[0] ** 2), 1 - b[0]]),
     lambda b: np.array([[-20 * b[0], 10], [-1, 0]]), [1.5, -1], [1.2, -2], [2, 1])
