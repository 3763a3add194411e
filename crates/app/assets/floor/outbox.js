// What was logged on this phone: kept at once (IndexedDB), sent with an id made here, and kept until the desk
// has confirmed it. Sending again does no harm, so it is done whenever in doubt. What the desk refuses stays here
// with its reason until it is put right or taken back, and nothing waits for it.

const NAME = 'bellwether-floor';
/** The most messages, and about the most characters, that are sent at once. */
const BATCH = 200;
const BATCH_LENGTH = 200000;
const SOON_MS = 4000;
const LATER_MS = 30000;
/** How far the clocks of phone and desk may be apart before the page says so; the desk's own bound. */
const CLOCKS_APART_MS = 24 * 3600 * 1000;

/** An id that orders by time: 48 bits of the clock, then random bits (RFC 9562, version 7). */
export function newId(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let place = 0; place < 6; place += 1) bytes[place] = Math.floor(now / 2 ** (8 * (5 - place))) % 256;
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
}

/** The same values with whole characters only: half of one can't be sent. */
function wellFormed(body) {
  const whole = (value) => (typeof value === 'string' && value.toWellFormed ? value.toWellFormed() : value);
  return Object.fromEntries(Object.entries(body).map(([key, value]) => [key, whole(value)]));
}

function open() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => {
      const messages = asked.result.createObjectStore('messages', { keyPath: 'id' });
      messages.createIndex('lifter', 'lifter');
      asked.result.createObjectStore('desk', { keyPath: 'session' });
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

function done(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function committed(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onerror = () => reject(transaction.error);
    transaction.onabort = () => reject(transaction.error);
  });
}

/** The outbox of one lifter on this phone. */
export class Outbox {
  constructor(token, day, changed) {
    this.token = token;
    this.lifter = day.lifter;
    this.session = `${day.lifter} ${day.date}`;
    this.date = day.date;
    this.changed = changed;
    /** Messages of any day that the desk hasn't confirmed, in the order in which they were logged. */
    this.waiting = [];
    /**
     * Messages of any day that the desk couldn't take: each has `refused`, `{ reason, asks, atDesk }`. Where the
     * desk keeps it too, it is `atDesk`.
     */
    this.refused = [];
    /** What the desk has for this session: `{ at, refused, asks, body }`. */
    this.atDesk = day.messages;
    this.tried = null;
    this.reached = null;
    this.closed = null;
    this.trouble = null;
    /** The desk's clock less this phone's, in ms, when it was last reached. */
    this.ahead = 0;
    this.kept = true;
    /** Ids of what the phone hasn't yet said to have stored. */
    this.unstored = new Set();
    this.sending = false;
    this.timer = null;
    /** How many messages go at once: fewer after a batch that the desk couldn't take. */
    this.most = BATCH;
    /** Called each time that the desk was reached. */
    this.onReached = null;
    this.others = 'BroadcastChannel' in globalThis ? new BroadcastChannel(NAME) : null;
    if (this.others) this.others.onmessage = () => this.load().then(() => this.changed());
  }

  /** Reads what is on this phone. */
  async load() {
    try {
      this.database ??= await open();
      const index = this.database.transaction('messages').objectStore('messages').index('lifter');
      const all = await done(index.getAll(this.lifter));
      const known = new Set(all.map((entry) => entry.id));
      all.push(...this.waiting.filter((entry) => this.unstored.has(entry.id) && !known.has(entry.id)));
      all.sort((a, b) => a.place - b.place || (a.id < b.id ? -1 : 1));
      this.waiting = all.filter((entry) => !entry.refused);
      this.refused = all.filter((entry) => entry.refused);
      const desk = this.database.transaction('desk').objectStore('desk');
      this.merge((await done(desk.get(this.session)))?.lines ?? []);
    } catch {
      this.kept = false; // a private window, or a full disk: said on the page
    }
  }

  /** Keeps a message on this phone, then tries to send it. */
  async add(kind, body) {
    // What the desk has never had is taken back here alone.
    const gone = kind === 'undo' ? this.refused.find((entry) => entry.id === body.of) : null;
    if (gone && !gone.refused.atDesk) {
      await this.forget(gone.id);
      return null;
    }
    const entry = this.entry(kind, body);
    await this.keep([entry], gone ? [gone.id] : []);
    this.send();
    return entry.id;
  }

