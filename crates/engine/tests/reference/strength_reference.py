"""Reference values for crates/engine/tests/strength_reference.rs.

Run with: python strength_reference.py
Written against Python 3.11 and SciPy 1.17.1. Inverses are found by bracketing root search, slopes by
central difference, so neither shares an algorithm with the code under test.
"""
import math

from scipy.optimize import brentq

RATIO = {  # 1RM / load at r repetitions to failure
    "Epley": lambda r: 1 + r / 30,
    "Brzycki": lambda r: 36 / (37 - r),
    "Brzycki decimal": lambda r: 1 / (1.0278 - 0.0278 * r),
    "Lombardi": lambda r: r**0.10,
    "Mayhew": lambda r: 100 / (52.2 + 41.9 * math.exp(-0.055 * r)),
    "O'Conner": lambda r: 1 + 0.025 * r,
    "Wathan": lambda r: 100 / (48.8 + 53.8 * math.exp(-0.075 * r)),
    "Lander": lambda r: 100 / (101.3 - 2.67123 * r),
    "Adams": lambda r: 1 / (1 - 0.02 * r),
}
for name, ratio in RATIO.items():
    table = " ".join(f"{100 * ratio(r):.3f}" for r in (1, 3, 5, 8, 10, 12))
    reps = brentq(lambda r: 1 / ratio(r) - 0.8, 1, 30, xtol=1e-14)
    h = 1e-4
    slopes = " ".join(f"{100 * (math.log(ratio(r + h)) - math.log(ratio(r - h))) / (2 * h):.6f}" for r in (3, 5, 8, 12))
    print(f"{name}: 1RM {table}; reps at 80 % {reps:.10f}; slope {slopes}")
for r in (12, 15, 20):
    y = [math.log(f(r)) for f in RATIO.values()]
    mean = sum(y) / len(y)
    print(f"sd of ln ratio over the nine at {r}: {math.sqrt(sum((v - mean) ** 2 for v in y) / (len(y) - 1)):.6f}")

PERCENT = {
    "bench": lambda v: 8.4326 * v * v - 73.501 * v + 112.33,
    "squat": lambda v: -5.961 * v * v - 50.71 * v + 117.0,
    "pull": lambda v: 18.5797 * v * v - 104.182 * v + 147.94,
    "parallel": lambda v: 120.15 - 83.54 * v,
}
for name, percent in PERCENT.items():
    print(name, " ".join(f"{p}: {brentq(lambda v: percent(v) - p, 0, 2, xtol=1e-14):.6f}" for p in (30, 40, 50, 60, 70, 80, 90, 100)))

# Between-lift spread of b, M = w(1 + b n), from the trained-men means of Hoeger 1990 (from memory).
for load, reps in ((0.6, (45.5, 23.5, 22.6, 18.3, 18.9, 21.3, 15.4)), (0.8, (19.4, 12.2, 12.2, 11.6, 12.2, 11.4, 7.2))):
    y = [math.log((1 / load - 1) / n) for n in reps]
    mean = sum(y) / len(y)
    print(f"at {load}: geometric mean b {math.exp(mean):.6f}, sd of ln b {math.sqrt(sum((v - mean) ** 2 for v in y) / (len(y) - 1)):.6f}")
