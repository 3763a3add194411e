// The page of a session: puts the card, what the desk has and what is on this phone together, and draws it
// anew after every act. The coach's numbers come from the card; nothing here needs a network.

import { button, call, make, refill } from './elements.js';
import { checkInForm, choices, noteForm, ratings } from './forms.js';
import { drawLift } from './lift.js';
import { Outbox } from './outbox.js';
import { complaints } from './pain.js';
import { refusedBox } from './refused.js';
import { Rest } from './rest.js';
import { stateOf } from './state.js';
import { chosenTheme, chooseTheme, THEMES } from './theme.js';
import * as words from './words.js';

const { token } = document.body.dataset;
const day = JSON.parse(document.body.dataset.day);

class Page {
  constructor() {
    this.day = day;
    this.drafts = new Map();
    this.uis = new Map();
    this.opened = null;
    this.checkIn = { open: false, sleep: null, stress: null, soreness: null };
    this.note = '';
    /** What is typed to put right what the desk couldn't take: by message, and the `day` that it asks about. */
    this.mending = new Map();
    this.said = '';
    this.outbox = new Outbox(token, day, () => this.refresh());
    this.held = false;
    this.pending = false;
    this.holdStill();
    this.bar = document.querySelector('#bar');
    this.restPlace = make('div', { class: 'rest' });
    this.undoPlace = make('div', { class: 'undo' });
    this.bar.append(this.undoPlace, this.restPlace);
    this.stops = document.querySelector('#stops');
    this.keepClear();
    this.heard = make('p', { class: 'only-heard', role: 'status' });
    document.body.append(this.heard);
    this.rest = new Rest(token, this.restPlace, (text) => this.announce(text));
  }

  /** What is scrolled to never lies under the bar below or the stops above, however tall they are. */
  keepClear() {
    const { style } = document.documentElement;
    const measure = () => {
      style.setProperty('--bar', `${this.bar.offsetHeight}px`);
      style.setProperty('--stops', `${this.stops.offsetHeight}px`);
    };
    const observer = new ResizeObserver(measure);
    for (const part of [this.bar, this.stops]) observer.observe(part);
    measure();
    this.measure = measure;
  }

  announce(text) {
    this.heard.textContent = text;
  }

  /** Nothing is drawn anew under a finger, or a tap that is under way would hit nothing. */
  holdStill() {
    let touch = 0;
    let isDown = false;
    const hold = () => {
      touch += 1;
      isDown = true;
      this.held = true;
    };
    const release = () => {
      this.held = false;
      if (this.pending) this.refresh();
    };
    // The end of one touch doesn't end the next, which may have begun meanwhile.
    const soon = () => {
      const ended = touch;
      setTimeout(() => { if (ended === touch) release(); }, 60);
    };
    document.addEventListener('pointerdown', hold, true);
    document.addEventListener('keydown', (event) => { if (event.key === ' ') hold(); }, true);
    document.addEventListener('click', () => { this.held = false; }, true);
    const lift = () => {
      isDown = false;
      soon();
    };
    for (const end of ['pointerup', 'pointercancel', 'keyup']) document.addEventListener(end, lift, true);
    // A finger that comes down takes the focus from a field, and is still down then.
    document.addEventListener('focusout', () => { if (!isDown) soon(); }, true);
  }

  isTyping() {
    const active = document.activeElement;
    const isText = active instanceof HTMLTextAreaElement || (active instanceof HTMLInputElement && ['text', 'date'].includes(active.type));
    return isText && active.value !== active.defaultValue;
  }

  /** Draws what has changed by itself, once nobody touches or types. */
  refresh() {
    this.pending = this.held || this.isTyping();
    if (!this.pending) this.draw();
  }

  draw() {
    this.session = stateOf(day, this.outbox.messages());
    if (this.opened === null) this.opened = this.session.lifts.find((lift) => lift.next)?.plan.name ?? '';
    for (const lift of this.session.lifts) {
      const item = document.querySelector(`[data-lift="${CSS.escape(lift.plan.name)}"]`);
      drawLift(item, lift, this);
    }
    const reached = document.querySelector('#reached');
    const text = reachedText(this.outbox);
    if (reached.textContent !== text) reached.textContent = text;
    refill(document.querySelector('#refused'), refusedBox(this));
    this.drawStops();
    this.drawPains();
    this.drawCheckIn();
    this.drawSession();
    this.drawUndo();
    this.measure();
  }

