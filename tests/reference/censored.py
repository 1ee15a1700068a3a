#!/usr/bin/env python3
"""A normal distribution with some coordinates seen and others only bounded: censored.json.

    pip install scipy numpy
    python tests/reference/censored.py engine/stages/reading/tests/censored.json

Logarithm of the density of what is seen times the probability of the bounds, by SciPy:
`multivariate_normal.logpdf` of the coordinates seen, and `multivariate_normal.cdf` of the
others' conditional distribution (the numerical integral of A. Genz). Written here with SciPy
1.17.1, NumPy 2.4.6.
"""
import json, sys
import numpy as np, scipy
from scipy.stats import multivariate_normal as normal

random, cases = np.random.default_rng(18), []
for number in range(60):
    mix = random.normal(size=(3, 3)) * 0.08
    covariance = mix @ mix.T + np.diag(random.uniform(0.02, 0.15, 3) ** 2)
    mean = random.normal(size=3)
    sample = mean + np.linalg.cholesky(covariance) @ random.normal(size=3) * random.uniform(0.3, 2.0)
    known = [("exactly", "at least", "at most")[k] for k in random.choice(3, 3, p=(0.5, 0.3, 0.2))]
    seen = [k for k in range(3) if known[k] == "exactly"]
    bound = [k for k in range(3) if known[k] != "exactly"]
    log, middle, rest = 0.0, mean[bound], covariance[np.ix_(bound, bound)]
    if seen:
        own = covariance[np.ix_(seen, seen)]
        log += normal.logpdf(sample[seen], mean[seen], own)
        gain = covariance[np.ix_(bound, seen)] @ np.linalg.inv(own)
        middle, rest = middle + gain @ (sample - mean)[seen], rest - gain @ covariance[np.ix_(seen, bound)]
    if bound:
        # P(x >= s) of a normal distribution is P(-x <= -s).
        sign = np.array([-1.0 if known[k] == "at least" else 1.0 for k in bound])
        flipped = rest * np.outer(sign, sign)
        log += np.log(normal.cdf(sign * sample[bound], sign * middle, flipped, abseps=1e-10, releps=1e-9, maxpts=10**7))
    cases.append({"id": f"{number}", "mean": list(mean), "covariance": [list(r) for r in covariance],
                  "sample": list(sample), "known": known, "log": float(log)})
json.dump({"provenance": f"SciPy {scipy.__version__} by tests/reference/censored.py", "cases": cases}, open(sys.argv[1], "w"), indent=0)
