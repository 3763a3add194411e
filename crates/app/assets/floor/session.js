// The arithmetic of a session without a signal: what a lead set shows, how probable a shortfall is after
// it, and what the later lifts' forecasts become. Exactly docs/card-data.md, whose steps are numbered here;
// draws nothing and knows nothing of the page.

/** Below this chance of so few repetitions or fewer, scatter is no likely reason: as the desk has it. */
const FAR_BELOW = 0.025;

/** Whether so few repetitions are less than half of so many, and at least two fewer. */
export function isHalfMissing(done, of) {
  return 2 * done < of && of - done >= 2;
}

/** The standard normal distribution function, by the series of Abramowitz & Stegun 1964, 26.2.11. */
export function normalBelow(z) {
  if (Math.abs(z) > 8) return z > 0 ? 1 : 0;
  let term = z;
  let sum = z;
  for (let odd = 3; Math.abs(term) > 1e-18; odd += 2) {
    term *= (z * z) / odd;
    sum += term;
  }
  return 0.5 + (sum * Math.exp((-z * z) / 2)) / Math.sqrt(2 * Math.PI);
}

/** A belief that may be changed: the card's numbers, copied. */
export function beliefOf(session) {
  return { mean: [...session.mean], covariance: session.covariance.map((row) => [...row]) };
}

/** Whether a set is one repetition with nothing left. */
function isSingle(set) {
  return set.reps === 1 && set.reserve === 0;
}

/**
 * A set as steps 1 to 6 need it: the mass moved in kg, repetitions, and the reserve, which is the planned one
 * if none was told (`rir` is null then).
 */
export function setOf(lift, kg, reps, rir) {
  const told = rir !== null && rir !== undefined;
  return { kg, reps, reserve: told ? rir : lift.reserve, told };
}

/** Step 1: what a set shows and the variance of its noise; null if it is too long to be read. */
export function shown(session, lift, set) {
  const toFailure = set.reps + set.reserve;
  if (toFailure > 20) return null;
  const n = isSingle(set) ? 0 : toFailure;
  const b = session.curve_b;
  const worth = b / (1 + b * n);
  const worthThere = b / (1 + b * toFailure);
  const sd = (0.75 + 0.2 * set.reserve) * (1 + 0.19 * Math.max(0, toFailure - 12));
  let error = set.told && set.reserve === 0 ? 0 : sd * sd;
  if (!set.told) error += 1.5 * 1.5;
  const long = 0.029 * Math.max(0, toFailure - 15);
  const counting = (worth * worth) / 12;
  const noise = lift.luck_variance + counting
    + session.reserve_share * worthThere * worthThere * error + long * long;
  return { log: Math.log(set.kg) + Math.log(1 + b * n), noise: Math.max(noise, 1e-10), counting };
}

/** Step 2: what a set of this mass was expected to show. */
function expectation(session, belief, lift, set) {
  const [c, u, eta] = [3 * lift.place, 3 * lift.place + 1, 3 * lift.place + 2];
  const [m, C] = [belief.mean, belief.covariance];
  const b = session.curve_b;
  const likely = Math.min(Math.max((Math.exp(lift.usual_shown) / set.kg - 1) / b, 0), 20);
  const lean = (b * likely) / (1 + b * likely);
  const varianceAt = (l) => C[c][c] - 2 * l * C[c][eta] + l * l * C[eta][eta];
  const variance = varianceAt(lean);
  return {
    mean: m[c] - lean * m[eta],
    variance,
    withUsual: C[u][c] - lean * C[u][eta],
    doubt: Math.max(variance - varianceAt(lift.usual_lean), 0),
    along: C.map((row) => row[c] - lean * row[eta]),
    usualMean: m[u],
    usualVariance: C[u][u],
  };
}

/** The likely set at a mass and reserve: the noise of a forecast is its. */
function likelySet(session, expected, set) {
  const reps = (Math.exp(expected.mean) / set.kg - 1) / session.curve_b - set.reserve
    + (isSingle(set) ? 1 : 0);
  const most = Math.max(1, Math.floor(20 - set.reserve));
  return { ...set, reps: Math.min(Math.max(1, Math.round(reps)), 20, most) };
}

/** Step 3: the variances of the two scales of noise, and how probable the wide one is after `v`. */
function scales(session, single, v, spread, noise) {
  const p = single ? 0 : session.freak_share;
  const usual = spread + noise;
  const wide = spread + session.freak_widening * session.freak_widening * noise;
  if (p <= 0) return { p, usual, wide, freak: 0 };
  const [a, b] = [(-v * v) / (2 * usual), (-v * v) / (2 * wide)];
  const most = Math.max(a, b);
  const g1 = ((1 - p) * Math.exp(a - most)) / Math.sqrt(usual);
  const g2 = (p * Math.exp(b - most)) / Math.sqrt(wide);
  return { p, usual, wide, freak: g2 / (g1 + g2) };
}

/** Step 4: P(shortfall) by the mixture. */
function byMixture(session, expected, single, v, spread, noise) {
  const { usual, wide, freak } = scales(session, single, v, spread, noise);
  const short = Math.log(1 - session.shortfall);
  const part = (variance, day) => {
    const k = expected.withUsual + day;
    const mean = expected.usualMean + (v * k) / variance;
    const left = Math.max(expected.usualVariance + day - (k * k) / variance, 1e-12);
    return normalBelow((short - mean) / Math.sqrt(left));
  };
  if (freak <= 0) return part(usual, 0);
  const ofDay = session.freak_of_day;
  return (1 - freak) * part(usual, 0)
    + freak * ((1 - ofDay) * part(wide, 0) + ofDay * part(wide, wide - usual));
}

