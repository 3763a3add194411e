"""Reference values for crates/engine/tests/pooling_reference.rs.

Run with: python pooling_reference.py [--data]
Written against Python 3.11, statsmodels 0.15.0, SciPy 1.17.1, NumPy 2.4.6, pandas.

With --data it also writes ../data/repeated_measures.csv and ../data/vague_vectors.csv, which are made up
(seeded random numbers, rounded, so that the files and not the generator define the test).

1. repeated_measures.csv: a linear mixed model with three random effects, unbalanced, some people measured
   fewer times than there are effects. statsmodels MixedLM (REML), full and uncorrelated covariance; the
   same by a dense restricted likelihood (whole covariance matrix of all measurements, no shortcut).
2. vague_vectors.csv: vectors with known sampling covariances, some components missing. Dense restricted
   likelihood only: statsmodels holds no known sampling covariances of vectors.
3. sleepstudy.csv: dense, to tell which digits of the published fits are the optimiser's.
4. Log risk ratios of 13 trials and mean effects in 8 schools (data in the Rust test): dense.

Conventions
- Criterion: -2 ln L_R with ln det X'V^-1 X and all of 2 pi, without the ln det X'X that some add.
- Standard errors of fixed effects are those of generalised least squares, given the variances; statsmodels'
  bse_fe is somewhat larger, so it is printed and not used.
"""
import os
import sys
import warnings

import numpy as np
import pandas as pd
import statsmodels.api as sm
from scipy import optimize

HERE = os.path.dirname(os.path.abspath(__file__))
DATA = os.path.join(HERE, "..", "data")
np.set_printoptions(precision=12, suppress=True, linewidth=140)


def make_repeated():
    rng = np.random.default_rng(20240611)
    root = np.array([[1.2, 0, 0], [0.3, 0.5, 0], [-0.1, 0.15, 0.25]])
    rows = []
    for person, n in enumerate([7, 6, 1, 5, 8, 2, 6, 4, 7, 3, 5, 6, 9, 2]):
        theta = np.array([5.0, -1.0, 0.4]) + root @ rng.standard_normal(3)
        for _ in range(n):
            x, z = rng.uniform(-2, 2), rng.normal()
            rows.append((person, round(x, 3), round(z, 3), round(theta @ [1, x, z] + 0.4 * rng.standard_normal(), 4)))
    frame = pd.DataFrame(rows, columns=["person", "first", "second", "response"])
    frame.to_csv(os.path.join(DATA, "repeated_measures.csv"), index=False)


def make_vague():
    rng = np.random.default_rng(20240612)
    root = np.array([[0.5, 0, 0], [-0.2, 0.3, 0], [0.1, 0.1, 0.4]])
    known = [(0, 1, 2)] * 7 + [(0, 1), (0, 2), (1, 2), (1,), (2,)]
    rows = []
    for person, components in enumerate(known):
        mix = rng.normal(size=(3, 3)) * 0.25
        sampling = np.round(mix @ mix.T + np.diag(rng.uniform(0.02, 0.1, 3)), 4)
        mean = np.array([0.3, -1.0, 2.0]) + root @ rng.standard_normal(3)
        mean = np.round(mean + np.linalg.cholesky(sampling) @ rng.standard_normal(3), 4)
        for j in components:
            rows.append((person, j, mean[j], *sampling[j]))
    frame = pd.DataFrame(rows, columns=["person", "component", "mean", "cov0", "cov1", "cov2"])
    frame.to_csv(os.path.join(DATA, "vague_vectors.csv"), index=False)


def dense(y, X, V):
    """-2 log restricted likelihood, fixed effects and their covariance, for Var(y) = V."""
    inverse = np.linalg.inv(V)
    A = X.T @ inverse @ X
    beta = np.linalg.solve(A, X.T @ inverse @ y)
    r = y - X @ beta
    value = np.linalg.slogdet(V)[1] + np.linalg.slogdet(A)[1] + r @ inverse @ r
    return value + (len(y) - X.shape[1]) * np.log(2 * np.pi), beta, np.linalg.inv(A)


def spread_of(theta, q, full):
    L = np.zeros((q, q))
    if full:
        L[np.tril_indices(q)] = theta
    else:
        L[np.diag_indices(q)] = theta
    return L @ L.T


def minimise(objective, starts):
    best = None
    for start in starts:
        found = optimize.minimize(objective, start, method="Nelder-Mead",
                                  options=dict(maxiter=40000, maxfev=40000, xatol=1e-9, fatol=1e-12, adaptive=True))
        for _ in range(3):
            found = optimize.minimize(objective, found.x, method="Nelder-Mead",
                                      options=dict(maxiter=40000, maxfev=40000, xatol=1e-10, fatol=1e-13, adaptive=True))
        if best is None or found.fun < best.fun:
            best = found
    return best


