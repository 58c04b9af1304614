// What the page knows and shows, and who wants to hear when it changes.

export const state = {
  picture: null, verdict: null, trouble: null, history: null,  // as they were sent
  connected: true,
  deck: null, under: false,   // whose plan is shown; turned over left to right
  chosen: null, over: null,   // a placement: chosen, under the pointer
  hidden: new Set(),          // decks that are left out of the round
  show: { frames: false, sight: true, ground: true, findings: true },
  ghost: null, fits: null, outcome: null, ranked: null,
};

const listeners = [];
let waiting = null;

export function whenChanged(topics, listener) {
  listeners.push([new Set(topics), listener]);
}

// Say what has changed; everybody hears of it once, before the next picture.
export function changed(...topics) {
  if (waiting === null) {
    waiting = new Set();
    queueMicrotask(() => {
      const now = waiting;
      waiting = null;
      for (const [wanted, listener] of listeners) if ([...now].some((t) => wanted.has(t))) listener(now);
    });
  }
  topics.forEach((t) => waiting.add(t));
}

export const placement = (name) => state.picture?.placements.find((p) => p.name === name) ?? null;
export const deckOf = (name) => state.picture?.decks.find((d) => d.name === name) ?? null;

// Everything that stands on a placement, and the placement itself.
export function carried(name) {
  const found = new Set([name]);
  for (const one of found) for (const rider of placement(one)?.carries ?? []) found.add(rider);
  return found;
}

export function choose(name) {
  if (state.ghost !== null && name !== state.ghost.of) return;
  const part = placement(name);
  state.chosen = part ? name : null;
  if (part && part.deck !== state.deck) state.deck = part.deck;
  changed('chosen', 'deck');
}

export function hoverOver(name) {
  if (state.over !== name) {
    state.over = name;
    changed('over');
  }
}

const live = document.getElementById('live');

// Tell those who hear the page instead of seeing it; the same words twice are two messages.
export function say(words) {
  live.textContent = live.textContent === words ? `${words}\u00a0` : words;
}

export function element(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith('on')) made.addEventListener(name.slice(2), value);
    else if (value !== null && value !== false) made.setAttribute(name, value === true ? '' : value);
  }
  made.append(...children.filter((c) => c !== null));
  return made;
}

export function vector(tag, attributes = {}, ...children) {
  const made = document.createElementNS('http://www.w3.org/2000/svg', tag);
  for (const [name, value] of Object.entries(attributes)) if (value !== null) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

// A sign that is not told by its colour alone: findings by their number in a square, a ring or bare.
export function badge(number, severity) {
  return element('span', { class: `badge ${severity}` }, String(number));
}

// Owner → numbers of the findings that are about it, counted as in the list.
export function numbersByOwner() {
  const found = new Map();
  (state.verdict?.findings ?? []).forEach((item, k) => {
    const owner = item.owners[0];
    if (owner && item.accepted === undefined) found.set(owner, [...(found.get(owner) ?? []), [k + 1, item.severity]]);
  });
  return found;
}

// At one place the first numbers only, and how many more there are in the list.
export function fewest(numbers, most = 3) {
  if (numbers.length <= most) return numbers;
  return [...numbers.slice(0, most - 1), [`+${numbers.length - most + 1}`, 'note']];
}

const MANY_EYES = 6;

// More eyes than that hide the robot: then those are drawn that are chosen or pointed at, and the legend says so.
export const manyEyes = () => state.picture.eyes.filter((e) => e.kind !== 'none').length > MANY_EYES;

export function eyesShown() {
  if (!state.show.sight) return [];
  return state.picture.eyes.filter((e) => !manyEyes() || e.owner === state.chosen || e.owner === state.over);
}
