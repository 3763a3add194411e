// What the desk couldn't take: each with its reason, to be put right or taken back. One question about the day
// stands for all sets of which it isn't clear when they were done.

import { button, make } from './elements.js';
import { stepper } from './forms.js';
import * as words from './words.js';

/** The box, or null where there is nothing to put right. `page` gives the day, the drafts and the acts. */
export function refusedBox(page) {
  const all = page.outbox.unsettled();
  const asked = all.filter((one) => one.asks === 'when');
  const others = all.filter((one) => one.asks !== 'when');
  if (all.length === 0) return null;
  return make('section', { class: 'refused-box', 'aria-label': 'What the desk could not take' },
    asked.length > 0 ? question(asked, page) : null,
    others.length > 0 ? make('h2', { text: 'The desk could not take this' }) : null,
    others.map((one) => item(one, page)));
}

/** On which day something was that two clocks can't tell. */
function question(asked, page) {
  const draft = page.mending.get('day') ?? page.day.date;
  const answer = () => {
    page.mending.delete('day');
    for (const { message } of asked) page.outbox.mend(message.id, message.kind, again(message, draft));
    page.draw();
  };
  return make('div', { role: 'group', 'aria-label': 'On which day was this done?' },
    make('h2', { text: 'On which day was this done?' }),
    make('ul', {}, asked.map(({ message }) => make('li', { text: words.entry(message, page.day) }))),
    make('p', { text: `The desk asks: ${words.quoted(asked[0].reason)}.` }),
    make('label', { for: 'in-asked-day', text: 'Day' }),
    make('input', {
      id: 'in-asked-day', key: 'asked-day', type: 'date', value: draft,
      on: { change: (event) => { if (event.target.value) page.mending.set('day', event.target.value); } },
    }),
    button('It was on that day', 'asked-tell', answer, { class: 'main' }),
    button(asked.length === 1 ? 'Take it back' : 'Take them all back', 'asked-back', () => {
      for (const { message } of asked) page.outbox.add('undo', { of: message.id });
      page.draw();
    }, { class: 'plain' }));
}

/** The message anew, done at `when`: what the phone noted of the old one is left out. */
function again(message, when, change = {}) {
  const { id, kind, logged, at, refused, sent, ...said } = message;
  return { ...said, when, ...change };
}

function item(one, page) {
  const { message, reason } = one;
  return make('div', { class: 'refused-one' },
    make('p', {}, make('strong', { text: words.entry(message, page.day) }), `: ${words.quoted(reason)}.`),
    form(one, page),
    button('Take it back', `back-${message.id}`, () => { page.outbox.add('undo', { of: message.id }); page.draw(); }, { class: 'plain' }));
}

/** The form that logs it once more; null where taking it back is all that can be done. */
function form({ message }, page) {
  const { id, kind } = message;
  const draft = { load: message.load ?? 0, reps: message.reps ?? 1, text: message.text ?? '', ...page.mending.get(id) };
  const change = (part) => {
    page.mending.set(id, { ...draft, ...part });
    setTimeout(() => page.refresh()); // later, so that a key which leaves the field moves the focus first
  };
  const mend = (body) => {
    page.mending.delete(id);
    page.outbox.mend(id, kind, body);
    page.draw();
  };
  const submit = (body) => ({ submit: (event) => { event.preventDefault(); mend(body()); } });
  if (kind === 'note') {
    // The field holds the draft itself, so that nothing is drawn anew while somebody types.
    const body = () => ({ ...again(message, undefined), text: (page.mending.get(id)?.text ?? draft.text).trim() });
    return make('form', { class: 'note-form', on: submit(body) },
      make('label', { for: `in-${id}`, text: 'Write it otherwise' }),
      make('textarea', {
        id: `in-${id}`, key: id, rows: 3, maxlength: 2000,
        on: { input: (event) => page.mending.set(id, { ...draft, text: event.target.value }) },
      }, draft.text),
      make('button', { type: 'submit', key: `mend-${id}`, text: 'Keep the note' }));
  }
  if ((kind !== 'set' && kind !== 'correct') || (kind === 'set' && !message.lift)) return null;
  const unit = message.unit ?? page.day.unit;
  const numbers = { load: draft.load, reps: draft.reps };
  // A set stands where it was done; a correction has no time of its own.
  const body = () => again(message, kind === 'set' ? whenOf(message) : undefined, numbers);
  return make('form', { class: 'entry', on: submit(body) },
    stepper({
      label: `Load in ${unit}`, key: `load-${id}`, value: draft.load, lower: 'Less load', higher: 'More load',
      step: (way) => Math.round((draft.load + way * 2.5) * 100) / 100, set: (load) => change({ load }),
    }),
    stepper({
      label: 'Reps', key: `reps-${id}`, value: draft.reps, lower: 'One rep less', higher: 'One rep more',
      step: (way) => Math.max(1, draft.reps + way), set: (reps) => change({ reps: Math.max(1, Math.round(reps)) }),
    }),
    make('button', {
      type: 'submit', class: 'main', key: `mend-${id}`,
      text: `Log ${words.load(draft.load, unit)} × ${draft.reps} instead`,
    }));
}

/** When a set was done: by the desk's clock if it has said so, or else by this phone's, as local time. */
function whenOf(message) {
  if (message.at) return message.at;
  const then = new Date(message.logged - new Date(message.logged).getTimezoneOffset() * 60000);
  return then.toISOString().slice(0, 19);
}
