"""The recovery model of one lifter as arrays for statsmodels' state-space filter.

Written from the model's equations, with general matrices throughout, and sharing nothing with the Rust
code but the constants: every event is an affine map with noise, x -> T x + c + N(0, Q), and those between two
observed numbers are multiplied out. Linear case only: noise of one scale, the same work always costs the
same, stress doesn't slow recovery.

State: day's form, absence, cost of a set, sleep, stress, soreness, the muscles, and for each lift level,
slope and bend (ln b less that of the common curve). README-recovery.md has the format of records.
"""
import math

import numpy as np
from statsmodels.tsa.statespace.initialization import Initialization
from statsmodels.tsa.statespace.kalman_filter import KalmanFilter

AWAY_DAYS = 14.0
LOST_PER_DAY_AWAY = DOUBT_PER_DAY_AWAY = 0.0015
REGAIN_DAYS = 14.0
LEFT_OUT_PER_DAY = 0.01 / 7
SHOWN_SETS = 5
CHECK_IN_NOISE = [0.02, 0.1, 0.1]
FORM, ABSENCE, COST, CHECK_IN, MUSCLES = 0, 1, 2, 3, 6

LEGS, PULL, PUSH = 0, 1, 2
REGION = dict(quadriceps=LEGS, hamstrings=LEGS, glutes=LEGS, adductors=LEGS, spinal_erectors=LEGS,
              lats=PULL, upper_back=PULL, biceps=PULL, brachialis=PULL, rear_delts=PULL,
              chest=PUSH, front_delts=PUSH, triceps=PUSH, side_delts=PUSH)
DAYS = dict(quadriceps=1.8, hamstrings=1.8, adductors=1.8, spinal_erectors=1.8,
            glutes=1.5, chest=1.5, lats=1.5, upper_back=1.5)
OTHER_DAYS = 1.2


def read(path):
    """Parameters, lifts [(name, scatter, {muscle: weight})] and events of a record."""
    values, lifts, events = {}, [], []
    with open(path) as file:
        for line in file:
            what, *cells = line.split() or ["#"]
            if what == "value":
                numbers = [float(cell) for cell in cells[1:]]
                values[cells[0]] = numbers if len(numbers) > 1 else numbers[0]
            elif what == "lift":
                weights = dict(cell.split("=") for cell in cells[2:])
                lifts.append((cells[0], float(cells[1]), {m: float(w) for m, w in weights.items()}))
            elif not what.startswith("#"):
                events.append((what, cells))
    return values, lifts, events


def without_extremes(shown):
    """The mean, without the highest and the lowest of three or more."""
    middle = sorted(shown)[1:-1] if len(shown) > 2 else shown
    return sum(middle) / len(middle)


