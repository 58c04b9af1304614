// Everything in words: the list of parts, the legend that is also the switchboard, findings, key figures, the title block.
import { badge, changed, choose, element, hoverOver, manyEyes, numbersByOwner, placement, state, vector, whenChanged } from './state.js';
import { framesNear } from './model.js';
import { holeMark } from './marks.js';

const byId = (id) => document.getElementById(id);
export const list = byId('parts');
const tip = byId('tip');

// ------------------------------------------------------------------------------------------------------------- the list
function listParts() {
  const numbers = numbersByOwner();
  list.replaceChildren(...state.picture.placements.map((p) => element('li', {
    id: `part-${p.name}`, role: 'option', 'aria-selected': String(p.name === state.chosen), 'data-name': p.name, class: p.face,
    'aria-label': `${p.name}, ${p.part}, ${p.detail}, ${p.face === 'under' ? 'under' : 'on'} ${p.deck}${p.locked ? `; locked: it ${p.locked}` : ''}`,
    onclick: () => choose(p.name), onpointerenter: () => hoverOver(p.name), onpointerleave: () => hoverOver(null) },
  element('i', { class: 'sign' }), element('b', {}, p.name), element('span', {}, p.detail), p.locked ? element('em', { title: p.locked }, 'locked') : null,
  ...(numbers.get(p.name) ?? []).map(([n, severity]) => badge(n, severity)))));
  mark();
}

function mark() {
  for (const item of list.children) {
    const on = item.dataset.name === state.chosen;
    item.setAttribute('aria-selected', String(on));
    item.classList.toggle('over', item.dataset.name === state.over);
    if (on) {
      const box = item.getBoundingClientRect(), room = list.getBoundingClientRect();
      if (box.top < room.top || box.bottom > room.bottom) list.scrollTop += box.top - room.top - room.height / 3;
    }
  }
  if (state.chosen) list.setAttribute('aria-activedescendant', `part-${state.chosen}`);
  else list.removeAttribute('aria-activedescendant');
}

// The next part of the list, or the one before.
export function step(by) {
  const names = state.picture.placements.map((p) => p.name), at = names.indexOf(state.chosen);
  choose(names[Math.max(0, Math.min(names.length - 1, at < 0 ? 0 : at + by))]);
}

// ----------------------------------------------------------------------------------------------------------- the legend
function swatch(draw) {
  return vector('svg', { viewBox: '0 0 22 12', class: 'swatch', 'aria-hidden': 'true' }, ...draw);
}

const stroke = (kind) => [vector('path', { class: kind, d: 'M1 6L21 6' })];

function legend() {
  const toggle = (on, words, draw, does) => element('button', { type: 'button', 'aria-pressed': String(on), onclick: does }, swatch(draw), words);
  const flip = (key) => () => {
    state.show[key] = !state.show[key];
    changed('legend');
  };
  const decks = state.picture.decks.map(({ name }) => toggle(!state.hidden.has(name), `deck ${name}`, [vector('path', { class: 'deck-sign', d: 'M2 8L7 3L20 3L15 8Z' })], () => {
    if (!state.hidden.delete(name)) state.hidden.add(name);
    changed('legend');
  }));
  const signs = [['t', 'used from the top face'], ['u', 'from the under face'], ['s', 'by a standoff'], ['', 'free']].map(([sign, words]) => element('span', { class: 'sign-word' },
    swatch([holeMark([11, 6], 4, sign, 1)]), words));
  byId('legend').replaceChildren(...decks,
    toggle(state.show.sight, manyEyes() ? 'what the chosen sensor sees' : 'what sensors see', [vector('path', { class: 'see', d: 'M2 6L19 1M2 6L19 11' })], flip('sight')),
    element('span', { class: 'sign-word' }, swatch([1, 6, 11, 16].map((x) => vector('path', { class: 'block', d: `M${x} 10L${x + 4} 2` }))), 'blocked by the robot'),
    toggle(state.show.frames, 'frames: x whole, y dashed, z dotted', [vector('path', { class: 'ax', d: 'M3 10L19 10' }), vector('path', { class: 'ay', d: 'M3 10L12 3' }), vector('path', { class: 'az', d: 'M3 10L3 1' })], flip('frames')),
    toggle(state.show.ground, 'footprint, support, centre of mass', stroke('foot'), flip('ground')),
    toggle(state.show.findings, 'numbers of findings', [vector('rect', { class: 'num', x: 6, y: 1, width: 10, height: 10 })], flip('findings')), ...signs);
}

// ---------------------------------------------------------------------------------------------------- findings, figures
function whereOf(item) {
  const [where] = item.where;
  return where ? element('span', { class: 'where' }, `${where.file}:${where.line}:${where.column}`) : null;
}

