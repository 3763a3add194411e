"""Prints, at full digits, the computed values that statespace_reference.rs is held against.

Needs statsmodels 0.15.0 (with numpy, scipy). Run: python3 statespace_values.py > statespace_values.txt
Where statsmodels has no direct route (irregular spacing with a continuous-time trend) the joint Gaussian
density is written out with dense matrices instead, so the second route shares no recursion with the first.
"""
import numpy as np
import scipy.optimize as opt
import scipy.stats as st
import statsmodels
import statsmodels.api as sm
from statsmodels.tsa.statespace.kalman_filter import KalmanFilter
from statsmodels.tsa.statespace.kalman_smoother import KalmanSmoother

np.set_printoptions(precision=17)
print("statsmodels", statsmodels.__version__)


def show(name, *values):
    print(name, *(repr(float(v)) for value in values for v in np.ravel(value)))


def space(y, T, Q, H, start=None, smooth=True):
    """A time-invariant model observing its first state; exact diffuse unless start = (mean, cov)."""
    n = len(T)
    model = KalmanSmoother(k_endog=1, k_states=n)
    model.bind(np.asarray(y, float)[:, None])
    model.tolerance = 0  # otherwise the covariance is frozen once it changes by less than 3e-10
    model["design"] = np.eye(1, n)
    model["transition"] = np.asarray(T, float)
    model["selection"] = np.eye(n)
    model["state_cov"] = np.asarray(Q, float)
    model["obs_cov"] = [[H]]
    if start is None:
        model.initialize_diffuse()
    else:
        model.initialize_known(np.asarray(start[0], float), np.asarray(start[1], float))
    return model.smooth() if smooth else model.filter()


nile = sm.datasets.nile.load_pandas().data["volume"].to_numpy()
assert nile.tolist() == np.loadtxt("nile.csv", delimiter=",", skiprows=1)[:, 1].tolist()
n = len(nile)

# K1: local level ------------------------------------------------------------------------------
print("# Nile, local level, 15099 and 1469.1, exact diffuse")
r = space(nile, [[1]], [[1469.1]], 15099.0)
show("log_likelihood_every_constant", r.llf_obs.sum())
for label, a in [("filtered", r.filtered_state[0]), ("filtered_var", r.filtered_state_cov[0, 0]),
                 ("smoothed", r.smoothed_state[0]), ("smoothed_var", r.smoothed_state_cov[0, 0])]:
    show("nile_" + label, a[:5], a[-1])
show("nile_innovations_1872", r.forecasts_error[0, 1:4], r.forecasts_error_cov[0, 0, 1:4])
show("nile_smoothed_1898_1899", r.smoothed_state[0, 27:29], r.filtered_state[0, 27:29])
show("nile_known_start", space(nile, [[1]], [[1469.1]], 15099.0, ([0], [[1e7]])).llf_obs.sum())


def concentrated(q):
    r = space(nile, [[1]], [[q]], 1.0, smooth=False)
    v, f = r.forecasts_error[0, 1:], r.forecasts_error_cov[0, 0, 1:]
    s2 = np.mean(v * v / f)
    return -0.5 * (n - 1) * np.log(s2) - 0.5 * np.log(f).sum(), s2


for q in [1, 0.0360, 0.0745, 0.0974, 0.0973]:
    show(f"nile_concentrated_{q}", concentrated(q)[0])
best = opt.minimize_scalar(lambda u: -concentrated(np.exp(u))[0], bounds=(-5, 1), method="bounded",
                           options=dict(xatol=1e-12))
q = np.exp(best.x)
c, s2 = concentrated(q)
show("nile_mle_ratio_noise_level_concentrated", q, s2, q * s2, c)
show("nile_mle_two_conventions", c - 49.5 - 49.5 * np.log(2 * np.pi), c - 49.5 - 50 * np.log(2 * np.pi))
p = (q * s2 + np.sqrt((q * s2) ** 2 + 4 * q * s2 * s2)) / 2
show("nile_steady_predicted_filtered_gain_innovation", p, p * s2 / (p + s2), p / (p + s2), p + s2)

# K2: local linear trend ---------------------------------------------------------------------------
T1 = [[1, 1], [0, 1]]
print("# Nile, local linear trend in unit steps, exact diffuse")
for h, a, b in [(15099, 1469.1, 0), (15000, 1500, 1), (15000, 1500, 10)]:
    r = space(nile, T1, np.diag([a, b]), h)
    show(f"nile_trend_{h}_{a}_{b}", r.llf_obs.sum())
show("nile_trend_last_state", r.filtered_state[:, -1], r.filtered_state_cov[0, 0, -1],
     r.filtered_state_cov[0, 1, -1], r.filtered_state_cov[1, 1, -1])
