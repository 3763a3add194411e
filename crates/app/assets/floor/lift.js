// One lift of the session: what was done, the call and what follows, the next set, and everything that can go
// otherwise.

import { button, call, make, refill } from './elements.js';
import { choices, noteForm, painForm, ratings, stepper } from './forms.js';
import { stopOf } from './pain.js';
import { planOf } from './state.js';
import * as words from './words.js';

const RESERVES = [['0', 0], ['1', 1], ['2', 2], ['3', 3], ['4', 4], ['5+', 5, '5 or more'], ['not told', null]];

/** Draws one lift into its item. `page` gives the day, the drafts and the acts. */
export function drawLift(item, lift, page) {
  const heading = item.querySelector('h2');
  const open = page.isOpen(lift);
  refill(heading, make('button', {
    type: 'button', class: 'lift-open', key: 'open', 'aria-expanded': String(open),
    on: { click: () => page.toggle(lift) },
  }, make('span', { class: 'lift-name', text: lift.name }), make('span', { class: 'lift-state' }, stateOf(lift, page))));
  item.querySelector('.lift-body').hidden = !open;
  item.classList.toggle('is-done', !lift.next);
  item.querySelector('.stopped-now')?.remove(); // for reading without a script
  item.querySelector('.plan').hidden = Boolean(lift.stop) || Boolean(lift.alternative) || lift.sets.length > 0;
  const forecast = item.querySelector('.forecast');
  const text = forecastText(lift);
  if (text && forecast.textContent !== text) forecast.textContent = text;
  // A closed lift holds no fields, so that names in the page stay unique.
  refill(item.querySelector('.work'), open ? work(lift, page) : []);
}

function forecastText(lift) {
  // Where the desk tells nothing either, its reason stands there.
  if (!lift.forecast || !planOf(lift).expected) return null;
  const moved = lift.moved ? ' This has changed with what you did before.' : '';
  const chance = planOf(lift).has_chance
    ? `Chance of making it ${words.percent(lift.forecast.chance)}: ${words.expected(lift.forecast)}.`
    : `${words.expected(lift.forecast)}.`;
  return chance + moved;
}

function stateOf(lift, page) {
  const n = lift.sets.length;
  if (lift.stop) return call('stop');
  if (lift.skipped) return 'left out';
  if (!lift.next) return n > 0 ? ['done, ', words.count(n, 'set', 'sets')] : '';
  if (n === 0 && lift.plan.lead.load === null && !lift.alternative) return `× ${lift.next.reps}, load to be found`;
  if (n === 0) return `${words.load(lift.next.load, page.day.unit)} × ${lift.next.reps}`;
  const parts = [`${words.count(n, 'set', 'sets')}, ${lift.next.left} to go`];
  if (lift.call && lift.call.word !== 'no reading') parts.unshift(call(lift.eases ? 'ease' : 'go on'), ' · ');
  return parts;
}

function work(lift, page) {
  return [
    lift.alternative ? alternative(lift, page) : null,
    lift.stop ? stopBox(lift, page) : null,
    lift.call && !lift.stop ? callBox(lift, page) : null,
    doneSets(lift, page),
    lift.skipped ? skipped(lift, page) : null,
    page.draft(lift).correcting ? correction(lift, page) : entry(lift, page),
    ...(page.session.finished ? [] : pain(lift, page)),
    page.session.finished ? null : others(lift, page),
  ];
}

function alternative(lift, page) {
  const other = lift.alternative;
  if (lift.stop) {
    return make('p', {}, `In the place of ${lift.plan.name}. `, lift.sets.length === 0 ? back(lift, page) : null);
  }
  return make('div', { class: 'swapped' },
    make('p', {}, `In the place of ${lift.plan.name}: ${other.equipment}; ${other.prime_movers}.`,
      other.load_meaning ? ` Loads are ${other.load_meaning}.` : null),
    other.spotter ? make('p', { class: 'spotter', text: 'Spotter or safety bars.' }) : null,
    lift.sets.length === 0 ? targetOf(lift) : null,
    lift.sets.length === 0 ? back(lift, page) : null);
}