export function findingNode(item, number) {
  const owner = item.owners.find((o) => placement(o));
  const node = element('li', { class: item.severity, 'data-code': item.code }, badge(number, item.severity),
    element('div', {}, element('p', {}, element('b', {}, `${item.accepted !== undefined ? 'accepted ' : ''}${item.severity}: `), item.message),
      item.hint ? element('p', { class: 'hint' }, item.hint) : null,
      element('p', { class: 'small' }, whereOf(item), ` ${item.code}`, item.accepted !== undefined ? `, accepted: ${item.accepted}` : '')));
  if (owner) {
    node.append(element('button', { type: 'button', onclick: () => choose(owner) }, `show ${owner}`));
  }
  return node;
}

function findings() {
  const room = byId('findings-words'), { verdict, picture } = state;
  if (!verdict || verdict.revision !== picture.revision) {
    room.classList.add('old');
    if (!verdict) room.replaceChildren(element('p', {}, 'checking …'));
    return;
  }
  room.classList.remove('old');
  byId('findings-title').textContent = `the check: ${verdict.count}`;
  room.replaceChildren(verdict.findings.length ? element('ol', {}, ...verdict.findings.map((f, k) => findingNode(f, k + 1)))
    : element('p', {}, 'It has nothing to say.'));
  byId('figures-rows').replaceChildren(...verdict.figures.map(([name, text]) => element('tr', {}, element('th', { scope: 'row' }, name), element('td', {}, text))));
  byId('seen').hidden = !verdict.seen;
  if (verdict.seen) byId('seen').src = `data:image/svg+xml,${encodeURIComponent(verdict.seen)}`;
}

function trouble() {
  const room = byId('trouble'), { trouble: found } = state;
  room.hidden = !found;
  document.body.classList.toggle('broken', Boolean(found));
  if (!found) return room.replaceChildren();
  return room.replaceChildren(element('h2', {}, state.picture ? 'The file does not read; the picture is the last good one.' : 'The file does not read.'),
    found.words ? element('p', {}, found.words) : element('ol', {}, ...found.findings.map((f, k) => findingNode({ ...f, owners: [] }, k + 1))));
}

function block() {
  const { picture, verdict } = state, cells = [['robot', picture.robot], ['file', picture.file], ['mass', picture.mass], ['hash of layout and parts', picture.hash],
    ['check', verdict?.revision === picture.revision ? verdict.count : '…']];
  byId('block').replaceChildren(...cells.map(([name, text]) => element('div', {}, element('small', {}, name), element('span', {}, text))));
  byId('robot').textContent = picture.robot;
  document.title = picture.robot;
}

function status() {
  const words = !state.picture?.live ? '' : !state.connected ? 'not connected: is `chassis_describe view` still running?'
    : state.trouble ? 'the file does not read' : `follows the file${state.history?.stopped ? `; ${state.history.stopped}` : ''}`;
  byId('status').textContent = words;
  document.body.classList.toggle('alone', Boolean(state.picture?.live) && !state.connected);
}

// ------------------------------------------------------------------------------------------------------- under the hand
function pointed(event) {
  const frames = event.target.id === 'canvas' ? framesNear(event.clientX, event.clientY) : [];
  const part = placement(state.over), deck = state.picture?.decks.find((d) => d.name === state.over);
  const rows = [];
  if (part) {
    const eye = state.picture.eyes.filter((e) => e.owner === part.name);
    rows.push(element('b', {}, part.name), element('span', {}, `${part.part}, ${part.detail}, ${part.face === 'under' ? 'under' : 'on'} ${part.deck}`));
    rows.push(...eye.filter((e) => e.blocked_deg).map((e) => element('span', {}, `${e.blocked_deg}° of its scan blocked by ${[...new Set(e.blocked.map((b) => b[2]))].join(', ')}`)));
    if (part.locked) rows.push(element('em', {}, part.locked));
  } else if (deck) rows.push(element('b', {}, deck.name), element('span', {}, 'deck'));
  if (frames.length) rows.push(element('span', {}, `frame ${frames.join(', ')}`));
  tip.hidden = rows.length === 0;
  tip.replaceChildren(...rows);
  const box = tip.getBoundingClientRect();
  tip.style.left = `${Math.max(4, Math.min(window.innerWidth - box.width - 6, event.clientX + 14))}px`;
  tip.style.top = `${Math.max(4, Math.min(window.innerHeight - box.height - 6, event.clientY + 16))}px`;
}

export function startWords() {
  document.addEventListener('pointermove', pointed);
  document.addEventListener('pointerleave', () => { tip.hidden = true; });
  whenChanged(['picture', 'verdict'], () => {
    if (!state.picture) return;
    listParts();
    findings();
    block();
  });
  whenChanged(['picture', 'legend'], () => state.picture && legend());
  whenChanged(['chosen', 'over'], () => state.picture && mark());
  whenChanged(['trouble', 'picture', 'connected', 'history'], () => {
    trouble();
    status();
  });
}