  /** Every complaint with the lifts that it stops, always in sight. */
  drawStops() {
    const lines = complaints(day, this.session.ratings).map((known) => {
      const lifts = this.session.lifts.filter((lift) => lift.stop === known).map((lift) => lift.name);
      return lifts.length === 0 ? null : make('p', {}, call('stop'),
        ` ${words.joint(day, known.joint)} ${known.rating} of 10: ${lifts.join(', ')}`);
    });
    refill(this.stops, lines);
  }

  /** Asks about complaints from before this session until it has an answer; then says what the answer does. */
  drawPains() {
    const part = (known) => {
      const name = words.joint(day, known.joint);
      const stops = this.session.lifts.filter((lift) => (lift.alternative ?? lift.plan).plain_joints.includes(known.joint));
      const lifts = stops.map((lift) => lift.name).join(', ');
      if (known.id !== null) {
        const open = known.rating > day.pain_limit ? `${lifts || 'What loads it'}: not today.`
          : 'Its lifts are open by your own rating. That clears nobody: begin light, and stop at any pain.';
        return make('p', {}, `The ${name} today: ${known.rating} of 10. ${open} `,
          button('Take back', `answer-undo-${known.joint}`, () => this.act('undo', { of: known.id }), { class: 'plain' }));
      }
      return make('div', {},
        make('h2', { text: `How is the ${name} today?` }),
        make('p', { text: `Pain of ${known.rating} was reported on ${known.day}, above the limit of ${day.pain_limit}. `
          + `Until you rate it at ${day.pain_limit} or below, leave out ${lifts || 'what loads it'}. `
          + 'See a licensed professional about pain. 0 is none, 10 the worst imaginable.' }),
        ratings(day, known.joint, `answer-${known.joint}`, (rating) => this.act('pain', { joint: known.joint, rating })));
    };
    const asked = [...this.session.ratings.values()]
      .filter((known) => known.answers || (known.id === null && known.rating > day.pain_limit));
    refill(document.querySelector('#pains'), this.session.finished ? [] : asked.map(part));
  }

  /** Records pain reported at a lift, and brings what follows into sight. */
  tellPain(lift, joint, rating) {
    this.changeUi(lift, { joint: null }, false);
    this.act('pain', { joint, rating, lift: lift.name });
    const now = this.session.lifts.find((other) => other.plan === lift.plan);
    if (now.stop) this.announce(`Stop: ${now.name}.`);
    this.showCall(lift);
  }

  /** Brings the call of a lift into sight: whole, or from its top on where the screen is too low for it. */
  showCall(lift) {
    const box = document.querySelector(`[data-lift="${CSS.escape(lift.plan.name)}"] .call-box`);
    const room = window.innerHeight - this.bar.offsetHeight - this.stops.offsetHeight;
    box?.scrollIntoView({ block: box.offsetHeight > room ? 'start' : 'nearest' });
  }

  place(lift) {
    return day.lifts.indexOf(lift.plan);
  }

  isOpen(lift) {
    return this.opened === lift.plan.name;
  }

  toggle(lift) {
    this.opened = this.isOpen(lift) ? '' : lift.plan.name;
    this.draw();
  }

  /** What is typed for a lift's next set, or for the set that is being corrected. */
  draft(lift) {
    const known = this.drafts.get(lift.plan.name);
    if (known) return known;
    return { load: lift.next?.load ?? 0, reps: lift.next?.reps ?? 1, rir: null, correcting: null };
  }

  change(lift, change) {
    this.drafts.set(lift.plan.name, { ...this.draft(lift), ...change });
    // Later, so that a key which leaves the field moves the focus first.
    setTimeout(() => {
      this.pending = this.held;
      if (!this.held) this.draw();
    });
  }

  correct(lift, done) {
    if (done) {
      const { load, reps, rir } = done;
      this.drafts.set(lift.plan.name, { load, reps, rir: rir ?? null, correcting: done.id });
    } else {
      this.drafts.delete(lift.plan.name);
    }
    this.draw();
  }

