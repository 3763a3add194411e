// The page's arithmetic against the vectors that the engine's was written into.

import assert from 'node:assert/strict';
import test from 'node:test';

import { ease } from '../../assets/floor/ease.js';
import { beliefOf, learn, read, setOf, shown } from '../../assets/floor/session.js';
import { dayIn, vectors } from './day.mjs';

const { session } = vectors;
const close = (got, wanted, what) => assert.ok(Math.abs(got - wanted) <= 1e-9 * Math.max(1, Math.abs(wanted)), `${what}: ${got}, not ${wanted}`);
const liftAt = (place) => session.lifts.find((lift) => lift.place === place);
const setFrom = (set) => ({ kg: set.moved_kg, reps: set.reps, reserve: set.reserve, told: set.is_told });

function after(done) {
  const belief = beliefOf(session);
  for (const set of done) learn(session, belief, liftAt(set.place), setFrom(set));
  return belief;
}

test('a set shows what the vectors say', () => {
  assert.ok(vectors.sets.length > 100);
  for (const { set, log_shown: log, noise } of vectors.sets) {
    const seen = shown(session, liftAt(set.place), setFrom(set));
    close(seen.log, log, 'log shown');
    close(seen.noise, noise, 'noise');
  }
});

test('a lead set is read as the vectors say, also after others', () => {
  let told = 0;
  for (const { done, set, p_shortfall: p, p_by_mixture: mixture, call } of vectors.readings) {
    const reading = read(session, after(done), liftAt(set.place), setFrom(set));
    if (call === 'no reading' && !reading) continue;
    close(reading.p, p, 'P(shortfall)');
    close(reading.pMixture, mixture, 'by the mixture');
    told += 1;
  }
  assert.ok(told > 200);
});

test('later lifts learn as the vectors say', () => {
  for (const { done, mean, covariance } of vectors.updates) {
    const belief = after(done);
    mean.forEach((wanted, i) => close(belief.mean[i], wanted, `mean ${i}`));
    covariance.forEach((row, i) => row.forEach((wanted, j) => close(belief.covariance[i][j], wanted, `covariance ${i} ${j}`)));
  }
});

test('a set of which nothing was told has the planned reserve', () => {
  const lift = liftAt(0);
  assert.deepEqual(setOf(lift, 100, 5, null), { kg: 100, reps: 5, reserve: lift.reserve, told: false });
  assert.deepEqual(setOf(lift, 100, 5, 0), { kg: 100, reps: 5, reserve: 0, told: true });
  assert.equal(shown(session, lift, setOf(lift, 100, 15, 6)), null, 'too long to be read');
});

test('speed work moves 60 to 70 % of today and never more than 85 % of the lead set', () => {
  const [lift] = dayIn('kg', 1).lifts;
  const { moved_kg: moved } = session.lifts[0];
  const usual = ease(lift, { moved, oneRm: moved }, 3).speed;
  assert.equal(usual.sets, 2);
  assert.equal(usual.reps, 3);
  assert.ok(usual.rung.kg >= 0.6 * moved && usual.rung.kg <= 0.7 * moved, `${usual.rung.kg}`);
  const strong = ease(lift, { moved, oneRm: 2 * moved }, 3).speed;
  assert.ok(strong.rung.kg <= 0.85 * moved + 0.01, `${strong.rung.kg}`);
  assert.deepEqual([2, 4, 5, 9].map((left) => ease(lift, { moved, oneRm: moved }, left).speed.sets), [2, 2, 3, 3]);
  for (const [change, left] of [[{}, 0], [{}, 1], [{ no_speed: 'Why' }, 3]]) {
    assert.ok(ease({ ...lift, ...change }, { moved, oneRm: moved }, left).leave, `${left}`);
  }
  assert.ok(ease(lift, { moved: 0.4 * moved, oneRm: 0.5 * moved }, 3).leave.includes('too heavy'));
  // What the body weighs is moved too: the load is what is left of it.
  const body = dayIn('kg', 1, 40).lifts[0];
  const loaded = ease(body, { moved, oneRm: moved }, 3).speed.rung.kg;
  assert.ok(loaded + 40 >= 0.6 * moved && loaded + 40 <= 0.7 * moved, `${loaded}`);
});
