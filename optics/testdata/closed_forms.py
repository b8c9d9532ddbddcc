#!/usr/bin/env python3
"""Reflectances of faces and panes, and porosities of a film, at 30 digits.

usage: python3 closed_forms.py    prints the figures of TestFresnelReflectanceOfGlass,
TestNormalIncidenceClosedForms, TestBarePaneAtNormalIncidence, TestTintedPane and
TestPorosityOfFilmOfIndex130; made with mpmath 1.2.1.

Snell's law and Fresnel's equations in amplitudes; incoherent panes R = 2r/(1+r). The
mixing rules are solved for the porosity as they are usually written:
  Bruggeman         (1-p)(es-e)/(es+2e) + p(ev-e)/(ev+2e) = 0
  Maxwell Garnett   (e-es)/(e+2es) = p (ev-es)/(ev+2es), void in solid
  Lorentz-Lorenz    (e-1)/(e+2) = (1-p)(es-1)/(es+2) + p(ev-1)/(ev+2)
  volume average    e = (1-p) es + p ev
"""
from mpmath import mp, mpf, sqrt, sin, cos, atan, pi, findroot, nstr

mp.dps = 30


def fresnel(n, degrees):
    c0 = cos(degrees * pi / 180)
    c1 = sqrt(1 - (sin(degrees * pi / 180) / n) ** 2)
    s, p = (c0 - n * c1) / (c0 + n * c1), (n * c0 - c1) / (n * c0 + c1)
    return s * s, p * p


print("glass of 1.5: angle, s, p, mean")
for angle in (0, 30, 45, atan(mpf("1.5")) * 180 / pi, 60, 75, 85):
    s, p = fresnel(mpf("1.5"), mpf(angle))
    print(nstr(mpf(angle), 11), nstr(s, 6), nstr(p, 6), nstr((s + p) / 2, 6))

r = fresnel(mpf("1.52"), 0)[0]
print("face and pane of 1.52:", nstr(r, 12), "R", nstr(2 * r / (1 + r), 12), "T", nstr((1 - r) / (1 + r), 12))
for n in ("1.38", "1.25"):
    e = mpf(n) ** 2
    print("quarter wave of", n, "on 1.52:", nstr(((mpf("1.52") - e) / (mpf("1.52") + e)) ** 2, 12))

e, es, ev = mpf("1.30") ** 2, mpf("1.46") ** 2, mpf(1)
rules = {
    "bruggeman": lambda p: (1 - p) * (es - e) / (es + 2 * e) + p * (ev - e) / (ev + 2 * e),
    "maxwell-garnett": lambda p: (e - es) / (e + 2 * es) - p * (ev - es) / (ev + 2 * es),
    "lorentz-lorenz": lambda p: (e - 1) / (e + 2) - (1 - p) * (es - 1) / (es + 2) - p * (ev - 1) / (ev + 2),
    "volume-average": lambda p: (1 - p) * es + p * ev - e,
}
for name, f in rules.items():
    print("porosity of a film of 1.30 in silica of 1.46,", name, nstr(findroot(f, mpf("0.35")), 6))