function back(lift, page) {
  return button(`Back to ${lift.plan.name}`, 'unswap', () => page.act('undo', { of: lift.swapId }), { class: 'plain' });
}

/** The target of a lift that was swapped in, by its own record; or that its record starts here. */
function targetOf(lift) {
  const { plan, last } = lift.alternative;
  if (!plan) {
    return make('p', { text: `Nothing of it is on record: start light, with three or more left. The set starts its record,`
      + ' and is held against nothing.' });
  }
  const warmUps = plan.warm_ups.map((set) => `${set.load} × ${set.reps}`).join(', ');
  const reserve = plan.lead_rir === null ? '' : `, ${words.number(plan.lead_rir)} left`;
  const forecast = forecastText(lift);
  return make('div', { class: 'own-plan' },
    warmUps ? make('p', { text: `Warm-up: ${warmUps}.` }) : null,
    make('div', { class: 'lead' }, make('h3', { text: 'Lead set by its own record' }),
      make('p', { class: 'target', text: `${plan.lead.load} × ${plan.lead.reps}${reserve}` })),
    forecast ? make('p', { text: forecast }) : make('p', { text: plan.gauge_reason }),
    last ? make('p', { class: 'aside', text: `Last: ${last}.` }) : null);
}

function stopBox(lift, page) {
  const { joint, rating, id, day } = lift.stop;
  const name = words.joint(page.day, joint);
  const reported = day ? `, reported on ${day}` : '';
  const instead = lift.sets.length === 0 ? swapsOf(lift, page) : [];
  return make('div', { class: 'call-box', role: 'alert' },
    make('p', { class: 'call-word' }, call('stop')),
    make('p', {
      text: `Pain of ${rating} in the ${name}${reported}, above the limit of ${page.day.pain_limit}: `
        + 'leave this lift today, and see a licensed professional. Pain that is sharp or growing, numbness, chest '
        + 'pain, faintness or sudden breathlessness: end the session and get help.',
    }),
    id ? button('I told that wrongly', 'stop-undo', () => page.act('undo', { of: id }), { class: 'plain' }) : null,
    id ? null : make('div', {}, make('p', { text: `How is the ${name} today? 0 none, 10 the worst imaginable` }),
      ratings(page.day, joint, 'stop', (now) => page.tellPain(lift, joint, now))),
    instead.length > 0 ? make('div', {},
      make('p', { text: `Instead, for the same muscles and with less load on the ${name}:` }), swapList(instead, lift, page)) : null);
}

function callBox(lift, page) {
  const { word, why } = lift.call;
  const follows = thenText(lift, page);
  return make('div', { class: 'call-box', role: 'status' },
    make('p', { class: 'call-word' }, call(word)),
    make('p', { text: why }),
    follows ? make('p', { class: 'then', text: follows }) : null,
    decision(lift, page));
}

function thenText(lift, page) {
  if (lift.held) return lift.plan.sets > 1 ? words.held(lift.held, page.day.unit) : null;
  if (!lift.eases) {
    const left = lift.plan.sets + lift.added - lift.sets.filter((set) => set.kind !== 'speed').length;
    return left > 0 ? `Then ${words.count(left, 'more set', 'more sets')} as planned.` : null;
  }
  if (lift.then?.speed) {
    const { sets, reps, rung } = lift.then.speed;
    const begin = lift.call.farBelow ? 'Only if nothing is wrong: speed' : 'Then speed';
    return `${begin} work instead: ${sets} × ${reps} at ${words.load(rung.load, page.day.unit)}`
      + `${rung.plates ? ` (${words.plates(rung.plates)})` : ''}, fast; stop a set when the reps slow.`;
  }
  return lift.then?.leave ?? null;
}

