// The small forms of the page: steppers, rows of choices, pain, check-in, notes.

import { button, make } from './elements.js';
import * as words from './words.js';

/** A number between two large buttons; can be typed as well. `step` gives the next value on either side. */
export function stepper({ label, key, value, step, set, lower, higher, below }) {
  const take = (event) => {
    const typed = Number(event.target.value.replace(',', '.'));
    if (event.target.value.trim() !== '' && Number.isFinite(typed)) set(typed);
    else set(value);
  };
  return make('div', { class: 'stepper' },
    make('label', { for: `in-${key}`, text: label }),
    make('div', { class: 'stepper-row' },
      button('−', `${key}-less`, () => set(step(-1)), { 'aria-label': lower }),
      make('input', {
        id: `in-${key}`, key, type: 'text', inputmode: 'decimal', autocomplete: 'off',
        value: words.number(value), on: { change: take },
      }),
      button('+', `${key}-more`, () => set(step(1)), { 'aria-label': higher })),
    below ? make('p', { class: 'plates', text: below }) : null);
}

/** One choice of a few, as a row of buttons that radio inputs carry. */
export function choices({ legend, key, options, value, set }) {
  return make('fieldset', { class: 'choices' },
    make('legend', { text: legend }),
    make('div', { class: 'choice-row' }, options.map(([text, option, spoken]) => make('label', {},
      make('input', {
        type: 'radio', name: key, key: `${key}-${text}`, checked: option === value,
        'aria-label': spoken ?? null, on: { change: () => set(option) },
      }),
      make('span', { text })))));
}

const RATINGS = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10];

/** A button for every rating of a joint. */
export function ratings(day, joint, key, tell) {
  return make('div', { class: 'choice-row' }, RATINGS.map((n) =>
    button(String(n), `${key}-rate-${n}`, () => tell(n),
      { 'aria-label': `Pain in the ${words.joint(day, joint)}, ${n} of 10` })));
}

/** Pain in two taps: the joint, then the rating. */
export function painForm({ day, joints, key, chosen, choose, tell }) {
  const others = day.joints.map((joint) => joint.key).filter((joint) => !joints.includes(joint));
  const shown = chosen === 'others' ? [...joints, ...others] : joints;
  const pick = (joint) => button(words.joint(day, joint), `${key}-${joint}`,
    () => choose(chosen === joint ? null : joint), { 'aria-pressed': String(chosen === joint) });
  const rating = chosen && chosen !== 'others'
    ? make('div', { class: 'ratings' },
      make('p', { text: `Pain in the ${words.joint(day, chosen)}: 0 none, 10 the worst imaginable` }),
      ratings(day, chosen, key, (rating) => tell(chosen, rating)))
    : null;
  return make('div', { class: 'pain', role: 'group', 'aria-label': 'Pain' },
    make('p', { class: 'pain-ask', text: 'Pain?' }),
    make('div', { class: 'joint-row' }, shown.map(pick),
      chosen === 'others' ? null : button('another joint', `${key}-others`, () => choose('others'))),
    rating);
}

/** The optional check-in before the session. */
export function checkInForm({ told, draft, change, tell, undo }) {
  if (told) {
    const items = [
      told.sleep_h !== null ? `slept ${words.number(told.sleep_h)} h` : null,
      told.stress !== null ? `stress ${told.stress} of 7` : null,
      told.soreness !== null ? `soreness ${told.soreness} of 7` : null,
    ].filter(Boolean).join(', ');
    return make('p', { class: 'told' }, `Check-in: ${items}. `, button('Take back', 'check-in-undo', undo, { class: 'plain' }));
  }
  const scale = [1, 2, 3, 4, 5, 6, 7].map((n) => [String(n), n]);
  const empty = draft.sleep === null && draft.stress === null && draft.soreness === null;
  // Noted at the click: a toggle event comes later, and the page may have been drawn anew by then.
  const noted = (event) => { draft.open = !event.currentTarget.parentElement.open; };
  return make('details', { class: 'check-in', open: draft.open },
    make('summary', { key: 'check-in-open', text: 'Check-in (optional)', on: { click: noted } }),
    stepper({
      label: 'Hours slept', key: 'sleep', value: draft.sleep ?? 7.5, lower: 'Half an hour less', higher: 'Half an hour more',
      step: (way) => Math.min(24, Math.max(0, (draft.sleep ?? 7.5) + way / 2)),
      set: (value) => change({ sleep: Math.min(24, Math.max(0, value)) }),
    }),
    choices({ legend: 'Stress, 1 best to 7 worst', key: 'stress', options: scale, value: draft.stress, set: (stress) => change({ stress }) }),
    choices({ legend: 'Muscle soreness, 1 best to 7 worst', key: 'soreness', options: scale, value: draft.soreness, set: (soreness) => change({ soreness }) }),
    button('Tell the desk', 'check-in-tell', tell, { class: 'main', disabled: empty }));
}

/** A note of some lines. */
export function noteForm({ key, label, draft, change, tell }) {
  return make('div', { class: 'note-form' },
    make('label', { for: `in-${key}`, text: label }),
    make('textarea', {
      id: `in-${key}`, key, rows: 2, maxlength: 2000, on: { input: (event) => change(event.target.value, event) },
    }, draft),
    button('Keep the note', `${key}-tell`, tell));
}