class Record:
    """A record as arrays: one time step for each observed number, and one before the first."""

    def __init__(self, values, lifts, events):
        self.v = values
        self.lifts = lifts
        self.place = {name: index for index, (name, _, _) in enumerate(lifts)}
        self.muscles = sorted({muscle for _, _, weights in lifts for muscle in weights})
        self.k = MUSCLES + len(self.muscles) + 3 * len(lifts)
        self.start()
        # Of the time steps: observed, design, its noise, kind, Jacobian; of the gaps after them: maps.
        self.y, self.design, self.noise = [math.nan], [np.zeros(self.k)], [1.0]
        self.counted, self.log_jacobian = [False], [0.0]
        self.maps = []
        self.since()
        self.now = self.last_session = None
        self.today, self.done = -math.inf, {}
        self.last = {}
        self.n = dict.fromkeys(self.place, 0)
        self.latest = {lift: [] for lift in self.place}
        for what, cells in events:
            getattr(self, what)(*cells)
        self.maps.append((self.T, self.c, self.Q))

    def level(self, lift):
        return MUSCLES + len(self.muscles) + 3 * self.place[lift]

    def start(self):
        v, k = self.v, self.k
        self.mean, self.cov = np.zeros(k), np.zeros(k)
        self.cov[FORM] = v["form_sd"] ** 2
        self.mean[COST], self.cov[COST] = v["cost"], v["cost_sd"] ** 2
        self.cov[CHECK_IN:MUSCLES] = np.square(v["check_in_sd"])
        self.cov[MUSCLES:MUSCLES + len(self.muscles)] = v["muscle_sd"] ** 2
        for lift in self.place:
            row = self.level(lift)
            self.mean[row + 1], self.cov[row + 1] = v["slope"], v["slope_sd"] ** 2
            self.cov[row + 2] = v["curve_b_sd"] ** 2

    def since(self):
        self.T, self.c, self.Q = np.eye(self.k), np.zeros(self.k), np.zeros((self.k, self.k))

    def then(self, T, c, Q):
        self.T, self.c, self.Q = T @ self.T, T @ self.c + c, T @ self.Q @ T.T + Q

    def moved(self, days):
        gap = 0.0 if self.now is None else days - self.now
        self.now = days
        if gap <= 0:
            return
        v, k = self.v, self.k
        T, c, Q = np.eye(k), np.zeros(k), np.zeros((k, k))
        fade = [math.exp(-gap / days) for days in v["check_in_days"]]
        T[FORM, FORM] = math.exp(-gap / v["form_days"])
        T[ABSENCE, ABSENCE] = math.exp(-gap / REGAIN_DAYS)
        T[range(CHECK_IN, MUSCLES), range(CHECK_IN, MUSCLES)] = fade
        Q[FORM, FORM] = v["form_sd"] ** 2 * (1 - T[FORM, FORM] ** 2)
        Q[range(CHECK_IN, MUSCLES), range(CHECK_IN, MUSCLES)] = np.square(v["check_in_sd"]) * (1 - np.square(fade))
        rows = range(MUSCLES, MUSCLES + len(self.muscles))
        keep = np.array([math.exp(-gap / (DAYS.get(m, OTHER_DAYS) * v["slowness"])) for m in self.muscles])
        T[rows, rows] = keep
        region = [REGION.get(muscle, muscle) for muscle in self.muscles]
        alike = np.array([[1 if i == j else v["together"] * (a == b) for j, b in enumerate(region)]
                          for i, a in enumerate(region)])
        fresh = np.sqrt(1 - keep**2)
        Q[np.ix_(rows, rows)] = v["muscle_sd"] ** 2 * alike * np.outer(fresh, fresh)
        slope_keep = math.exp(-gap / v["slope_days"])
        slope_days = v["slope_days"] * (1 - slope_keep)
        tilt = v["slope_variance_per_day"]
        for lift in self.place:
            row = self.level(lift)
            T[row, row + 1], T[row + 1, row + 1] = slope_days, slope_keep
            c[row], c[row + 1] = v["lasting_slope"] * np.array([gap - slope_days, 1 - slope_keep])
            Q[row:row + 2, row:row + 2] = [[v["drift"] ** 2 * gap + tilt * gap**3 / 3, tilt * gap**2 / 2],
                                           [tilt * gap**2 / 2, tilt * gap]]
            Q[row + 2, row + 2] = v["curve_drift"] ** 2 * gap
        self.then(T, c, Q)

    def entered(self, days):
        self.moved(days)
        if math.floor(days) > self.today:
            self.today, self.done = math.floor(days), {}
        away = 0.0 if self.last_session is None else days - self.last_session - AWAY_DAYS
        if away > 0:
            c, Q = np.zeros(self.k), np.zeros((self.k, self.k))
            c[ABSENCE], Q[ABSENCE, ABSENCE] = -LOST_PER_DAY_AWAY * away, (DOUBT_PER_DAY_AWAY * away) ** 2
            self.then(np.eye(self.k), c, Q)
        self.last_session = days

    def observed(self, y, design, noise, counted, log_jacobian):
        self.maps.append((self.T, self.c, self.Q))
        self.since()
        self.y.append(y)
        self.design.append(design)
        self.noise.append(noise)
        self.counted.append(counted)
        self.log_jacobian.append(log_jacobian)

    def check_in(self, days, *items):
        self.moved(float(days))
        for item, told in enumerate(items):
            if told != "-":
                self.observed(float(told), np.eye(self.k)[CHECK_IN + item], CHECK_IN_NOISE[item], False, 0.0)

    def work(self, lift, days, hard_sets):
        self.entered(float(days))
        T = np.eye(self.k)
        for muscle, weight in self.lifts[self.place[lift]][2].items():
            before = self.done.get(muscle, 0.0)
            after = self.done[muscle] = before + weight * float(hard_sets)
            T[MUSCLES + self.muscles.index(muscle), COST] = -(math.log2(1 + after) - math.log2(1 + before))
        self.then(T, np.zeros(self.k), np.zeros((self.k, self.k)))

    def lead(self, lift, days, kg, reps, reserve):
        days, kg, v = float(days), float(kg), self.v
        self.entered(days)
        row = self.level(lift)
        left_out = self.now - self.last.get(lift, self.now) - AWAY_DAYS
        if left_out > 0:
            Q = np.zeros((self.k, self.k))
            Q[row, row] = (LEFT_OUT_PER_DAY * left_out) ** 2
            self.then(np.eye(self.k), np.zeros(self.k), Q)
        y, n, noise, log_jacobian = measured(v, kg, int(reps), reserve)
        b = v["curve_b"]
        if self.n[lift] > 0:
            n = min(max((math.exp(without_extremes(self.latest[lift])) / kg - 1) / b, 0.0), 20.0)
        _, scatter, weights = self.lifts[self.place[lift]]
        design = np.zeros(self.k)
        design[[FORM, ABSENCE, row]] = 1
        design[CHECK_IN:MUSCLES] = v["effects"]
        for muscle, weight in weights.items():
            design[MUSCLES + self.muscles.index(muscle)] = weight / sum(weights.values())
        design[row + 2] = -b * n / (1 + b * n)
        self.observed(y, design, scatter**2 + noise, self.n[lift] > 0, log_jacobian)
        self.n[lift] += 1
        self.last[lift] = days
        self.latest[lift] = [*self.latest[lift], y][-SHOWN_SETS:]

    def filter(self):
        """statsmodels' filter on the arrays, prepared and not yet run; levels start exactly diffuse."""
        model = KalmanFilter(k_endog=1, k_states=self.k)
        model.bind(np.array(self.y)[:, None])
        model.tolerance = 0
        T, c, Q = (np.stack(one, axis=-1) for one in zip(*self.maps))
        model["transition"], model["state_intercept"], model["state_cov"] = T, c, Q
        model["selection"] = np.eye(self.k)
        model["design"] = np.stack(self.design, axis=-1)[None]
        model["obs_cov"] = np.array(self.noise)[None, None]
        start = Initialization(self.k)
        levels = [self.level(lift) for lift in self.place]
        for row in range(self.k):
            if row in levels:
                start.set(row, "diffuse")
            else:
                start.set(row, "known", constant=[self.mean[row]], stationary_cov=[[self.cov[row]]])
        model.initialization = start
        return model

    def log_likelihood(self, result):
        """Of the repetitions of every lead set but each lift's first."""
        return float(np.sum(result.llf_obs[self.counted] + np.array(self.log_jacobian)[self.counted]))


def measured(v, kg, reps, reserve):
    """y, repetitions to failure, variance beside scatter, ln(dy/dn) of a set."""
    told = not reserve.startswith("?")
    left = float(reserve.lstrip("?"))
    n = reps + left
    sd = 0.0 if told and left == 0 else (0.75 + 0.2 * left) * (1 + 0.19 * max(n - 12, 0))
    reserve_variance = sd**2 + (0 if told else 1.5**2)
    curve_variance = (0.029 * max(n - 15, 0)) ** 2
    slope = v["curve_b"] / (1 + v["curve_b"] * n)
    from_reserve = v["reserve_share"] * slope**2 * reserve_variance
    if reps == 1 and told and left == 0:
        n, slope = 0.0, v["curve_b"]
    noise = slope**2 / 12 + from_reserve + curve_variance
    return math.log(kg * (1 + v["curve_b"] * n)), n, noise, math.log(slope)
