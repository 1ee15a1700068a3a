#!/usr/bin/env python3
"""How often two colours are taken for each other, by SciPy.

    pip install scipy==1.17.1 numpy==2.4.6
    python tests/reference/margins.py tests/reference/margins.json

Takes a few seconds. `normal_tail`: the share of a standard normal distribution above z, by
`scipy.stats.norm.sf`. `mistaken`: two normal distributions in three channels with a covariance
each. Their distance in standard deviations is `scipy.spatial.distance.mahalanobis` with the
mean of the covariances. Where both covariances are one, `share` is how much of the first lies
on the second's side of the plane on which both are equally probable: integrated over two
channels by `scipy.integrate.dblquad`, the third by the conditional distribution. It knows
nothing of distances.
"""
import json, sys
import numpy as np
import scipy
from scipy.integrate import dblquad
from scipy.spatial.distance import mahalanobis
from scipy.stats import multivariate_normal, norm

SEED = 1


def share(a, b, cov):
    w = np.linalg.solve(cov, b - a)
    if abs(w[2]) < 1e-3 * np.abs(w).max():
        return None
    level = w @ (a + b) / 2
    two = multivariate_normal(a[:2], cov[:2, :2])
    slope = np.linalg.solve(cov[:2, :2], cov[:2, 2])
    sigma = np.sqrt(cov[2, 2] - cov[2, :2] @ slope)

    def density(y, x):
        mean = a[2] + slope @ (np.array([x, y]) - a[:2])
        edge = (level - w[0] * x - w[1] * y) / w[2]
        z = (edge - mean) / sigma
        return two.pdf([x, y]) * (norm.sf(z) if w[2] > 0 else norm.cdf(z))

    s = np.sqrt(np.diag(cov))
    return dblquad(density, a[0] - 9 * s[0], a[0] + 9 * s[0], a[1] - 9 * s[1], a[1] + 9 * s[1],
                   epsabs=1e-11, epsrel=1e-8)[0]


def covariance(rng, mean):
    # Stickers as the survey has them: together, each channel by itself, noise.
    together, own = rng.uniform(0.01, 0.05), rng.uniform(0.005, 0.03)
    return together**2 * np.outer(mean, mean) + np.diag((own * mean) ** 2 + rng.uniform(1, 40, 3) ** 2)


def main(path):
    rng = np.random.default_rng(SEED)
    tails = [{"id": f"tail-{z}", "input": {"z": z}, "expected": {"share": float(norm.sf(z))}}
             for z in [-9.0, -2.5, -0.1, 0.0, 0.3, 1.0, 1.959963984540054, 3.0, 5.0, 7.3, 12.0, 20.0, 37.0]]
    pairs = []
    while len(pairs) < 12:
        a = rng.uniform(300, 6000, 3)
        cov_a = covariance(rng, a)
        direction = rng.normal(size=3)
        b = a + direction * rng.uniform(0.5, 5) / np.sqrt(direction @ np.linalg.solve(cov_a, direction))
        cov_b = cov_a if len(pairs) % 3 else covariance(rng, b)
        expected = {"sigmas": mahalanobis(a, b, np.linalg.inv((cov_a + cov_b) / 2))}
        if cov_b is cov_a:
            found = share(a, b, cov_a)
            if found is None:
                continue
            expected["share"] = found
        pairs.append({"id": f"pair-{len(pairs)}",
                      "input": {"means": [a.tolist(), b.tolist()], "covariances": [cov_a.tolist(), cov_b.tolist()]},
                      "expected": expected})
    versions = {"scipy": scipy.__version__, "numpy": np.__version__}
    document = {"meta": {"generator": "margins.py", "libraries": versions, "seed": SEED}, "groups": {
        "normal_tail": {"provenance": "scipy.stats.norm.sf", "tolerance": "1e-13 relative, and 2e-16 z² more", "cases": tails},
        "mistaken": {"provenance": "scipy.spatial.distance.mahalanobis; scipy.integrate.dblquad",
                     "tolerance": "sigmas 1e-9 relative; share 1e-6 relative, 1e-10 absolute", "cases": pairs}}}
    with open(path, "w") as out:
        json.dump(document, out, indent=1)
        out.write("\n")


main(sys.argv[1])