function decision(lift, page) {
  if (lift.decision) {
    const what = lift.decision.instead === 'ease' ? 'ease' : 'go on as planned';
    return make('p', { class: 'decided' }, `Your own decision, recorded: ${what}. `,
      button('Take back', 'decide-undo', () => page.act('undo', { of: lift.decision.id }), { class: 'plain' }));
  }
  if (page.session.finished || lift.plan.sets + lift.added <= 1) return null;
  const instead = lift.call.word === 'ease' ? 'go on' : 'ease';
  return button(instead === 'ease' ? 'I ease all the same' : 'I go on all the same', 'decide',
    () => page.act('decision', { lift: lift.name, call: lift.call.word, instead }), { class: 'plain' });
}

function doneSets(lift, page) {
  if (lift.sets.length === 0) return null;
  return make('ol', { class: 'done' }, lift.sets.map((done, place) => {
    const text = words.set(done, page.day.unit);
    return make('li', {},
      make('span', { class: 'done-set' }, `${done === lift.lead ? 'Lead set: ' : ''}${text}`, whereIsIt(done, page)),
      done.refused ? make('p', { class: 'refused', text: 'The desk could not take this: put it right at the top of this page.' }) : null,
      make('span', { class: 'done-acts' },
        done.refused ? null : button('Correct', `correct-${place}`, () => page.correct(lift, done), { class: 'plain', 'aria-label': `Correct ${text}` }),
        button('Undo', `undo-${place}`, () => page.act('undo', { of: done.id }), { class: 'plain', 'aria-label': `Undo ${text}` })));
  }));
}

/** Where a set is kept, on a line of its own that is always there: nothing moves under a finger when the desk answers. */
function whereIsIt(done, page) {
  const text = done.refused ? 'not taken' : done.sent ? 'at the desk' : page.outbox.unstored.has(done.id) ? 'being stored' : 'on this phone';
  return make('span', { class: 'aside done-where', text });
}

function skipped(lift, page) {
  return make('p', {}, 'Left out today. ',
    button('Take back', 'skip-undo', () => page.act('undo', { of: lift.skipped.id }), { class: 'plain' }));
}

function fields(lift, page, draft, key) {
  const { day } = page;
  const rungs = lift.alternative && !lift.alternative.plan
    ? lift.alternative.loads.map((load) => ({ load })) : planOf(lift).rungs;
  const at = rungs.find((rung) => Math.abs(rung.load - draft.load) < 1e-6);
  // Two taps may come before anything is drawn anew.
  const now = () => page.draft(lift);
  const next = (way) => {
    const rung = way > 0
      ? rungs.find((known) => known.load > now().load + 1e-6)
      : rungs.findLast((known) => known.load < now().load - 1e-6);
    return rung ? rung.load : now().load + way * (day.unit === 'lb' ? 5 : 2.5);
  };
  return [
    make('div', { class: 'numbers' },
      stepper({
        label: `Load, ${day.unit}`, key: `${key}-load`, value: draft.load, step: next, lower: 'Less load', higher: 'More load',
        set: (load) => page.change(lift, { load }), below: words.plates(at?.plates),
      }),
      stepper({
        label: 'Reps', key: `${key}-reps`, value: draft.reps, lower: 'One rep less', higher: 'One rep more',
        step: (way) => now().reps + way,
        set: (reps) => page.change(lift, { reps: Math.min(200, Math.max(1, Math.round(reps))) }),
      })),
    choices({
      legend: 'Reps left in reserve', key: `${key}-rir-${page.place(lift)}`, options: RESERVES, value: draft.rir,
      set: (rir) => page.change(lift, { rir }),
    }),
  ];
}

function entry(lift, page) {
  if (!lift.next) return null;
  const draft = page.draft(lift);
  const what = lift.next.kind === 'speed' ? 'Speed set' : lift.sets.length === 0 ? 'Lead set' : 'Next set';
  return make('form', {
    class: 'entry', on: { submit: (event) => { event.preventDefault(); page.log(lift); } },
  },
  make('h3', { text: `${what}${lift.next.left > 1 ? `, ${lift.next.left} to go` : ''}` }),
  fields(lift, page, draft, 'set'),
  make('button', {
    type: 'submit', class: 'main', key: 'log',
    text: `Log ${words.load(draft.load, page.day.unit)} × ${draft.reps}`,
  }));
}

