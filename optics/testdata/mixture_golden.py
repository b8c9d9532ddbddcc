#!/usr/bin/env python3
"""Golden permittivities of mixtures: D. A. G. Bruggeman, Ann. Phys. 416, 636 (1935); J. C.
Maxwell Garnett, Phil. Trans. R. Soc. A 203, 385 (1904); Lorentz-Lorenz and the volume
average as optics/mixture.go cites them; all from memory.

Writes mixture_golden.csv (path: first argument). mpmath, 40 digits. Bruggeman
is solved by polyroots from its quadratic, and the root is chosen by following
it from porosity 0 in small steps, not by a sign rule.
"""
import sys
from mpmath import mp, mpf, mpc, polyroots, nstr

mp.dps = 40


def lorentz(e):
    return (e - 1) / (e + 2)


def bruggeman(s, v, p):
    root = s
    for i in range(1, 401):
        f = p * i / 400
        # (1-f)(s-e)(v+2e) + f(v-e)(s+2e) = 0, collected in powers of e
        a2 = -2 * (1 - f) - 2 * f
        a1 = (1 - f) * (2 * s - v) + f * (2 * v - s)
        roots = polyroots([a2, a1, s * v], maxsteps=500, extraprec=400)
        root = min(roots, key=lambda r: abs(r - root))
    return root


def mix(rule, s, v, p):
    if rule == 'bruggeman':
        return bruggeman(s, v, p)
    if rule == 'maxwell-garnett':      # inclusions v in host s
        b = p * (v - s) / (v + 2 * s)
        return s * (1 + 2 * b) / (1 - b)
    if rule == 'lorentz-lorenz':
        L = (1 - p) * lorentz(s) + p * lorentz(v)
        return (1 + 2 * L) / (1 - L)
    return (1 - p) * s + p * v


CASES = [  # n, k of solid; n, k of void
    ('1.46', '0', '1', '0'), ('1.458', '0', '1.333', '0'),
    ('1.95', '0.05', '1', '0'), ('2.4', '0.3', '1.333', '0.001'), ('3.9', '0.02', '1', '0'),
]
RULES = ['bruggeman', 'maxwell-garnett', 'lorentz-lorenz', 'volume-average']

out = open(sys.argv[1], 'w')
out.write('# Golden permittivities of mixtures, computed at 40 digits with mpmath 1.3.0 (mixture_golden.py) from the rules that it cites\n')
out.write('# solid ns + i ks, void nv + i kv, porosity = void share of the volume; maxwell-garnett: voids in a solid host; 20 significant digits\n')
out.write('rule,ns,ks,nv,kv,porosity,eps_re,eps_im\n')
for ns, ks, nv, kv in CASES:
    s, v = mpc(mpf(ns), mpf(ks)) ** 2, mpc(mpf(nv), mpf(kv)) ** 2
    for p in ['0', '0.1', '0.35', '0.7', '0.95', '1']:
        for rule in RULES:
            e = mix(rule, s, v, mpf(p))
            im = '0' if abs(e.imag) < mpf('1e-30') else nstr(e.imag, 20)
            out.write(','.join([rule, ns, ks, nv, kv, p, nstr(e.real, 20), im]) + '\n')