  /** Logs what was refused in another way: the old message is taken back, and the new one sent, in one act. */
  async mend(id, kind, body) {
    const old = this.refused.find((entry) => entry.id === id);
    const isAtDesk = old ? old.refused.atDesk : true;
    const entries = isAtDesk ? [this.entry('undo', { of: id }), this.entry(kind, body)] : [this.entry(kind, body)];
    await this.keep(entries, old ? [id] : []);
    this.send();
  }

  entry(kind, body) {
    const logged = Date.now();
    const id = newId(logged);
    const message = { id, kind, day: this.date, logged, ...wellFormed(body) };
    return { id, lifter: this.lifter, place: logged, message };
  }

  /** Puts new entries into the store, and takes settled ones out, all or nothing. */
  async keep(entries, settled) {
    this.waiting.push(...entries);
    this.refused = this.refused.filter((entry) => !settled.includes(entry.id));
    for (const { id } of entries) this.unstored.add(id);
    this.changed();
    try {
      this.database ??= await open();
      const transaction = this.database.transaction('messages', 'readwrite', { durability: 'strict' });
      for (const entry of entries) transaction.objectStore('messages').put(entry);
      for (const id of settled) transaction.objectStore('messages').delete(id);
      await committed(transaction);
      this.kept = true;
      this.others?.postMessage('changed');
    } catch {
      this.kept = false;
    }
    for (const { id } of entries) this.unstored.delete(id);
    this.changed();
  }

  async forget(id) {
    await this.keep([], [id]);
  }

  /** What goes next: as much as is sent at once, and nothing that belongs to a message that stays back. */
  batch() {
    const behind = new Set(this.waiting.filter((entry) => entry.later).map((entry) => entry.id));
    const batch = [];
    let length = 0;
    for (const entry of this.waiting) {
      if (behind.has(entry.id)) continue;
      if (behind.has(entry.message.of)) {
        behind.add(entry.id);
        continue;
      }
      length += JSON.stringify(entry.message).length;
      if (batch.length > 0 && (batch.length >= this.most || length > BATCH_LENGTH)) break;
      batch.push(entry);
    }
    return batch;
  }

  /** Sends what waits and learns what other phones have logged. */
  async send() {
    if (this.sending) return;
    this.sending = true;
    clearTimeout(this.timer);
    const batch = this.batch();
    try {
      this.tried = Date.now();
      const answer = await fetch(`/floor/${this.token}/messages?date=${this.date}`, {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify({ sent: Date.now(), messages: batch.map((entry) => entry.message) }),
        signal: AbortSignal.timeout(15000),
      });
      await this.take(answer, batch);
    } catch {
      // No network, or the answer was lost: nothing is forgotten, and it is sent again.
    }
    this.sending = false;
    const left = this.batch().length > 0;
    if (!left) for (const entry of this.waiting) entry.later = false; // tried again with the next round
    const goesOn = left && this.reached === this.tried && !this.closed;
    const pause = goesOn ? 0 : this.waiting.length > 0 ? SOON_MS : LATER_MS;
    this.timer = setTimeout(() => this.send(), pause);
    this.changed();
  }

  async take(answer, batch) {
    if (answer.status === 404 || answer.status === 410) {
      this.closed = (await answer.json()).error;
      return;
    }
    if (!answer.ok) {
      this.trouble = (await answer.json().catch(() => null))?.error ?? null;
      await this.narrow(answer.status, batch);
      return;
    }
    const told = await answer.json();
    this.closed = null;
    this.trouble = null;
    this.reached = this.tried;
    this.most = Math.min(BATCH, this.most * 2);
    if (Number.isFinite(told.now)) this.ahead = told.now - Date.now();
    if (told.messages) this.merge(told.messages);
    const confirmed = new Map(told.confirmed.map((one) => [one.id, one]));
    const settled = [];
    const refused = [];
    for (const entry of batch) {
      const one = confirmed.get(entry.id);
      // Taking back what isn't there leaves nothing to put right.
      if (one?.refused && entry.message.kind !== 'undo') refused.push({ ...entry, refused: { reason: one.refused, asks: one.asks ?? null, atDesk: true } });
      else if (one) settled.push(entry.id);
    }
    for (const { place, reason, again } of told.held ?? []) {
      const entry = batch[place];
      if (!entry) continue;
      if (again) {
        entry.later = true;
        this.trouble = reason;
      } else {
        refused.push({ ...entry, refused: { reason, asks: null, atDesk: false } });
      }
    }
    await this.settle(settled, refused);
    this.onReached?.();
  }

