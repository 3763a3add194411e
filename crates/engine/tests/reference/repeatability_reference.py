"""Reference values for crates/engine/tests/repeatability_reference.rs.

Run with: python repeatability_reference.py
Written against Python 3.11, pingouin 0.7.0, SciPy 1.17.1, NumPy, pandas.

Data (recalled from memory, see the Rust test for how each was confirmed):
  Shrout & Fleiss 1979, Psychol Bull 86:420, six targets and four judges;
  Weir 2005, J Strength Cond Res 19:231, eight people and two trials;
  Bland & Altman 1986, Lancet 327:307, peak flow of 17 people with two meters, two readings each.
"""
import numpy as np
import pandas as pd
import pingouin as pg
from scipy import stats

pg.options["round"] = None
pg.options["round.column.CI95"] = None

SHROUT = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], float)
WEIR = np.array([[146, 148, 170, 90, 157, 156, 176, 205], [140, 152, 152, 99, 145, 153, 167, 218]], float).T
LARGE = np.array([[494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427],
                  [490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421]], float).T
MINI = np.array([[512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451],
                 [525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443]], float).T


def icc(name, x):
    n, k = x.shape
    long = pd.DataFrame({"p": np.repeat(np.arange(n), k), "t": np.tile(np.arange(k), n), "y": x.ravel()})
    out = pg.intraclass_corr(data=long, targets="p", raters="t", ratings="y")
    for _, row in out.iterrows():
        low, high = row["CI95"]
        print(f"{name} {row['Type']} {row['ICC']:.12f} [{low:.12f}, {high:.12f}]")


def typical_error_interval(name, x, level=0.95):
    """Chi-square interval of the root error mean square, df = (n - 1)(k - 1)."""
    n, k = x.shape
    error = x - x.mean(1, keepdims=True) - x.mean(0, keepdims=True) + x.mean()
    df = (n - 1) * (k - 1)
    te = np.sqrt((error**2).sum() / df)
    low, high = (te * np.sqrt(df / stats.chi2.ppf(q, df)) for q in ((1 + level) / 2, (1 - level) / 2))
    print(f"{name} TE {te:.12f} [{low:.12f}, {high:.12f}]")


def agreement(factor=1.96):
    d = LARGE[:, 0] - MINI[:, 0]
    n, mean, sd = len(d), d.mean(), d.std(ddof=1)
    t = stats.t.ppf(0.975, n - 1)
    se = sd * np.sqrt(3 / n)
    print(f"agreement t {t:.12f} bias CI {mean - t * sd / n**.5:.12f} {mean + t * sd / n**.5:.12f}")
    for limit in (mean - factor * sd, mean + factor * sd):
        print(f"  limit {limit:.12f} CI {limit - t * se:.12f} {limit + t * se:.12f}")
    print(f"  r {np.corrcoef(LARGE[:, 0], MINI[:, 0])[0, 1]:.12f}")


for label, data in (("shrout", SHROUT), ("weir", WEIR), ("large", LARGE), ("mini", MINI)):
    icc(label, data)
    typical_error_interval(label, data)
agreement()
