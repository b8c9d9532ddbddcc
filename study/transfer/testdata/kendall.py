#!/usr/bin/env python3
"""Kendall's tau with its exact p, for the tests of this package. usage: python3 kendall.py    made with SciPy 1.10.1

For ties, where scipy.stats.kendalltau has no exact p, all permutations of y are walked here.
"""
import itertools

from scipy.stats import kendalltau

CASES = [
    ([1, 2, 3], [1, 2, 3]),
    ([1, 2, 3, 4], [1, 3, 2, 4]),
    ([-0.41, -0.02, -0.33, -0.75, -0.18], [-1.9, -0.3, -2.2, -3.1, -0.4]),
    ([5, 3, 8, 1, 9, 2, 7], [4, 6, 9, 2, 7, 1, 8]),
    ([5, 3, 8, 1, 9, 2, 7, 4, 6, 10, 12, 11], [12, 1, 7, 3, 4, 2, 9, 6, 11, 5, 8, 10]),
]
for x, y in CASES:
    r = kendalltau(x, y, method="exact")
    print(x, y, "tau %.12f p %.12f" % (r.statistic, r.pvalue))
for x, y in [([1, 2, 2, 3, 4], [1, 3, 2, 2, 5]), ([1, 1, 2, 3], [1, 2, 3, 4])]:
    tau = kendalltau(x, y).statistic
    taus = [kendalltau(x, p).statistic for p in itertools.permutations(y)]
    print(x, y, "tau %.12f p %.12f" % (tau, sum(abs(t) >= abs(tau) - 1e-12 for t in taus) / len(taus)))