for i in range(3):
    show(f"nile_trend_smoothed_{i}", r.smoothed_state[:, i], r.smoothed_state_cov[0, 0, i],
         r.smoothed_state_cov[0, 1, i], r.smoothed_state_cov[1, 1, i])
best = opt.minimize(lambda u: -space(nile, T1, np.diag([np.exp(u[1]), 0]), np.exp(u[0]), smooth=False).llf_obs.sum(),
                    np.log([15000, 1500]), method="Nelder-Mead", options=dict(xatol=1e-10, fatol=1e-12))
show("nile_trend_mle", *np.exp(best.x), -best.fun)
show("nile_trend_structts", space(nile, T1, np.diag([1426.74, 0]), 15047.33).llf_obs.sum())

print("# Small series")
y = [100, 101.5, 101.0, 103.2, 104.1, 103.8, 106.0, 106.4, 108.1, 107.6, 109.9, 111.0]
r = space(y + [np.nan] * 3, T1, np.diag([0.2, 0.01]), 1.0, ([100, 0], [[25, 0], [0, 1]]))
show("small_log_likelihood", r.llf_obs[:12].sum())
show("small_filtered_level", r.filtered_state[0, :12])
show("small_filtered_slope", r.filtered_state[1, :12])
r12 = space(y, T1, np.diag([0.2, 0.01]), 1.0, ([100, 0], [[25, 0], [0, 1]]))
show("small_smoothed_level", r12.smoothed_state[0])
show("small_smoothed_slope", r12.smoothed_state[1])
c = r12.filtered_state_cov[:, :, -1]
show("small_last_covariance", c[0, 0], c[0, 1], c[1, 1])
show("small_forecast", r.forecasts[0, 12:], r.forecasts_error_cov[0, 0, 12:])

# K3: irregular spacing ------------------------------------------------------------------------
print("# Irregular days, local level on a daily grid with missing days")
days = np.array([0, 2, 5, 9, 10, 14, 21, 23])
y = np.array([100.0, 101.2, 99.8, 102.5, 101.9, 103.6, 104.0, 101.0])
grid = np.full(31, np.nan)
grid[days] = y
r = space(grid[:24], [[1]], [[0.10]], 2.25, ([100], [[16]]))
show("irregular_log_likelihood", r.llf_obs.sum())
P, F, v = r.predicted_state_cov[0, 0], r.forecasts_error_cov[0, 0], r.forecasts_error[0]
for d in days:
    show(f"irregular_day_{d}", r.predicted_state[0, d], P[d], v[d], F[d], v[d] / np.sqrt(F[d]), P[d] / F[d],
         r.filtered_state[0, d], r.filtered_state_cov[0, 0, d], r.smoothed_state[0, d], r.smoothed_state_cov[0, 0, d])
r = space(grid, [[1]], [[0.10]], 2.25, ([100], [[16]]))
show("irregular_forecast_day_30", r.forecasts[0, 30], r.forecasts_error_cov[0, 0, 30])


def trend_moments(days, ql, qs, start_cov):
    """Joint covariance of (level, slope) at all days, from integrals of Brownian motion; no recursion."""
    m = len(days)
    C = np.zeros((2 * m, 2 * m))
    for i, s in enumerate(days):
        for j, t in enumerate(days):
            A, B = np.array([[1, s], [0, 1]]), np.array([[1, t], [0, 1]])
            lo, hi = min(s, t), max(s, t)
            ll = ql * lo + qs * (lo**3 / 3 + (hi - lo) * lo**2 / 2)
            # cov(level at s, slope at t) = qs * integral over u < min of (s - u)
            ls = qs * (s * lo - lo**2 / 2)
            sl = qs * (t * lo - lo**2 / 2)
            C[2 * i:2 * i + 2, 2 * j:2 * j + 2] = A @ start_cov @ B.T + np.array([[ll, ls], [sl, qs * lo]])
    return C


print("# Irregular days, continuous-time trend, joint Gaussian density and conditioning")
C = trend_moments(days.astype(float), 0.10, 0.0004, np.diag([16, 0.04]))
Cy = C[::2, ::2] + 2.25 * np.eye(8)
show("continuous_log_likelihood", st.multivariate_normal(np.full(8, 100.0), Cy).logpdf(y))
for i in range(1, 8):
    k = i + 1
    G = C[2 * i:2 * i + 2, 0:2 * k:2] @ np.linalg.inv(Cy[:k, :k])
    show(f"continuous_day_{days[i]}", np.array([100, 0]) + G @ (y[:k] - 100))
V = C[14:16, 14:16] - G @ C[0:16:2, 14:16]
show("continuous_last_covariance", V[0, 0], V[0, 1], V[1, 1])
