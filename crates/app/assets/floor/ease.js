// What follows an eased lead set: speed work with a load that exists, or leaving the rest out. The same
// rules as the desk's, for a phone without a signal; sentences are the page's.

const BAND = [0.6, 0.7];
/** The most that speed work moves, as a share of what the lead set moved. */
const CEILING = 0.85;
const REPS = 3;
/** Two loads are one within this many kg: the desk's tolerance for plates. */
const TOLERANCE_KG = 0.01;

/**
 * What takes the place of `remaining` work sets: `{ speed: { sets, reps, rung } }` or `{ leave: why }`.
 * `moved` is the mass that the lead set moved in kg, `oneRm` is today's as that set has just shown it, as mass
 * moved in kg by the lift's own curve.
 */
export function ease(lift, { moved, oneRm }, remaining) {
  if (remaining <= 0) return { leave: 'No sets of it remain.' };
  if (lift.no_speed) return { leave: `${lift.no_speed}.` };
  if (remaining === 1) return { leave: 'Leave out the remaining set: only one is left.' };
  const [lower, middle, top, ceiling] = [
    oneRm * BAND[0], (oneRm * (BAND[0] + BAND[1])) / 2, oneRm * BAND[1], moved * CEILING,
  ].map((kg) => kg - lift.body_kg);
  const upper = Math.min(top, ceiling);
  const below = lift.rungs.filter((rung) => rung.kg <= upper + TOLERANCE_KG).at(-1);
  if (!below) {
    const lightest = lift.rungs[0];
    return { leave: `Leave out the remaining sets: even ${lightest.load} is too heavy for speed work today.` };
  }
  const nearest = nearestRung(lift.rungs, middle);
  const rung = nearest.kg >= lower && nearest.kg <= upper ? nearest : below;
  const sets = Math.min(Math.max(Math.ceil(remaining / 2), 2), 3);
  return { speed: { sets, reps: REPS, rung } };
}

/** The load nearest to `kg`, the lighter of two equally near. */
function nearestRung(rungs, kg) {
  return rungs.reduce((best, rung) =>
    (Math.abs(rung.kg - kg) < Math.abs(best.kg - kg) - 1e-9 ? rung : best));
}

/** Today's 1RM as mass moved in kg by the lift's own curve, from ln 1RM on the common one. */
export function onOwnCurve(session, lift, capacity, set) {
  const n = set.reps === 1 && set.reserve === 0 ? 0 : set.reps + set.reserve;
  return Math.exp(capacity) * ((1 + lift.own_curve_b * n) / (1 + session.curve_b * n));
}
