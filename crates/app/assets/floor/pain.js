// The one rule about pain, as the desk has it (crates/engine/src/complaint.rs): a rating above the limit stands until
// a newer one of that joint lies at or below it, and stops the lifts that plainly load the joint. It finds no cause
// and clears nobody to train.

/**
 * The newest rating of each joint, by its key: what the desk had from elsewhere, then what this session says. Each
 * has `joint`, `rating`, `day` (in words, of those from elsewhere), the `id` and the `lift` of its message, and
 * whether it `answers` a complaint that stood before.
 */
export function newestRatings(day, messages) {
  const newest = new Map(day.ratings.map((known) => [known.joint, { ...known, id: null, lift: null, answers: false }]));
  for (const message of messages) {
    if (message.kind !== 'pain' || message.refused) continue;
    const known = newest.get(message.joint);
    // What waits on this phone has no time by the desk's clock yet: it is the newest.
    if (known?.id === null && message.at && message.at < known.at) continue;
    newest.set(message.joint, {
      joint: message.joint,
      rating: message.rating,
      at: message.at ?? null,
      day: null,
      id: message.id,
      lift: message.lift ?? null,
      answers: Boolean(known && (known.answers || (known.id === null && isAbove(known.rating, day.pain_limit)))),
    });
  }
  return newest;
}

/** Whether a rating stops lifts: the limit is the highest that doesn't. */
export function isAbove(rating, limit) {
  return rating > limit;
}

/** The complaints that stand, the worst first. */
export function complaints(day, ratings) {
  const standing = [...ratings.values()].filter((known) => isAbove(known.rating, day.pain_limit));
  return standing.sort((a, b) => b.rating - a.rating);
}

/**
 * The complaint that stops a lift, or null: one of a joint that it plainly loads, or one that was reported at this
 * very lift in this session, whatever the joint.
 */
export function stopOf(day, ratings, { name, plain_joints: plain }) {
  const stops = ({ joint, lift }) => plain.includes(joint) || (lift !== null && lift === name);
  return complaints(day, ratings).find(stops) ?? null;
}
