// The rest between sets. What is kept is when it ends, so a locked screen, a closed tab or a reload changes
// nothing.

import { button, make, refill } from './elements.js';

const LENGTHS_S = [60, 120, 180, 300];

export class Rest {
  constructor(token, place, announce) {
    this.key = `rest ${token.slice(0, 8)}`;
    this.place = place;
    this.announce = announce;
    this.timer = setInterval(() => this.tick(), 500);
    document.addEventListener('visibilitychange', () => this.tick());
    this.shown = null;
    this.draw();
  }

  kept() {
    try {
      return JSON.parse(localStorage.getItem(this.key)) ?? {};
    } catch {
      return {};
    }
  }

  keep(change) {
    try {
      localStorage.setItem(this.key, JSON.stringify({ ...this.kept(), ...change }));
    } catch {
      // Without storage the rest runs as long as the tab does.
      this.fallback = change;
    }
  }

  start(seconds = this.kept().seconds ?? 180) {
    this.keep({ seconds, ends: Date.now() + seconds * 1000, told: false });
    this.shown = null;
    this.draw();
  }

  stop() {
    this.keep({ ends: null });
    this.shown = null;
    this.draw();
  }

  /** The rest that is left, in words; null if none runs. */
  left() {
    const { ends } = this.kept();
    if (!ends) return null;
    const seconds = Math.ceil((ends - Date.now()) / 1000);
    const over = seconds <= 0;
    const [m, s] = [Math.floor(Math.abs(seconds) / 60), Math.abs(seconds) % 60];
    return { over, seconds, text: `${m}:${String(s).padStart(2, '0')}` };
  }

  tick() {
    const left = this.left();
    if (left?.over && !this.kept().told) {
      this.keep({ told: true });
      navigator.vibrate?.([200, 100, 200]);
      this.announce('Rest is over.');
    }
    if (left && left.seconds < -900) this.stop();
    else this.draw();
  }

  draw() {
    const left = this.left();
    const text = left ? `${left.over}${left.text}` : '';
    if (text === this.shown) return;
    const running = Boolean(this.shown) && text !== '';
    this.shown = text;
    if (running) {
      this.place.querySelector('.rest-time').textContent = left.text;
      this.place.querySelector('.rest-word').textContent = left.over ? 'over since' : 'rest';
      return;
    }
    if (!left) {
      refill(this.place);
      return;
    }
    refill(
      this.place,
      make('p', { class: 'rest-now', role: 'timer' },
        make('span', { class: 'rest-word', text: left.over ? 'over since' : 'rest' }),
        make('span', { class: 'rest-time', text: left.text })),
      make('div', { class: 'rest-lengths' },
        LENGTHS_S.map((seconds) => button(`${seconds / 60}′`, `rest-${seconds}`, () => this.start(seconds), {
          'aria-label': `Rest ${seconds / 60} minutes from now`,
        })),
        button('End', 'rest-end', () => this.stop(), { 'aria-label': 'End the rest' })),
    );
  }
}
