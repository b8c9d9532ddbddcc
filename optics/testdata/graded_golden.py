#!/usr/bin/env python3
"""Reflectance of graded films with a skin and a spread of thickness.

Writes graded_golden.csv (path: first argument, default stdout). Nothing is
sliced: for s light and a permittivity that is linear in depth the field in the
film is a sum of Airy functions (SciPy, `airy`); everything else integrates
Maxwell's equations through the film with an eighth-order Runge-Kutta method
(SciPy `solve_ivp`, DOP853, tolerances 1e-13), the skin by its characteristic
matrix, whose phase may be negative. Means over a normal distribution of
thickness are Gauss-Hermite sums of 48 points; for a variance below zero R +
v/2 d^2 R'' with the second derivative by Richardson's extrapolation of central
differences. Convention: exp(-i w t), index n + i k, k >= 0 absorbs.
Debian's python3-scipy 1.10 wrote the file.
"""
import sys
import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import airy


def bruggeman(solid, p):
    f = lambda e: p * (1 - e) / (1 + 2 * e) + (1 - p) * (solid - e) / (solid + 2 * e)
    return brentq(f, 0.9, 3, xtol=1e-15, rtol=1e-14)


def volume(solid, p):
    return (1 - p) * solid + p


MIX = {'bruggeman': bruggeman, 'volume-average': volume}


def porosity(mix, solid, index):
    return brentq(lambda p: MIX[mix](solid, p) - index ** 2, -0.2, 1, xtol=1e-15, rtol=1e-14)


def reflect(E, H, pol, angle, sub):
    """R where the fields at the top are E, H for the substrate's 1, sub."""
    cos = np.cos(np.radians(angle))
    e0 = cos if pol == 's' else 1 / cos
    return abs((e0 * E - H) / (e0 * E + H)) ** 2


def admittance(eps, sin2, pol):
    q = np.sqrt(complex(eps - sin2))
    return q if pol == 's' else eps / q


def skin_up(E, H, eps, t, k, sin2, pol):
    q = np.sqrt(eps - sin2)
    eta = q if pol == 's' else eps / q
    d = k * q * t
    return np.cos(d) * E - 1j * np.sin(d) / eta * H, -1j * eta * np.sin(d) * E + np.cos(d) * H


def film_up(E, H, eps, cuts, d, k, sin2, pol):
    """Fields at the top of a film; eps(x) at depth x*d, with corners at cuts."""
    def slope(y, f):                       # y from 0 at the bottom to 1
        e = eps(1 - y)
        a, b = (e - sin2, 1) if pol == 's' else (e, 1 - sin2 / e)
        return [-1j * k * d * b * f[1], -1j * k * d * a * f[0]]
    ends = [0] + sorted(1 - c for c in cuts if 0 < c < 1) + [1]
    f = np.array([E, H], complex)
    for lo, hi in zip(ends, ends[1:]):
        f = solve_ivp(slope, (lo, hi), f, method='DOP853', rtol=1e-13, atol=1e-15).y[:, -1]
    return f[0], f[1]


def one(row, d):
    solid = float(row['skeleton']) ** 2
    p, g = porosity(row['mixing'], solid, float(row['index'])), float(row['gradient'])
    clip = lambda x: min(max(p + g * (2 * x - 1), 0), 0.95)
    cuts = [] if g == 0 else [(1 + (edge - p) / g) / 2 for edge in (0, 0.95)]
    k, sin2 = 2 * np.pi / float(row['nm']), np.sin(np.radians(float(row['angle_deg']))) ** 2
    pol = row['pol']
    sub = admittance(complex(float(row['glass_n']), float(row['glass_k'])) ** 2, sin2, pol)
    E, H = film_up(1, sub, lambda x: MIX[row['mixing']](solid, clip(x)), cuts, d, k, sin2, pol)
    E, H = skin_up(E, H, solid, float(row['skin_nm']), k, sin2, pol)
    return reflect(E, H, pol, float(row['angle_deg']), sub)