function correction(lift, page) {
  const draft = page.draft(lift);
  return make('form', {
    class: 'entry', on: { submit: (event) => { event.preventDefault(); page.log(lift); } },
  },
  make('h3', { text: 'Correct this set' }),
  fields(lift, page, draft, 'fix'),
  make('button', { type: 'submit', class: 'main', key: 'fix', text: `Correct to ${words.load(draft.load, page.day.unit)} × ${draft.reps}` }),
  button('Leave it as it was', 'fix-leave', () => page.correct(lift, null), { class: 'plain' }));
}

function pain(lift, page) {
  const ui = page.ui(lift);
  return [painTold(lift, page), painForm({
    day: page.day,
    joints: lift.alternative?.joints ?? lift.plan.joints,
    key: 'pain',
    chosen: ui.joint ?? null,
    choose: (joint) => page.changeUi(lift, { joint }),
    tell: (joint, rating) => page.tellPain(lift, joint, rating),
  })];
}

/** What this session says of the lift's joints, unless it is in the box above. */
function painTold(lift, page) {
  const joints = lift.alternative?.joints ?? lift.plan.joints;
  const told = [...page.session.ratings.values()].filter((known) => known.id !== null && known !== lift.stop
    && (joints.includes(known.joint) || known.lift === lift.name));
  if (told.length === 0) return null;
  return make('ul', { class: 'pain-told' }, told.map((known) => make('li', {},
    `Pain in the ${words.joint(page.day, known.joint)} today: ${known.rating} of 10. `,
    button('Take back', `pain-undo-${known.joint}`, () => page.act('undo', { of: known.id }), { class: 'plain' }))));
}

function others(lift, page) {
  const ui = page.ui(lift);
  const show = (part) => page.changeUi(lift, { part: ui.part === part ? null : part });
  const toggle = (text, part) => button(text, `more-${part}`, () => show(part), { 'aria-expanded': String(ui.part === part) });
  return make('div', { class: 'others' },
    make('div', { class: 'other-row' },
      toggle('Note', 'note'),
      lift.sets.length === 0 && !lift.alternative && !lift.stop && swapsOf(lift, page).length > 0 ? toggle('Swap', 'swap') : null,
      lift.stop ? null : button('Add a set', 'add', () => page.act('add', { lift: lift.name })),
      !lift.skipped && lift.next ? button('Leave out', 'skip', () => page.act('skip', { lift: lift.name })) : null),
    ui.part === 'note' ? noteForm({
      key: 'note', label: `Note on ${lift.name}`, draft: ui.note ?? '',
      change: (note) => page.changeUi(lift, { note }, false),
      tell: () => {
        if (!ui.note?.trim()) return;
        page.act('note', { lift: lift.name, text: ui.note.trim() });
        page.changeUi(lift, { note: '', part: null });
      },
    }) : null,
    ui.part === 'swap' && !lift.stop ? swapList(swapsOf(lift, page), lift, page) : null);
}

/** The lifts that can take this one's place and that no complaint stops. */
function swapsOf(lift, page) {
  const isFree = (name) => {
    const { plain_joints } = page.day.alternatives[name];
    return !stopOf(page.day, page.session.ratings, { name, plain_joints });
  };
  return lift.alternative ? [] : lift.plan.instead.filter(isFree);
}

function swapList(names, lift, page) {
  return make('ul', { class: 'swaps' }, names.map((name, place) => {
    const other = page.day.alternatives[name];
    return make('li', {}, button(name, `swap-${place}`, () => {
      page.changeUi(lift, { part: null }, false);
      page.act('swap', { lift: lift.plan.name, with: name });
    }), make('span', { class: 'aside', text: ` ${other.equipment}${other.last ? `; last ${other.last}` : ''}` }));
  }));
}