  ui(lift) {
    return this.uis.get(lift.plan.name) ?? {};
  }

  changeUi(lift, change, draw = true) {
    this.uis.set(lift.plan.name, Object.assign(this.ui(lift), change));
    if (draw) this.draw();
  }

  act(kind, body) {
    if (kind === 'undo' || kind === 'swap') this.drafts.clear();
    const added = this.outbox.add(kind, body);
    this.draw();
    return added;
  }

  /** Logs the next set as drafted, or the correction. */
  log(lift) {
    const { load, reps, rir, correcting } = this.draft(lift);
    this.drafts.delete(lift.plan.name);
    const numbers = { load, unit: day.unit, reps, rir };
    if (correcting) {
      this.act('correct', { of: correcting, ...numbers });
      return;
    }
    const set = { lift: lift.name, set_kind: lift.next.kind, ...numbers };
    const before = lift.next;
    this.act('set', set);
    const now = this.session.lifts.find((other) => other.plan === lift.plan);
    const word = now.stop ? 'stop' : now.call?.word;
    this.announce(`Logged ${lift.name} ${words.load(load, day.unit)} × ${reps}.${lift.sets.length === 0 && word ? ` Call: ${word}.` : ''}`);
    if (now.next) {
      this.rest.start();
    } else {
      this.opened = now.call && lift.sets.length === 0 ? lift.plan.name
        : this.session.lifts.find((other) => other.next)?.plan.name ?? lift.plan.name;
      if (before) this.rest.start();
    }
    this.draw();
    // What was asked comes into sight: the button that was tapped may have stood far below.
    if (lift.sets.length === 0) this.showCall(lift);
  }

  drawCheckIn() {
    const place = document.querySelector('#check-in');
    if (this.session.finished || (!this.session.checkIn && this.session.lifts.some((lift) => lift.sets.length > 0))) {
      refill(place);
      return;
    }
    const { sleep, stress, soreness } = this.checkIn;
    refill(place, checkInForm({
      told: this.session.checkIn,
      draft: this.checkIn,
      change: (change) => { Object.assign(this.checkIn, change); this.draw(); },
      tell: () => this.tellCheckIn({ sleep_h: sleep, stress, soreness }),
      undo: () => this.act('undo', { of: this.session.checkIn.id }),
    }));
  }

  async tellCheckIn(body) {
    const id = await this.act('check-in', body);
    this.checkIn = { open: false, sleep: null, stress: null, soreness: null };
    // With a signal, the desk's forecasts take it in; without one, the session goes by those that are here.
    for (let tries = 0; tries < 20 && this.outbox.waiting.some((entry) => entry.id === id); tries += 1) {
      await new Promise((resolve) => { setTimeout(resolve, 150); });
    }
    const sent = !this.outbox.waiting.some((entry) => entry.id === id);
    if (sent && this.session.lifts.every((lift) => lift.sets.length === 0)) location.reload();
  }

  drawSession() {
    const place = document.querySelector('#session');
    const notes = this.session.notes.map((note, idx) => make('li', {},
      note.lift ? `${note.lift}: ${note.text} ` : `${note.text} `,
      button('Undo', `note-undo-${idx}`, () => this.act('undo', { of: note.id }), { class: 'plain' })));
    const sets = this.session.lifts.reduce((n, lift) => n + lift.sets.length, 0);
    const { finished } = this.session;
    refill(place,
      make('h2', { text: 'The session' }),
      notes.length > 0 ? make('ul', { class: 'note-list' }, notes) : null,
      finished ? null : noteForm({
        key: 'session-note', label: 'Note on the session', draft: this.note,
        change: (text) => { this.note = text; },
        tell: () => {
          const text = this.note.trim();
          if (!text) return;
          this.note = '';
          this.act('note', { text });
        },
      }),
      finished
        ? make('p', { role: 'status' }, `Finished: ${words.count(sets, 'set', 'sets')}. `,
          button('Go on', 'finish-undo', () => this.act('undo', { of: finished.id }), { class: 'plain' }))
        : button('Finish the session', 'finish', () => { this.rest.stop(); this.act('finish', { sets }); }, { class: 'main' }),
      choices({
        legend: 'Light or dark, on this phone', key: 'theme', options: THEMES, value: chosenTheme(),
        set: (theme) => { chooseTheme(theme); this.draw(); },
      }));
  }

