// The outbox without a browser: nothing lost, nothing doubled, nothing jammed by one odd message. There is no
// database here, so all of it is in memory; what is kept over a closed tab is tried in a real browser.

import assert from 'node:assert/strict';
import { beforeEach, mock, test } from 'node:test';

import { newId, Outbox } from '../../assets/floor/outbox.js';

delete globalThis.BroadcastChannel; // one page alone; an open channel would keep the test from ending

const day = (messages = []) => ({ lifter: 'Wilma Tarn', date: '2031-05-06', messages });
const line = (id, at, rest = {}) => ({ at, refused: null, asks: null, body: { id, kind: 'note', day: '2031-05-06', text: id, ...rest } });
const ids = (messages) => messages.map((message) => message.id);
const settled = () => new Promise((resolve) => { setImmediate(resolve); });

/** What the desk was sent, and how it answers. */
let sent;
let answer;

beforeEach(() => {
  mock.timers.reset();
  mock.timers.enable({ apis: ['setTimeout'] });
  sent = [];
  answer = taken;
  globalThis.fetch = async (path, { body }) => {
    const batch = JSON.parse(body);
    sent.push(ids(batch.messages));
    return answer(batch);
  };
});

const reply = (status, body) => ({ ok: status === 200, status, json: async () => body });
const taken = ({ messages }) => reply(200, { confirmed: messages.map(({ id }) => ({ id, refused: null })), held: [], messages: null });

async function outbox(messages = []) {
  const box = new Outbox('token', day(messages), () => {});
  await box.load();
  return box;
}

/** Lets it send until it rests. */
async function run(box, rounds = 30) {
  for (let i = 0; i < rounds; i += 1) {
    for (let j = 0; j < 8; j += 1) await settled();
    mock.timers.tick(4001);
  }
  for (let j = 0; j < 8; j += 1) await settled();
  clearTimeout(box.timer);
}

