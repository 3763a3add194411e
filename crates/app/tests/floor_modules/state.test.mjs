// The session made anew from card and messages: units, corrections, undoing, what the desk refused.

import assert from 'node:assert/strict';
import test from 'node:test';

import { stateOf } from '../../assets/floor/state.js';
import { dayIn, LB, message, vectors } from './day.mjs';

/** A set of the first lift as the page logs it. */
const set = (load, reps = 5, rest = {}) => message('set', { lift: vectors.session.lifts[0].name, load, unit: 'kg', reps, rir: 2, ...rest });
const first = (day, messages) => stateOf(day, messages).lifts[0];

for (const [unit, kg] of [['kg', 1], ['lb', LB]]) {
  test(`a call in ${unit} is the one of the vectors`, () => {
    const day = dayIn(unit, kg, 30);
    const fresh = vectors.readings.filter(({ done, call, set: { moved_kg: moved } }) => done.length === 0
      && call !== 'no reading' && vectors.session.lifts.every((lift) => moved !== lift.moved_kg));
    assert.ok(fresh.length > 5, 'loads beside the planned one');
    for (const { set: done, p_shortfall: p, call } of fresh) {
      const lift = vectors.session.lifts.find((known) => known.place === done.place);
      const said = message('set', {
        lift: lift.name, load: (done.moved_kg - 30) / kg, unit, reps: done.reps, rir: done.is_told ? done.reserve : null,
      });
      const got = stateOf(day, [said]).lifts.find((one) => one.name === lift.name).call;
      if (got.word === 'no reading') continue; // a load too far from those on record
      assert.equal(got.word, call);
      assert.ok(Math.abs(got.p - p) < 1e-9, `${done.moved_kg} kg: ${got.p}, not ${p}`);
    }
  });
}

test('loads, sets to come and speed work are in the unit of the card', () => {
  const [kg, lb] = [dayIn('kg', 1), dayIn('lb', LB)];
  const bad = (day) => first(day, [set(day.lifts[0].load, 1, { unit: day.unit, rir: 0 })]);
  const [one, other] = [bad(kg), bad(lb)];
  assert.equal(one.call.word, 'ease');
  assert.equal(other.call.word, 'ease');
  assert.equal(one.next.kind, 'speed');
  assert.ok(Math.abs(one.next.load - other.next.load * LB) < 1e-9);
});

test('a correction takes the place of a set, and the last one counts', () => {
  const day = dayIn('kg', 1);
  const done = set(day.lifts[0].load, 8);
  const fix = (reps) => message('correct', { of: done.id, load: day.lifts[0].load, unit: 'kg', reps, rir: 0 });
  const before = first(day, [done]);
  const after = first(day, [done, fix(7), fix(2)]);
  assert.deepEqual([after.sets.length, after.sets[0].reps, after.sets[0].rir, after.sets[0].corrected], [1, 2, 0, true]);
  assert.equal(after.call.reps, 2, 'the call is made of what was corrected');
  assert.ok(after.call.p > before.call.p);
  // Undone, the one before counts again; all undone, the set as it was.
  const [one, two] = [fix(7), fix(2)];
  assert.equal(first(day, [done, one, two, message('undo', { of: two.id })]).sets[0].reps, 7);
  const none = first(day, [done, one, two, message('undo', { of: two.id }), message('undo', { of: one.id })]);
  assert.deepEqual([none.sets[0].reps, none.sets[0].corrected], [8, false]);
  // One that the desk couldn't take changes nothing.
  assert.equal(first(day, [done, { ...fix(2), refused: 'no such set' }]).sets[0].reps, 8);
  // A corrected speed set stays one.
  const fast = set(50, 3, { set_kind: 'speed' });
  const correct = message('correct', { of: fast.id, load: 55, unit: 'kg', reps: 3, rir: null });
  assert.deepEqual(first(day, [done, fast, correct]).sets.map((one) => one.kind), ['work', 'speed']);
});

test('only the first set that is no speed work leads', () => {
  const day = dayIn('kg', 1);
  const { load } = day.lifts[0];
  const lift = first(day, [set(load / 2, 3, { set_kind: 'speed' }), set(load, 6), set(load, 1)]);
  assert.deepEqual([lift.lead.reps, lift.call.reps], [6, 6]);
});

test('what was undone is gone, and the next set leads', () => {
  const day = dayIn('kg', 1);
  const [one, two] = [set(day.lifts[0].load, 2), set(day.lifts[0].load, 9)];
  const lift = first(day, [one, two, message('undo', { of: one.id })]);
  assert.deepEqual(lift.sets.map((done) => done.id), [two.id]);
  assert.equal(lift.lead.id, two.id);
  assert.equal(lift.call.reps, 9);
  assert.equal(lift.next.left, 3);
  for (const kind of ['note', 'skip', 'add', 'finish', 'check-in', 'pain']) {
    const said = message(kind, { lift: day.lifts[0].name, text: 'x', instead: 'ease', call: 'go on', joint: 'knee', rating: 9 });
    assert.deepEqual(stateOf(day, [said, message('undo', { of: said.id })]), stateOf(day, []), kind);
    assert.notDeepEqual(stateOf(day, [said]), stateOf(day, []), kind);
  }
});

test('a decision is about the lead set that it was taken after', () => {
  const day = dayIn('kg', 1);
  const [one, two] = [set(day.lifts[0].load, 5), set(day.lifts[0].load, 6)];
  const ease = message('decision', { lift: day.lifts[0].name, call: 'go on', instead: 'ease' });
  const undone = message('undo', { of: one.id });
  const corrected = message('correct', { of: one.id, load: day.lifts[0].load, unit: 'kg', reps: 6, rir: null });
  assert.equal(first(day, [one, ease]).decision?.id, ease.id);
  assert.ok(first(day, [one, ease]).eases);
  assert.equal(first(day, [one, ease, undone]).decision, null);
  assert.equal(first(day, [one, ease, undone, two]).decision, null, 'another lead set is another matter');
  assert.equal(first(day, [one, ease, corrected]).decision, null, 'so is one with other numbers');
  assert.equal(first(day, [one, corrected, ease]).decision?.id, ease.id);
  assert.equal(first(day, [ease, one]).decision, null);
});

test('pain above the limit stops the lift, pain at the limit does not', () => {
  const day = dayIn('kg', 1);
  const told = (rating) => first(day, [message('pain', { joint: 'knee', rating })]);
  assert.equal(told(day.pain_limit).stop, null);
  assert.equal(told(day.pain_limit + 1).stop?.rating, day.pain_limit + 1);
  assert.equal(told(day.pain_limit + 1).next, null);
  // What the desk couldn't take says nothing, here as there.
  assert.equal(first(day, [message('pain', { joint: 'knee', rating: 9, refused: 'no such joint' })]).stop, null);
});

test('a refused set is shown with its reason', () => {
  const day = dayIn('kg', 1);
  const lift = first(day, [{ ...set(100), refused: 'too heavy', sent: true }]);
  assert.equal(lift.sets[0].refused, 'too heavy');
});
