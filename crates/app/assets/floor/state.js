// The state of a session, made anew from the card and the messages: what the desk has, then what is still on
// this phone. Nothing else is remembered, so two phones that have the same messages show the same session.

import { ease, onOwnCurve } from './ease.js';
import { newestRatings, stopOf } from './pain.js';
import { oneRmOf, remaining } from './remaining.js';
import { beliefOf, forecast, isHalfMissing, learn, read, setOf } from './session.js';
import * as words from './words.js';

/** b of Epley's load–rep curve, for lifts without a record. */
const EPLEY_B = 1 / 30;

/** The session as it stands. `messages` are in order; each has `id`, `kind` and what its kind needs. */
export function stateOf(day, messages) {
  const undone = new Set(messages.filter((m) => m.kind === 'undo').map((m) => m.of));
  const standing = messages.map((message, place) => ({ ...message, place }))
    .filter((m) => !undone.has(m.id) && m.kind !== 'undo');
  // A correction that the desk couldn't take changes nothing, here as there.
  const corrected = new Map(standing.filter((m) => m.kind === 'correct' && !m.refused).map((m) => [m.of, m]));
  const session = {
    lifts: day.lifts.map((plan) => emptyLift(plan)),
    ratings: newestRatings(day, standing),
    notes: [],
    checkIn: null,
    finished: false,
  };
  const belief = day.session ? beliefOf(day.session) : null;
  for (const lift of session.lifts) lift.forecast = forecastOf(day, belief, lift);
  for (const message of standing) apply(day, session, belief, message, corrected);
  for (const lift of session.lifts) settle(day, session, belief, lift);
  return session;
}

function emptyLift(plan) {
  return {
    plan,
    name: plan.name,
    alternative: null,
    swapId: null,
    sets: [],
    added: 0,
    skipped: null,
    call: null,
    decision: null,
    stop: null,
    next: null,
    then: null,
    held: null,
    forecast: null,
    moved: false,
  };
}

function apply(day, session, belief, message, corrected) {
  const liftOf = (name) => session.lifts.find((lift) => lift.name === name || lift.plan.name === name);
  switch (message.kind) {
    case 'set': {
      const lift = liftOf(message.lift);
      if (lift) addSet(day, session, belief, lift, message, corrected.get(message.id));
      break;
    }
    case 'pain': // counted beforehand: see pain.js
      break;
    case 'check-in':
      session.checkIn = message;
      break;
    case 'decision': {
      const lift = liftOf(message.lift);
      if (lift && isStillOf(lift, message, corrected)) lift.decision = message;
      break;
    }
    case 'note':
      session.notes.push(message);
      break;
    case 'swap': {
      const lift = liftOf(message.lift);
      if (lift && lift.sets.length === 0) {
        lift.alternative = day.alternatives[message.with] ?? null;
        lift.name = message.with;
        lift.swapId = message.id;
        lift.forecast = forecastOf(day, belief, lift);
        lift.moved = false;
      }
      break;
    }
    case 'skip': {
      const lift = liftOf(message.lift);
      if (lift) lift.skipped = message;
      break;
    }
    case 'add': {
      const lift = liftOf(message.lift);
      if (lift) lift.added += 1;
      break;
    }
    case 'finish':
      session.finished = message;
      break;
    default: // a newer page's kind
  }
}

function addSet(day, session, belief, lift, message, correction) {
  const said = correction ?? message;
  const done = {
    id: message.id,
    load: said.load,
    reps: said.reps,
    rir: said.rir,
    kind: message.set_kind ?? 'work',
    at: message.at ?? null,
    sent: message.sent ?? false,
    refused: message.refused ?? null,
    corrected: Boolean(correction),
  };
  const leads = done.kind !== 'speed' && !lift.sets.some((set) => set.kind !== 'speed');
  lift.sets.push(done);
  if (!leads) return;
  lift.call = callOf(day, belief, lift, done);
  if (lift.call.learnt) {
    learn(day.session, belief, sessionLift(day, lift), lift.call.set);
    for (const other of session.lifts) {
      if (other.sets.length > 0 || other === lift) continue;
      const next = forecastOf(day, belief, other);
      other.moved = Boolean(other.forecast && next
        && Math.round(other.forecast.likely) !== Math.round(next.likely)) || other.moved;
      other.forecast = next;
    }
  }
}

/** Whether a decision is about the lead set as it stands: not one that was undone since, nor one with other numbers. */
function isStillOf(lift, decision, corrected) {
  const lead = lift.sets.find((set) => set.kind !== 'speed');
  if (!lead) return false;
  const correction = corrected.get(lead.id);
  return !correction || correction.place < decision.place;
}

/** What the lead set of a lift is planned as: by the card, or by its own record if it was swapped in. */
export function planOf(lift) {
  return lift.alternative?.plan ?? lift.plan;
}

/** Where the session's numbers have a lift; a lift that was swapped in stands where it came in. */
function sessionLift(day, lift) {
  const lifts = day.session?.lifts ?? [];
  if (lift.name === lift.plan.name) return lifts.find((known) => known.name === lift.name) ?? null;
  const place = lift.plan.places[lift.name] ?? null;
  return lifts.find((known) => known.place === place) ?? null;
}

function forecastOf(day, belief, lift) {
  const known = belief && sessionLift(day, lift);
  if (!known) return null;
  const { lead, lead_rir: reserve } = planOf(lift);
  return forecast(day.session, belief, known, setOf(known, known.moved_kg, lead.reps, reserve));
}

