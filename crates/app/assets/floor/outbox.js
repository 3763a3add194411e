// What was logged on this phone: kept at once (IndexedDB), sent with an id made here, and kept until the desk
// has confirmed it. Sending again does no harm, so it is done whenever in doubt.

const NAME = 'bellwether-floor';
const BATCH = 200;
const SOON_MS = 4000;
const LATER_MS = 30000;

/** An id that orders by time: 48 bits of the clock, then random bits (RFC 9562, version 7). */
export function newId(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let place = 0; place < 6; place += 1) bytes[place] = Math.floor(now / 2 ** (8 * (5 - place))) % 256;
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
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
    /** What the desk has for this session: `{ at, refused, body }`. */
    this.atDesk = day.messages;
    this.tried = null;
    this.reached = null;
    this.closed = null;
    this.kept = true;
    /** Ids of what the phone hasn't yet said to have stored. */
    this.unstored = new Set();
    this.sending = false;
    this.timer = null;
    this.others = 'BroadcastChannel' in window ? new BroadcastChannel(NAME) : null;
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
      this.waiting = all.sort((a, b) => a.place - b.place || (a.id < b.id ? -1 : 1));
      const desk = this.database.transaction('desk').objectStore('desk');
      this.merge((await done(desk.get(this.session)))?.lines ?? []);
    } catch {
      this.kept = false; // a private window, or a full disk: said on the page
    }
  }

  /** Keeps a message on this phone, then tries to send it. */
  async add(kind, body) {
    const logged = Date.now();
    const id = newId(logged);
    const message = { id, kind, day: this.date, logged, ...body };
    const entry = { id, lifter: this.lifter, place: logged, message };
    this.waiting.push(entry);
    this.unstored.add(id);
    this.changed();
    try {
      this.database ??= await open();
      const transaction = this.database.transaction('messages', 'readwrite', { durability: 'strict' });
      transaction.objectStore('messages').put(entry);
      await committed(transaction);
      this.kept = true;
      this.others?.postMessage('changed');
    } catch {
      this.kept = false;
    }
    this.unstored.delete(id);
    this.changed();
    this.send();
    return id;
  }

  /** Sends what waits and learns what other phones have logged. */
  async send() {
    if (this.sending) return;
    this.sending = true;
    clearTimeout(this.timer);
    const batch = this.waiting.slice(0, BATCH);
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
    const more = this.waiting.length > 0 && this.reached === this.tried && !this.closed;
    this.timer = setTimeout(() => this.send(), this.waiting.length > 0 ? (more ? 0 : SOON_MS) : LATER_MS);
    this.changed();
  }

  async take(answer, batch) {
    if (answer.status === 404 || answer.status === 410) {
      this.closed = (await answer.json()).error;
      return;
    }
    if (!answer.ok) {
      this.trouble = (await answer.json().catch(() => null))?.error ?? null;
      return;
    }
    const told = await answer.json();
    this.closed = null;
    this.trouble = null;
    this.reached = this.tried;
    if (told.messages) this.merge(told.messages);
    const confirmed = new Set(told.confirmed.map((one) => one.id));
    const ids = batch.filter((entry) => confirmed.has(entry.id)).map((entry) => entry.id);
    this.waiting = this.waiting.filter((entry) => !confirmed.has(entry.id));
    if (!this.database) return;
    const transaction = this.database.transaction(['messages', 'desk'], 'readwrite');
    // What the desk has is kept too: the page may be opened again without a signal.
    transaction.objectStore('desk').put({ session: this.session, lines: this.atDesk });
    for (const id of ids) transaction.objectStore('messages').delete(id);
    await committed(transaction);
    if (ids.length > 0) this.others?.postMessage('changed');
  }

  /** Takes in what the desk has. Nothing there ever goes away, so the longer list is the newer. */
  merge(lines) {
    const known = new Set(lines.map((line) => line.body.id));
    this.atDesk = [...this.atDesk.filter((line) => !known.has(line.body.id)), ...lines];
  }

  /** All messages of this session in order: the desk's by time, then those on this phone. */
  messages() {
    const there = this.atDesk.map((line) => ({ ...line.body, at: line.at, refused: line.refused, sent: true }));
    there.sort((a, b) => (a.at < b.at ? -1 : a.at > b.at ? 1 : 0));
    const known = new Set(there.map((message) => message.id));
    const here = this.waiting
      .map((entry) => entry.message)
      .filter((message) => message.day === this.date && !known.has(message.id));
    return [...there, ...here];
  }
}
