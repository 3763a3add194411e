// Sentences and numbers for people.

const NBSP = '\u00a0';

/** A probability in %, never a certainty. */
export function percent(p) {
  const rounded = Math.round(p * 100);
  if (rounded < 1) return `under 1${NBSP}%`;
  if (rounded > 99) return `over 99${NBSP}%`;
  return `${rounded}${NBSP}%`;
}

/** A load with its unit, at most two decimals. */
export function load(value, unit) {
  return `${number(value)}${NBSP}${unit}`;
}

export function number(value) {
  return String(Math.round(value * 100) / 100);
}

/** Repetitions in words. */
export function reps(n) {
  return n === 1 ? '1 rep' : `${n} reps`;
}

/** A count with its noun. */
export function count(n, one, many) {
  return `${n} ${n === 1 ? one : many}`;
}

/** Plates of a rung in words. */
export function plates(text) {
  if (!text) return '';
  return /^\d/.test(text) ? `${text} a side` : text;
}

/** A set in words: load, repetitions and what was left. */
export function set(done, unit) {
  const left = done.rir === null || done.rir === undefined ? '' : `, ${done.rir} left`;
  const kind = done.kind === 'speed' ? ', fast' : '';
  return `${load(done.load, unit)} × ${done.reps}${left}${kind}`;
}

/** What a lead set is likely to show. */
export function expected(f) {
  const [low, likely, high] = [f.low, f.likely, f.high].map(Math.round);
  return `${likely} likely, ${low} to ${high} eight times in ten`;
}

/** The time of day of an instant, as people here write it. */
export function clock(ms) {
  return new Date(ms).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit', hour12: false });
}

/** A day and time of day, as people here write it. */
export function moment(date) {
  return date.toLocaleString([], { dateStyle: 'medium', timeStyle: 'short', hour12: false });
}

const FAR_BELOW = 'So far below, look for another reason before going on: the load on the bar, technique, pain, health.';

/** A sentence, and after far too few repetitions that another reason is to be looked for. */
export function withReason(text, farBelow) {
  return farBelow ? `${text} ${FAR_BELOW}` : text;
}

/** The sets that remain after a lead set far below. */
export function held(sets, unit) {
  if (sets.length === 0) return 'Then leave out the remaining sets.';
  const alike = [];
  for (const set of sets) {
    const last = alike.at(-1);
    if (last && last.load === set.load && last.reps === set.reps) last.n += 1;
    else alike.push({ ...set, n: 1 });
  }
  const parts = alike.map(({ n, reps: r, load: l }) => `${n} × ${r} at ${load(l, unit)}`);
  return `Only if nothing is wrong: at most ${parts.join(', ')}.`;
}

/** Why a call was made, with its numbers. */
export function why(call, lift, day) {
  const f = call.forecast;
  const [low, likely, high] = [f.low, f.likely, f.high].map(Math.round);
  const told = `${reps(call.reps)} where ${likely} ${likely === 1 ? 'was' : 'were'} likely, `
    + `${low} to ${high} eight times in ten`;
  const muscles = lift.prime_movers;
  const under = `that it is more than ${day.shortfall_pct}${NBSP}% under its usual`;
  if (call.word === 'go on') {
    const calm = `${told}; ${percent(call.p)} ${under}, and the limit is ${percent(call.limit)}.`;
    return withReason(calm, call.farBelow);
  }
  const how = call.p > 0.5 ? 'probably' : 'possibly';
  const short = `${told}; ${muscles} ${how} not recovered: ${percent(call.p)} ${under}, above the limit of `
    + `${percent(call.limit)}.`;
  return withReason(short, call.farBelow);
}

/** A reason of the desk's, in which what was found stands in backticks. */
export function quoted(reason) {
  return reason.replace(/`([^`]*)`/g, '“$1”');
}

/** A message that the desk couldn't take, in words. */
export function entry(message, day) {
  // Of one that couldn't be read at all, nothing is known but its kind.
  const numbers = () => (Number.isFinite(message.load) ? set(message, message.unit ?? day.unit) : 'that can’t be read');
  switch (message.kind) {
    case 'set': return `${message.lift ?? 'A set'} ${numbers()}`;
    case 'correct': return `A correction ${Number.isFinite(message.load) ? 'to ' : ''}${numbers()}`;
    case 'note': return message.text ? `The note “${message.text}”` : 'A note that can’t be read';
    case 'pain': return `Pain of ${message.rating} in the ${joint(day, message.joint)}`;
    case 'check-in': return 'The check-in';
    case 'decision': return `Your decision on ${message.lift}`;
    case 'swap': return `${message.with} in the place of ${message.lift}`;
    case 'skip': return `${message.lift} left out`;
    case 'add': return `One more set of ${message.lift}`;
    case 'finish': return 'The end of the session';
    default: return `An entry of the kind “${message.kind}”`;
  }
}

/** A joint by its key. */
export function joint(day, key) {
  return day.joints.find((known) => known.key === key)?.label ?? key;
}