/** What a lead set says: the call by the numbers, before pain is looked at. */
function callOf(day, belief, lift, done) {
  const plan = planOf(lift);
  const known = belief && sessionLift(day, lift);
  const isNew = lift.name !== lift.plan.name && !lift.alternative?.plan;
  const kg = known ? known.moved_kg + (done.load - plan.load) * day.unit_kg : 0;
  const set = known && kg > 0 && !isNew ? setOf(known, kg, done.reps, done.rir) : null;
  const reading = set ? read(day.session, belief, known, set) : null;
  const seen = reading ? forecast(day.session, belief, known, set) : null;
  const asPlanned = isNew || done.load >= plan.load;
  const farBelow = seen ? seen.isFarBelow : asPlanned && isHalfMissing(done.reps, plan.lead.reps);
  const none = (why, learnt = false) => ({
    word: 'no reading', why: words.withReason(why, farBelow), set, learnt, reps: done.reps, farBelow,
  });
  if (isNew) {
    return none(`Nothing of it was on record, so this set can't be held against anything: it starts the record of ${lift.name}.`);
  }
  if (!known) return none(plan.gauge_reason);
  if (!known.is_read) return none(plan.gauge_reason, Boolean(set));
  if (!reading) return none('More than 20 repetitions to failure: too long a set to be read.');
  if (!reading.isReadable) {
    return none('The load is too far from those on record: a set with it says little about the trend.', true);
  }
  const limit = day.session.threshold;
  const call = {
    word: reading.p > limit ? 'ease' : 'go on',
    p: reading.p,
    limit,
    oneRm: onOwnCurve(day.session, plan, reading.capacity, set),
    forecast: seen,
    set,
    learnt: true,
    reps: done.reps,
    farBelow,
  };
  return { ...call, why: words.why(call, plan, day) };
}

/** What pain stops a lift by: its own name and joints, or those of the lift in its place. */
export function underPain(lift) {
  return { name: lift.name, plain_joints: (lift.alternative ?? lift.plan).plain_joints };
}

/** Pain first, then what is next in a lift. */
function settle(day, session, belief, lift) {
  lift.stop = stopOf(day, session.ratings, underPain(lift));
  const work = lift.sets.filter((set) => set.kind !== 'speed');
  const speed = lift.sets.filter((set) => set.kind === 'speed');
  lift.lead = work[0] ?? null;
  lift.eases = isEased(lift);
  if (lift.eases) {
    const remaining = lift.plan.sets - 1;
    lift.then = lift.call.oneRm
      ? ease(planOf(lift), { moved: lift.call.set.kg, oneRm: oneRmAfter(lift) }, remaining)
      : { leave: 'Leave out the remaining sets.' };
  }
  if (lift.call?.farBelow && !lift.eases) lift.held = heldSets(day, lift);
  if (lift.stop || lift.skipped || session.finished) return;
  lift.next = nextSet(lift, work, speed);
}

/** Today's 1RM after a lead set: no more than it alone shows where it lies far below, so that worse sets are followed by lighter ones. */
function oneRmAfter({ lead, call, plan, alternative }) {
  if (!call.farBelow) return call.oneRm;
  const b = (alternative?.plan ?? plan).own_curve_b;
  return Math.min(call.oneRm, oneRmOf({ moved: call.set.kg, reps: lead.reps, reserve: lead.rir ?? 0, b }));
}

/** The sets that remain after a lead set far below, taken at its word; the plan's are overtaken. */
function heldSets(day, lift) {
  const { lead, alternative } = lift;
  const plan = planOf(lift);
  const own = alternative && !alternative.plan;
  const rungs = own ? alternative.loads.map((load) => ({ load, kg: load * day.unit_kg })) : plan.rungs;
  const body = own ? alternative.body_kg : plan.body_kg;
  const b = own ? EPLEY_B : plan.own_curve_b;
  const planned = (alternative ? lift.plan.remaining.map(() => plan.lead) : plan.remaining).map((set) => {
    const load = alternative ? lead.load : Number.parseFloat(set.load ?? lead.load);
    return { load, kg: load * day.unit_kg, reps: set.reps };
  });
  const moved = body + lead.load * day.unit_kg;
  return remaining({ rungs, body_kg: body }, { moved, reps: lead.reps, reserve: lead.rir ?? 0, b }, planned);
}

function isEased(lift) {
  if (!lift.call) return false;
  if (lift.decision) return lift.decision.instead === 'ease';
  return lift.call.word === 'ease';
}

function nextSet(lift, work, speed) {
  const plan = planOf(lift);
  if (lift.eases) {
    const planned = lift.then?.speed;
    const left = (planned?.sets ?? 0) + lift.added - speed.length;
    if (!planned && lift.added > speed.length) {
      return { kind: 'work', load: work.at(-1).load, reps: plan.lead.reps, left: lift.added - speed.length };
    }
    if (!planned || left <= 0) return null;
    return { kind: 'speed', load: planned.rung.load, reps: planned.reps, left };
  }
  const last = work.at(-1);
  if (lift.held) {
    const left = lift.held.length + lift.added - (work.length - 1);
    const next = lift.held[work.length - 1] ?? lift.held.at(-1);
    if (left <= 0 || !next) return null;
    return { kind: 'work', load: Math.min(next.load, last.load), reps: next.reps, left };
  }
  const left = lift.plan.sets + lift.added - work.length;
  if (left <= 0) return null;
  const load = last?.load ?? lift.alternative?.load ?? lift.plan.load;
  // A programme may have later sets of another load or count than those before.
  const sets = [lift.plan.lead, ...lift.plan.remaining];
  const planned = lift.alternative ? null : sets[work.length];
  const changes = planned && last && planned.load !== sets[work.length - 1].load;
  return {
    kind: 'work',
    load: changes ? Number.parseFloat(planned.load) : load,
    reps: planned?.reps ?? plan.lead.reps,
    left,
  };
}
