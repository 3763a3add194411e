// Making parts of the page: elements with properties and children, never text that is read as HTML.

/**
 * An element. `how` holds `class`, `text`, `on` (an object of listeners), `data`, and attributes; `key`
 * names it, so that the focus finds it again after the page was drawn anew.
 */
export function make(tag, how = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(how)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === 'text') element.textContent = value;
    else if (name === 'class') element.className = value;
    else if (name === 'on') {
      for (const [event, listener] of Object.entries(value)) element.addEventListener(event, listener);
    } else if (name === 'key') element.dataset.key = value;
    else element.setAttribute(name, value === true ? '' : value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

/** A button that does something here. */
export function button(text, key, act, how = {}) {
  return make('button', { type: 'button', key, ...how, text, on: { click: act } });
}

/** Puts new content into a place, and focus and selection back where they were, if that element is still named there. */
export function refill(place, ...children) {
  const active = document.activeElement;
  const key = place.contains(active) ? active.dataset.key : null;
  const isText = key && (active.type === 'text' || active.type === 'textarea');
  const { selectionStart, selectionEnd, selectionDirection } = active;
  place.replaceChildren(...children.flat().filter(Boolean));
  if (!key) return;
  const again = place.querySelector(`[data-key="${CSS.escape(key)}"]`);
  again?.focus({ preventScroll: true });
  if (again && isText) again.setSelectionRange(selectionStart, selectionEnd, selectionDirection);
}

/** The mark of a call with its word. */
export function call(word) {
  const template = document.querySelector('#marks');
  const mark = template.content.querySelector(`[data-call="${word}"]`)?.firstElementChild;
  return make('span', { class: 'call' }, mark ? mark.cloneNode(true) : null, word);
}