def spread(row):
    d, v = float(row['thickness_nm']), float(row['variance'])
    if v == 0:
        return one(row, d)
    if v > 0:
        x, w = np.polynomial.hermite_e.hermegauss(48)
        keep = w > 1e-14 * w.max()
        x, w = x[keep], w[keep] / w.sum()
        return sum(w * [one(row, d * (1 + np.sqrt(v) * x)) for x in x])
    second = lambda h: (one(row, d * (1 + h)) - 2 * one(row, d) + one(row, d * (1 - h))) / h ** 2
    return one(row, d) + v / 2 * (4 * second(0.01) - second(0.02)) / 3


def airy_film(lam, angle, top, low, d, glass):
    """s light, permittivity linear from top to low over d: Airy functions."""
    k, sin2 = 2 * np.pi / lam, np.sin(np.radians(angle)) ** 2
    slope = (low - top) / d
    L = (k * k * slope) ** (1 / 3)             # E'' + k^2 (eps - sin2) E = 0 along the depth z
    xi = lambda e: -(L / slope) * (e - sin2)
    a, ad, b, bd = airy(xi(low))
    q = np.sqrt(glass ** 2 - sin2)
    # H = E'/(i k) with exp(-i w t); at the glass E = 1 and H = q
    c = np.linalg.solve(np.array([[a, b], [-L * ad / (1j * k), -L * bd / (1j * k)]]), [1, q])
    a, ad, b, bd = airy(xi(top))
    return reflect(c[0] * a + c[1] * b, -L * (c[0] * ad + c[1] * bd) / (1j * k), 's', angle, q)


HEAD = ('case,mixing,pol,angle_deg,nm,thickness_nm,index,skeleton,gradient,skin_nm,variance,'
        'glass_n,glass_k,R').split(',')
ROWS = []


def add(case, mixing='bruggeman', pols='sp', places=((0, 550), (45, 400), (60, 700)), thickness=118, index=1.3,
        gradient=0, skin=0, variance=0, glass=(1.52, 0)):
    for angle, nm in places:
        for pol in pols:
            ROWS.append(dict(zip(HEAD, [case, mixing, pol, angle, nm, thickness, index, 1.458, gradient, skin, variance,
                                        *glass])))


def linear_permittivity():
    top, low, solid = 1.22 ** 2, 1.35 ** 2, 1.458 ** 2
    add('airy', 'volume-average', 's', ((0, 550), (60, 550), (45, 400)), index=repr(float(np.sqrt((top + low) / 2))),
        gradient=repr(-(low - top) / (2 * (solid - 1))))
    for row in ROWS:
        row['R'] = airy_film(float(row['nm']), float(row['angle_deg']), top, low, 118, 1.52)


def main():
    linear_permittivity()
    for g in ('0.05', '-0.05', '0.15', '0.3', '-0.3'):
        add('gradient', gradient=g)
    add('gradient-thick', thickness=300, gradient='0.05')
    add('gradient-absorbing-glass', gradient='0.05', glass=(1.52, 0.05))
    add('clipped-low', index='1.42', gradient='0.1')
    add('clipped-high', index='1.08', gradient='0.2')
    add('skin', skin=10)
    add('skin-negative', skin=-10)
    add('skin-and-gradient', skin=4, gradient='-0.03')
    for v in ('0.0025', '0.01', '0.06', '-0.01'):
        add('spread', variance=v)
    add('spread-150', thickness=150, variance='0.01')
    add('spread-thick', thickness=300, variance='0.0025')
    add('all', gradient='0.05', skin=4, variance='0.0025')
    add('all-below-zero', gradient='-0.05', skin=-5, variance='-0.002')
    out = open(sys.argv[1], 'w') if len(sys.argv) > 1 else sys.stdout
    out.write('# Reflectance of structured films by graded_golden.py: Airy functions and Runge-Kutta, no slices\n')
    out.write('# index: of a uniform film of the mean porosity; skeleton: of the solid; no dispersion, voids of air\n')
    out.write(','.join(HEAD) + '\n')
    for row in ROWS:
        if 'R' not in row or row['R'] == '':
            row['R'] = spread(row)
        row['R'] = '%.12f' % row['R']
        out.write(','.join(str(row[h]) for h in HEAD) + '\n')


if __name__ == '__main__':
    main()
