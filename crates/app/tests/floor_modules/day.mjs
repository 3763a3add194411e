// A session of an invented lifter for the tests, made of the numbers in the service's file of test vectors: what the
// page computes from it can be held against what the engine has computed.

import { readFileSync } from 'node:fs';

export const vectors = JSON.parse(readFileSync(process.env.SESSION_VECTORS
  ?? new URL('../../../service/tests/session_vectors/session-vectors.json', import.meta.url), 'utf8'));

/** An avoirdupois pound in kg, exactly: the international yard and pound agreement of 1959. */
export const LB = 0.45359237;

/** The day with loads in a unit; each lift moves `body` kg of the lifter besides its load. */
export function dayIn(unit, kg, body = 0) {
  const lifts = vectors.session.lifts.map((lift) => {
    const load = (lift.moved_kg - body) / kg;
    const rung = (share) => ({ load: (lift.moved_kg * share - body) / kg, kg: lift.moved_kg * share - body });
    const set = { load: `${load} ${unit}`, reps: 5 };
    return {
      name: lift.name, load, load_kg: lift.moved_kg - body, sets: 4, body_kg: body, has_chance: true, no_speed: null,
      lead: set, lead_rir: lift.reserve, remaining: [set, set, set], gauge_reason: 'read', prime_movers: 'muscles',
      rungs: [0.4, 0.5, 0.55, 0.6, 0.65, 0.7, 0.8, 0.9, 1].map(rung), own_curve_b: vectors.session.curve_b,
      joints: ['knee'], plain_joints: ['knee'], instead: ['other lift'], places: {}, warm_ups: [],
    };
  });
  return {
    lifter: 'Wilma Tarn', date: '2031-05-06', unit, unit_kg: kg, pain_limit: 5, shortfall_pct: 2, lifts,
    alternatives: { 'other lift': { equipment: 'bar', prime_movers: 'muscles', joints: ['knee'], plain_joints: ['knee'], body_kg: 0, load: 20, loads: [20], plan: null } },
    session: vectors.session, joints: [{ key: 'knee', label: 'knee' }], ratings: [], messages: [],
  };
}

let last = 0;

/** A message with an id of its own. */
export function message(kind, rest = {}) {
  last += 1;
  return { id: `m${last}`, kind, day: '2031-05-06', logged: 1000 * last, ...rest };
}