def repeated(full):
    frame = pd.read_csv(os.path.join(DATA, "repeated_measures.csv"))
    y = frame["response"].to_numpy()
    X = np.column_stack([np.ones(len(y)), frame["first"], frame["second"]])
    same = frame["person"].to_numpy()[:, None] == frame["person"].to_numpy()[None, :]

    def total(theta):
        noise = np.exp(theta[-1])
        return (X @ spread_of(theta[:-1], 3, full) @ X.T) * same + noise * np.eye(len(y))

    start = [1, 0, .5, 0, 0, .3, -2] if full else [1, .5, .3, -2]
    found = minimise(lambda theta: dense(y, X, total(theta))[0], [np.array(start, float)])
    value, beta, covariance = dense(y, X, total(found.x))
    print("dense", "full" if full else "uncorrelated")
    print("  criterion", repr(value), "noise", repr(np.exp(found.x[-1])))
    print("  beta", beta, "se", np.sqrt(np.diag(covariance)))
    print("  spread", spread_of(found.x[:-1], 3, full).tolist())

    warnings.simplefilter("ignore")
    if full:
        model = sm.MixedLM(y, X, groups=frame["person"], exog_re=X)
    else:
        names = ["intercept", "first", "second"]
        people = np.unique(frame["person"])
        mats = [[X[frame["person"] == person][:, [j]] for person in people] for j in range(3)]
        cols = [[[name] for _ in people] for name in names]
        model = sm.MixedLM(y, X, groups=frame["person"],
                           exog_vc=sm.regression.mixed_linear_model.VCSpec(names, cols, mats))
    best = None
    for method in ["bfgs", "lbfgs", "cg", "powell", "nm"]:
        fit = model.fit(reml=True, method=method, maxiter=5000, gtol=1e-10)
        if np.isfinite(fit.llf) and (best is None or fit.llf > best[0].llf):
            best = (fit, method)
    fit, method = best
    print("statsmodels", method)
    print("  criterion", repr(-2 * fit.llf), "noise", repr(fit.scale))
    print("  beta", np.asarray(fit.fe_params), "se", np.asarray(fit.bse_fe))
    print("  spread", np.asarray(fit.cov_re).tolist() if full else np.asarray(fit.vcomp).tolist())
    for person in (0, 2, 5):
        print("  person", person, np.asarray(fit.random_effects[person]))


def sleepstudy(full):
    """Dense likelihood: more digits than the published fits, which come from an optimiser that stops early."""
    frame = pd.read_csv(os.path.join(DATA, "sleepstudy.csv"))
    y = frame["Reaction"].to_numpy()
    X = np.column_stack([np.ones(len(y)), frame["Days"]])
    same = frame["Subject"].to_numpy()[:, None] == frame["Subject"].to_numpy()[None, :]

    def total(theta):
        return np.exp(theta[-1]) * ((X @ spread_of(theta[:-1], 2, full) @ X.T) * same + np.eye(len(y)))

    start = [1, 0, .2, 6.5] if full else [1, .2, 6.5]
    found = minimise(lambda theta: dense(y, X, total(theta))[0], [np.array(start, float)])
    noise = np.exp(found.x[-1])
    print("sleepstudy", "full" if full else "uncorrelated", "criterion", repr(found.fun), "noise", repr(noise))
    print("  spread", (noise * spread_of(found.x[:-1], 2, full)).tolist())


def vague(full):
    frame = pd.read_csv(os.path.join(DATA, "vague_vectors.csv"))
    y, j = frame["mean"].to_numpy(), frame["component"].to_numpy()
    same = frame["person"].to_numpy()[:, None] == frame["person"].to_numpy()[None, :]
    X = np.eye(3)[j]
    sampling = frame[["cov0", "cov1", "cov2"]].to_numpy()[:, j] * same

    def total(theta):
        return sampling + spread_of(theta, 3, full)[np.ix_(j, j)] * same

    start = [.5, 0, .3, 0, 0, .4] if full else [.5, .3, .4]
    found = minimise(lambda theta: dense(y, X, total(theta))[0], [np.array(start, float)])
    value, beta, covariance = dense(y, X, total(found.x))
    spread = spread_of(found.x, 3, full)
    print("vague", "full" if full else "diagonal", "criterion", repr(value))
    print("  mean", beta.tolist(), "se", np.sqrt(np.diag(covariance)).tolist())
    print("  spread", spread.tolist())
    inverse = np.linalg.inv(total(found.x))
    for person in (0, 8, 11):
        # Best linear unbiased prediction: mean + Cov(theta, y) V^-1 (y - X mean), and its error.
        link = (spread[:, j]) * (frame["person"].to_numpy() == person)
        open_ = np.eye(3) - link @ inverse @ X
        error = spread - link @ inverse @ link.T + open_ @ covariance @ open_.T
        print("  person", person, (beta + link @ inverse @ (y - X @ beta)).tolist(), np.sqrt(np.diag(error)).tolist())


def one(name, y, v):
    y, v = np.asarray(y, float), np.asarray(v, float)
    X = np.ones((len(y), 1))
    objective = lambda t: dense(y, X, np.diag(v + t * t))[0]
    found = minimise(lambda theta: objective(theta[0]), [np.array([0.5 * y.std()])])
    value, beta, covariance = dense(y, X, np.diag(v + found.x[0] ** 2))
    print(name, "tau2", repr(found.x[0] ** 2), "criterion", repr(value), "mean", beta, "se", np.sqrt(covariance[0]))


TRIALS = [(4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761),
          (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232),
          (17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825)]

if __name__ == "__main__":
    if "--data" in sys.argv:
        make_repeated()
        make_vague()
    repeated(True)
    repeated(False)
    sleepstudy(True)
    sleepstudy(False)
    vague(True)
    vague(False)
    a, b, c, d = np.array(TRIALS, float).T
    one("trials", np.log(a / (a + b)) - np.log(c / (c + d)), 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d))
    one("schools", [28, 8, -3, 7, -1, 1, 18, 12], np.square([15, 10, 16, 11, 9, 11, 10, 18]))