test('ids order by time and are all different', () => {
  const all = Array.from({ length: 500 }, (_, ms) => newId(1935676800000 + ms));
  assert.deepEqual([...all].sort(), all);
  assert.equal(new Set(all).size, all.length);
  for (const id of all) assert.match(id, /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  assert.equal(parseInt(newId(1935676800000).replace('-', '').slice(0, 12), 16), 1935676800000);
});

test('merging loses nothing and doubles nothing', async () => {
  const box = await outbox([line('a', '1'), line('b', '2')]);
  box.merge([line('b', '2', { text: 'newer' }), line('c', '3')]);
  assert.deepEqual(box.atDesk.map(({ body }) => body.id), ['a', 'b', 'c']);
  assert.equal(box.atDesk[1].body.text, 'newer', 'what the desk says last counts');
  box.merge([]);
  box.merge([line('a', '1')]);
  assert.deepEqual(box.atDesk.map(({ body }) => body.id).sort(), ['a', 'b', 'c']);
});

test('messages are those of the desk by time, then those on this phone, each once', async () => {
  const box = await outbox([line('b', '2031-05-06T18:02'), line('a', '2031-05-06T18:01')]);
  box.sending = true; // nothing leaves
  const one = await box.add('note', { text: 'one' });
  const two = await box.add('note', { text: 'two' });
  assert.deepEqual(ids(box.messages()), ['a', 'b', one, two]);
  assert.deepEqual(box.messages().map((message) => message.sent), [true, true, false, false]);
  // The desk has one of them already, though its confirmation was lost.
  box.merge([line(one, '2031-05-06T18:03')]);
  assert.deepEqual(ids(box.messages()), ['a', 'b', one, two]);
  // Of another day: sent, and no part of this session.
  await box.add('note', { text: 'three', day: '2031-05-04' });
  assert.equal(box.waiting.length, 3);
  assert.deepEqual(ids(box.messages()), ['a', 'b', one, two]);
});

test('what is confirmed is forgotten, and only that', async () => {
  const box = await outbox();
  answer = ({ messages }) => reply(200, { confirmed: messages.slice(0, 1).map(({ id }) => ({ id, refused: null })), held: [], messages: [] });
  box.sending = true;
  await box.add('note', { text: 'one' });
  const two = await box.add('note', { text: 'two' });
  box.sending = false;
  await box.send();
  assert.deepEqual(ids(box.waiting), [two]);
  clearTimeout(box.timer);
});

test('without a network everything stays and goes later, once', async () => {
  const box = await outbox();
  answer = () => { throw new TypeError('no network'); };
  const one = await box.add('note', { text: 'one' });
  await run(box, 3);
  assert.deepEqual(ids(box.waiting), [one]);
  answer = taken;
  box.send();
  await run(box, 2);
  assert.deepEqual(box.waiting, []);
  assert.ok(sent.length > 1 && sent.every((batch) => batch.length === 1 && batch[0] === one));
});

test('what the desk refuses stays with its reason, and is put right', async () => {
  const box = await outbox();
  answer = ({ messages }) => reply(200, {
    confirmed: messages.map((message) => ({ id: message.id, refused: message.load > 50 ? 'too heavy' : null })), held: [], messages: null,
  });
  const bad = await box.add('set', { lift: 'curl', load: 500, reps: 5 });
  await run(box, 2);
  assert.deepEqual([ids(box.waiting), ids(box.refused)], [[], [bad]]);
  assert.deepEqual(box.unsettled().map((one) => [one.message.id, one.reason]), [[bad, 'too heavy']]);
  assert.equal(box.messages()[0].refused, 'too heavy');
  sent = [];
  await box.mend(bad, 'set', { lift: 'curl', load: 50, reps: 5, day: '2031-05-04' });
  await run(box, 2);
  assert.equal(sent.flat().length, 2, 'taken back and logged anew');
  assert.deepEqual([box.waiting, box.refused, box.unsettled()], [[], [], []]);
});

test('what another phone was refused can be put right here too', async () => {
  const box = await outbox([{ ...line('x', '1', { kind: 'set' }), refused: 'no such lift', asks: null }]);
  assert.deepEqual(box.unsettled().map((one) => one.message.id), ['x']);
  box.sending = true;
  await box.mend('x', 'set', { lift: 'curl' });
  assert.deepEqual(box.waiting.map(({ message }) => [message.kind, message.of ?? null]), [['undo', 'x'], ['set', null]]);
  assert.deepEqual(box.unsettled(), []);
});

test('a message that is held stays here, is not sent again, and nothing waits for it', async () => {
  const box = await outbox();
  let odd = null;
  answer = ({ messages }) => reply(200, {
    confirmed: messages.filter(({ id }) => id !== odd).map(({ id }) => ({ id, refused: null })),
    held: messages.flatMap(({ id }, place) => (id === odd ? [{ place, reason: 'too large', again: false }] : [])),
    messages: null,
  });
  box.sending = true;
  await box.add('note', { text: 'before' });
  odd = await box.add('note', { text: 'odd' });
  await box.add('note', { text: 'after' });
  box.sending = false;
  box.send();
  await run(box, 4);
  assert.deepEqual([ids(box.waiting), ids(box.refused)], [[], [odd]]);
  assert.equal(sent.flat().filter((id) => id === odd).length, 1);
  // The desk has nothing of it: taking it back sends nothing.
  sent = [];
  assert.equal(await box.add('undo', { of: odd }), null);
  await run(box, 2);
  assert.deepEqual([sent.flat(), box.refused], [[], []]);
});

test('what is too much for today goes later, and the rest first', async () => {
  const box = await outbox();
  let full = true;
  answer = ({ messages }) => reply(200, full
    ? { confirmed: [], held: messages.map((_, place) => ({ place, reason: 'as much as a day takes', again: true })), messages: null }
    : { confirmed: messages.map(({ id }) => ({ id, refused: null })), held: [], messages: null });
  await box.add('note', { text: 'one' });
  await run(box, 3);
  assert.equal(box.waiting.length, 1);
  assert.equal(box.trouble, 'as much as a day takes');
  full = false;
  box.send();
  await run(box, 3);
  assert.deepEqual(box.waiting, []);
});

for (const [status, stays] of [[422, 'refused'], [413, 'refused'], [500, 'waiting']]) {
  test(`one message that makes the desk answer ${status} jams no other`, async () => {
    const box = await outbox();
    let odd = null;
    answer = (batch) => (batch.messages.some(({ id, of }) => id === odd || of === odd) ? reply(status, { error: 'odd' }) : taken(batch));
    box.sending = true;
    for (let n = 0; n < 9; n += 1) {
      const id = await box.add('set', { reps: n });
      if (n === 4) odd = id;
    }
    box.sending = false;
    box.send();
    await run(box, 20);
    assert.deepEqual(ids(box[stays]), [odd]);
    assert.equal(box.waiting.length + box.refused.length, 1);
    // What belongs to a message that stays back isn't sent before it.
    if (stays === 'waiting') {
      sent = [];
      await box.add('undo', { of: odd });
      box.waiting[0].later = true;
      assert.deepEqual(box.batch(), []);
    }
    clearTimeout(box.timer);
  });
}

test('a batch is bounded in messages and in length', async () => {
  const box = await outbox();
  box.sending = true;
  for (let n = 0; n < 201; n += 1) await box.add('note', { text: 'x' });
  assert.equal(box.batch().length, 200);
  for (const entry of box.waiting) entry.message.text = 'x'.repeat(16000);
  assert.ok(JSON.stringify(box.batch().map((entry) => entry.message)).length < 220000);
  box.waiting[0].message.text = 'x'.repeat(300000);
  assert.equal(box.batch().length, 1, 'a single one always goes');
});

test('half a character is not sent', async () => {
  const box = await outbox();
  box.sending = true;
  await box.add('note', { text: 'knee \ud83d' });
  // Where the browser can't mend it the desk refuses it alone.
  if ('toWellFormed' in String.prototype) assert.equal(box.waiting[0].message.text, 'knee \ufffd');
});

test('clocks that are a day apart are noticed', async () => {
  const box = await outbox();
  for (const [ahead, differ] of [[0, false], [86_300_000, false], [-86_500_000, true], [5 * 365 * 86_400_000, true]]) {
    answer = () => reply(200, { confirmed: [], held: [], messages: null, now: Date.now() + ahead });
    await box.send();
    clearTimeout(box.timer);
    assert.equal(box.clocksDiffer(), differ, `${ahead}`);
  }
});

test('a link that was closed is said, and nothing is forgotten', async () => {
  const box = await outbox();
  answer = () => reply(410, { error: 'this link was revoked' });
  await box.add('note', { text: 'one' });
  await run(box, 2);
  assert.equal(box.closed, 'this link was revoked');
  assert.equal(box.waiting.length, 1);
});