/** Step 5: the same, kept in step: never less for a set that showed less. */
function inStep(session, single, v, spread, noise, at) {
  const here = at(v);
  const { p, usual, wide } = scales(session, single, 0, spread, noise);
  if (p <= 0 || v === 0) return here;
  const reach = 6 * Math.max(Math.sqrt((1 - p) * usual + p * wide), 1e-6);
  const passed = turns(v < 0 ? -1 : 1, reach, at)
    .filter(([turn]) => Math.abs(turn) < Math.abs(v)).map(([, there]) => there);
  return v < 0 ? Math.max(here, ...passed) : Math.min(here, ...passed);
}

/** Going from 0 to one side as far as is thinkable: where P(shortfall) turns back, and what it is there. */
function turns(side, reach, at) {
  const steps = 48;
  const step = (side * reach) / steps;
  const farther = (there, here) => side * (there - here) <= 0;
  const ps = Array.from({ length: steps + 1 }, (_, i) => at(i * step));
  const found = [];
  for (let i = 0; i < steps; i += 1) {
    if (farther(ps[i + 1], ps[i]) || (i > 0 && !farther(ps[i], ps[i - 1]))) continue;
    let near = Math.max(i - 1, 0) * step;
    let far = (i + 1) * step;
    for (let j = 0; j < 40; j += 1) {
      const one = near + (far - near) / 3;
      const other = far - (far - near) / 3;
      if (farther(at(other), at(one))) near = one;
      else far = other;
    }
    const turn = 0.5 * (near + far);
    found.push([turn, at(turn)]);
  }
  return [...found, [steps * step, ps[steps]]];
}

/**
 * Steps 1 to 5 for a lead set: P(shortfall), whether the load is one that is read, and capacity in the light
 * of the set (ln 1RM on the common curve). Null if it is too long to be read.
 */
export function read(session, belief, lift, set) {
  const seen = shown(session, lift, set);
  if (!seen) return null;
  const expected = expectation(session, belief, lift, set);
  const single = isSingle(set);
  const v = seen.log - expected.mean;
  const spread = expected.variance - expected.doubt;
  const noise = expected.doubt + shown(session, lift, likelySet(session, expected, set)).noise;
  const at = (x) => byMixture(session, expected, single, x, spread, noise);
  const { usual, wide, freak } = scales(session, single, v, spread, noise);
  return {
    pMixture: at(v),
    p: inStep(session, single, v, spread, noise, at),
    isReadable: expected.doubt <= lift.luck_variance,
    capacity: expected.mean + v * spread * ((1 - freak) / usual + freak / wide)
      + (v * freak * session.freak_of_day * (wide - usual)) / wide,
  };
}

/** Step 6: what all lifts' forecasts learn from a lead set; the belief is changed in place. */
export function learn(session, belief, lift, set) {
  const seen = shown(session, lift, set);
  if (!seen) return;
  const expected = expectation(session, belief, lift, set);
  const v = seen.log - expected.mean;
  const d = expected.along;
  const { usual, wide, freak } = scales(session, isSingle(set), v, expected.variance, seen.noise);
  const [s1, s2] = [1 / usual, 1 / wide];
  const t = (1 - freak) * s1 + freak * s2;
  const z = t - v * v * (1 - freak) * freak * (s1 - s2) * (s1 - s2);
  for (let i = 0; i < d.length; i += 1) {
    belief.mean[i] += v * t * d[i];
    for (let j = 0; j <= i; j += 1) {
      belief.covariance[i][j] -= z * d[i] * d[j];
      belief.covariance[j][i] = belief.covariance[i][j];
    }
  }
}

/**
 * What a lead set is likely to show at its mass and reserve: repetitions at the ends and the middle of the
 * interval that holds eight times in ten, the chance of at least `set.reps` of them, and whether `set.reps` is so
 * far below that something else than scatter is to be looked for.
 */
export function forecast(session, belief, lift, set) {
  const expected = expectation(session, belief, lift, set);
  const likely = shown(session, lift, likelySet(session, expected, set));
  const [single, b] = [isSingle(set), session.curve_b];
  const spread = expected.variance - expected.doubt;
  const parts = (noise) => {
    const { p, usual, wide } = scales(session, single, 0, spread, noise);
    return [[1 - p, Math.sqrt(usual)], [p, Math.sqrt(wide)]];
  };
  const below = (of, x) => of.reduce((sum, [share, sd]) => sum + share * normalBelow(x / sd), 0);
  const all = parts(expected.doubt + likely.noise);
  let [low, high] = [0, 4 * all[1][1] + 4 * all[0][1]];
  for (let i = 0; i < 60; i += 1) {
    const middle = (low + high) / 2;
    if (below(all, middle) < 0.9) low = middle;
    else high = middle;
  }
  const reps = (log) => Math.max(0, (Math.exp(log) / set.kg - 1) / b - set.reserve + (single ? 1 : 0));
  const half = (low + high) / 2;
  const uncounted = parts(Math.max(expected.doubt + likely.noise - likely.counting, 1e-12));
  const chanceOf = (count) => {
    const n = count - 0.5 + set.reserve - (single ? 1 : 0);
    return below(uncounted, expected.mean - Math.log(set.kg) - Math.log(Math.max(1 + b * n, 1e-6)));
  };
  const [least, middle] = [reps(expected.mean - half), reps(expected.mean)];
  return {
    low: least,
    likely: middle,
    isFarBelow: 1 - chanceOf(set.reps + 1) < FAR_BELOW || isHalfMissing(set.reps, middle),
    high: reps(expected.mean + half),
    chance: chanceOf(set.reps),
  };
}
