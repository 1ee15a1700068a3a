#!/usr/bin/env python3
"""The joint fit of a log's figures, by SciPy.

    pip install scipy==1.17.1 numpy==2.4.6
    python tests/reference/joint_fit.py tests/reference/joint_fit.json [OVERLAY.json]

Takes a second. The problem is one log's: whitened residuals and derivatives at the joint
solution, as `dryturn overlay --json` gives them in `joint.problem` (with OVERLAY.json it is
taken from there, else from the stored file). What comes out of it is computed here:

    joint_fit         scipy.optimize.least_squares (method "lm", numerical derivatives) from the
                      drawn figures on; rows of the prior appended; the covariance is the inverse
                      of J'J at the solution by numpy.linalg.inv. All figures, and sets of one to
                      three of them with the others held as drawn.
    chi_square_limit  scipy.stats.chi2.ppf at scipy.stats.norm.cdf(z)
"""
import itertools, json, sys
import numpy as np
import scipy
from scipy.optimize import least_squares
from scipy.stats import chi2, norm


def joint(name, problem, free):
    at, left = np.array(problem["at"]), np.array(problem["left"])
    columns, prior = np.array(problem["columns"]).T, problem["prior"]
    free = list(free)
    start = np.where(np.isin(np.arange(len(at)), free), at, 0.0)

    def residuals(x):
        y = start.copy()
        y[free] = x
        return np.concatenate([left + columns @ (y - at), np.sqrt(prior) * x])

    fit = least_squares(residuals, np.zeros(len(free)), method="lm", xtol=1e-14, ftol=1e-14, gtol=1e-14)
    covariance = np.linalg.inv(fit.jac.T @ fit.jac)
    errors = np.sqrt(np.diag(covariance))
    # The step starts where the others are drawn and these are as in the problem.
    return {
        "id": f"overlay/{name}", "kind": "joint_fit",
        "inputs": {
            "at": list(start[free]), "left": list(left + columns @ (start - at)),
            "columns": [list(columns[:, k]) for k in free], "prior": prior,
        },
        "expected": {
            "values": list(fit.x), "errors": list(errors),
            "correlations": list((covariance / np.outer(errors, errors)).ravel()),
        },
        "tol": 1e-5, "tol_abs": 1e-6,
        "provenance": "scipy.optimize.least_squares, numpy.linalg.inv",
    }


def main():
    path, given = sys.argv[1], sys.argv[2:]
    if given:
        problem = json.load(open(given[0]))["joint"]["problem"]
    else:
        problem = json.load(open(path))["problem"]
    size = len(problem["at"])
    cases = [joint("all", problem, range(size))]
    for count, step in ((1, 2), (2, 7), (3, 23)):
        for free in list(itertools.combinations(range(size), count))[::step]:
            cases.append(joint("-".join(map(str, free)), problem, free))
    for z in (2.326347874, 3.090232306):
        for freedom in range(1, 16):
            cases.append({
                "id": f"overlay/limit-{freedom}-{z:.2f}", "kind": "chi_square_limit",
                "inputs": {"freedom": freedom, "z": z},
                "expected": {"value": float(chi2.ppf(norm.cdf(z), freedom))},
                # Wilson and Hilferty's cube root is an approximation.
                "tol": 0.035 if freedom <= 3 else 0.015,
                "provenance": "scipy.stats.chi2.ppf, norm.cdf",
            })
    meta = {"computed_with": f"SciPy {scipy.__version__}, NumPy {np.__version__}, joint_fit.py"}
    json.dump({"meta": meta, "problem": problem, "cases": cases}, open(path, "w"), indent=1)


main()