  /**
   * A batch that the desk couldn't take as a whole is sent in smaller parts, down to the one message that stands
   * in the way: that one waits by itself, and if it can't be read, with its reason.
   */
  async narrow(status, batch) {
    // What is wrong with the batch itself; with anything else it is the desk that is in trouble, so slowly.
    const isUnreadable = [400, 413, 422].includes(status);
    if (isUnreadable) this.reached = this.tried;
    if (batch.length > 1) {
      this.most = Math.floor(batch.length / 2);
    } else if (batch.length === 1 && isUnreadable) {
      const reason = this.trouble ?? 'the desk could not read it';
      await this.settle([], [{ ...batch[0], refused: { reason, asks: null, atDesk: false } }]);
    } else if (batch.length === 1) {
      batch[0].later = true;
    }
  }

  /** Forgets what the desk has, and keeps with its reason what it has refused. */
  async settle(settled, refused) {
    const gone = new Set([...settled, ...refused.map((entry) => entry.id)]);
    this.waiting = this.waiting.filter((entry) => !gone.has(entry.id));
    this.refused = [...this.refused.filter((entry) => !gone.has(entry.id)), ...refused];
    if (!this.database) return;
    const transaction = this.database.transaction(['messages', 'desk'], 'readwrite');
    // What the desk has is kept too: the page may be opened again without a signal.
    transaction.objectStore('desk').put({ session: this.session, lines: this.atDesk });
    for (const id of settled) transaction.objectStore('messages').delete(id);
    for (const entry of refused) transaction.objectStore('messages').put(entry);
    await committed(transaction);
    if (gone.size > 0) this.others?.postMessage('changed');
  }

  /** Takes in what the desk has. Nothing there ever goes away, so the longer list is the newer. */
  merge(lines) {
    const known = new Set(lines.map((line) => line.body.id));
    this.atDesk = [...this.atDesk.filter((line) => !known.has(line.body.id)), ...lines];
  }

  /** All messages of this session in order: the desk's by time, then those on this phone. */
  messages() {
    const there = this.atDesk.map(({ at, refused, body }) => ({ ...body, at, refused, sent: true }));
    there.sort((a, b) => (a.at < b.at ? -1 : a.at > b.at ? 1 : 0));
    const known = new Set(there.map((message) => message.id));
    const here = [...this.refused, ...this.waiting]
      .filter((entry) => entry.message.day === this.date && !known.has(entry.id))
      .sort((a, b) => a.place - b.place)
      .map((entry) => ({ ...entry.message, refused: entry.refused?.reason ?? null, sent: Boolean(entry.refused?.atDesk) }));
    return [...there, ...here];
  }

  /**
   * What the desk couldn't take and nobody has taken back: `{ message, reason, asks }`, of this session from any
   * phone, of other days from this one.
   */
  unsettled() {
    const own = this.refused.map(({ message, refused }) => ({ message, ...refused }));
    const known = new Set(own.map((one) => one.message.id));
    const there = this.atDesk
      .filter((line) => line.refused && !known.has(line.body.id))
      .map((line) => ({ message: { ...line.body, at: line.at }, reason: line.refused, asks: line.asks }));
    const all = [...this.atDesk.map((line) => line.body), ...this.waiting.map((entry) => entry.message)];
    const undone = new Set(all.filter((message) => message.kind === 'undo').map((message) => message.of));
    return [...own, ...there].filter(({ message }) => message.kind !== 'undo' && !undone.has(message.id));
  }

  /** Whether the clocks of this phone and the desk are further apart than can be overlooked. */
  clocksDiffer() {
    return Math.abs(this.ahead) > CLOCKS_APART_MS;
  }
}