  drawUndo() {
    const sets = this.session.lifts.flatMap((lift) => lift.sets.map((done) => ({ lift, done })));
    const order = this.outbox.messages().map((message) => message.id);
    const last = sets.sort((a, b) => order.indexOf(a.done.id) - order.indexOf(b.done.id)).at(-1);
    refill(this.undoPlace, last && !this.session.finished
      ? button(`Undo ${last.lift.name} ${words.set(last.done, day.unit)}`, 'undo-last', () => this.act('undo', { of: last.done.id }))
      : null);
    document.body.classList.toggle('has-bar', Boolean(last));
  }
}

/** What has reached the desk, in words. */
function reachedText(outbox) {
  const { waiting } = outbox;
  const sets = waiting.filter((entry) => entry.message.kind === 'set').length;
  const rest = waiting.length - sets;
  const parts = [sets > 0 ? words.count(sets, 'set', 'sets') : null, rest > 0 ? words.count(rest, 'other entry', 'other entries') : null];
  const what = parts.filter(Boolean).join(' and ');
  const tried = outbox.tried ? `, last tried ${words.clock(outbox.tried)}` : '';
  const keeps = outbox.kept ? '' : ' This browser keeps nothing beyond this tab: leave it open.';
  const text = [];
  if (outbox.closed) {
    text.push(`${outbox.closed[0].toUpperCase()}${outbox.closed.slice(1)}.`);
    if (what) text.push(`${what} on this phone only.`);
  } else if (what && outbox.unstored.size > 0) {
    text.push(`Being stored on this phone: ${what}.`); // only what is stored is said to be there
  } else if (what) {
    text.push(`${what} on this phone only${tried}.`);
    if (outbox.trouble) text.push(`The desk said: ${outbox.trouble}.`);
  } else if (outbox.refused.some((entry) => !entry.refused.atDesk)) {
    text.push('What the desk could not take is on this phone only; the rest has reached it.');
  } else if (outbox.tried !== null && outbox.reached !== outbox.tried && !outbox.sending) {
    text.push(`Everything logged has reached the desk, which can't be reached now${tried}; this page goes on without it.`);
  } else {
    text.push(outbox.atDesk.length > 0 ? 'Everything logged has reached the desk.' : 'Nothing logged yet; the desk is reached.');
  }
  const today = new Date();
  const local = [today.getFullYear(), today.getMonth() + 1, today.getDate()].map((n) => String(n).padStart(2, '0')).join('-');
  if (outbox.clocksDiffer()) {
    const there = new Date(Date.now() + outbox.ahead);
    text.push(`This phone's clock says ${words.moment(today)}, the desk's ${words.moment(there)}: put right the one that is wrong.`);
  }
  if (local !== day.date) text.push('This session was made for another day than this phone has; load the page again with a signal.');
  return text.join(' ') + keeps;
}

/**
 * Lets the worker keep this page, for opening it without a network. That may fail, since the link may be revoked or
 * the network gone by now: then it is tried again when the desk is next reached.
 */
async function keepPage() {
  if (document.body.dataset.kept === 'yes') return;
  try {
    await navigator.serviceWorker.ready;
    const answer = await fetch(location.pathname);
    if (!answer.ok) return; // what is wrong with the link is said by what sends
    const pages = await caches.open('floor-pages');
    await pages.put(location.pathname, answer);
    document.body.dataset.kept = 'yes';
  } catch {
    // The open tab carries on without it.
  }
}

async function start() {
  chooseTheme(chosenTheme());
  const page = new Page();
  await page.outbox.load();
  page.draw();
  page.outbox.send();
  window.addEventListener('online', () => page.outbox.send());
  document.addEventListener('visibilitychange', () => {
    if (document.visibilityState === 'visible') page.outbox.send();
  });
  if (!('serviceWorker' in navigator)) return; // plain HTTP: the open tab carries on
  await navigator.serviceWorker.register('/floor/sw.js').catch(() => null);
  await keepPage();
  page.outbox.onReached = keepPage;
}

start().catch((error) => {
  document.querySelector('#reached').textContent = `This page could not start fully: ${error.message}`;
});
