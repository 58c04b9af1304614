// A deck in plan, front up: outline, holes and who uses them, parts of both faces, what sensors see, and the ghost of a move.
import { back } from './space.js';
import { arrow, flat, holeMark, lozenge, pathOf, spotMark } from './marks.js';
import { carried, choose, deckOf, element, eyesShown, fewest, hoverOver, manyEyes, numbersByOwner, placement, state, vector, whenChanged } from './state.js';
import { sightOf } from './sight.js';

export const plan = document.getElementById('plan');
const deckButtons = document.getElementById('decks');
const MARGIN = 34;  // px around the deck, for the numbers of rows and columns
let frame = { unit: 1, x: 0, y: 0, extent: [0, 0, 0, 0] };
let pressed = null;
let onClick = () => false;

// What a click on the plan does before it chooses a part: takes deck coordinates and the part there, says whether it was meant.
export function whenClicked(listener) {
  onClick = listener;
}

const shownDeck = () => deckOf(state.deck) ?? state.picture.decks[0];

function layOut(deck) {
  let [x0, y0, x1, y1] = deck.bounds;
  for (const part of [...deck.parts, ...(state.outcome?.outlines ?? []).filter((o) => o.deck === deck.name)]) {
    for (const edge of part.contours.flat()) {
      [x0, x1] = [Math.min(x0, edge[0]), Math.max(x1, edge[0])];
      [y0, y1] = [Math.min(y0, edge[1]), Math.max(y1, edge[1])];
    }
  }
  const box = plan.getBoundingClientRect();
  const [w, h] = [Math.max(80, box.width), Math.max(80, box.height)];
  const unit = Math.max((y1 - y0) / Math.max(20, w - 2 * MARGIN), (x1 - x0) / Math.max(20, h - 2 * MARGIN));
  const [cx, cy] = flat([(x0 + x1) / 2, (y0 + y1) / 2], state.under);
  frame = { unit, x: cx - w * unit / 2, y: cy - h * unit / 2, w, h, extent: [x0, y0, x1, y1] };
  plan.setAttribute('viewBox', `${frame.x} ${frame.y} ${w * unit} ${h * unit}`);
  plan.style.setProperty('--px', `${unit}px`);
}

// Where on the deck a pointer is.
export function pointOn(event) {
  const box = plan.getBoundingClientRect();
  const x = frame.x + (event.clientX - box.left) * frame.unit, y = frame.y + (event.clientY - box.top) * frame.unit;
  return [-y, state.under ? x : -x];
}

function drawPlan() {
  if (!state.picture) return;
  const deck = shownDeck(), under = state.under, px = frame.unit;
  const at = (p) => flat(p, under), nodes = [];
  const layer = (kind, ...children) => nodes.push(vector('g', { class: kind }, ...children));
  const ghosted = new Set(state.ghost ? [...carried(state.ghost.of)] : []);
  layer('plate', vector('path', { d: pathOf([...deck.contours, ...deck.slots.map(slotContour)], under), 'fill-rule': 'evenodd' }));
  const near = under ? 'under' : 'top';
  const ordered = [...deck.parts].sort((a, b) => (a.face === near ? 1 : 0) - (b.face === near ? 1 : 0));
  layer('fills', ...ordered.filter((p) => p.face === near).map((p) => vector('path', { d: pathOf(p.contours, under), 'fill-rule': 'evenodd' })));
  if (state.show.sight) layer('sight', ...sights2d(deck, at));
  layer('holes', ...deck.holes.map(([, x, y, d, sign]) => holeMark(at([x, y]), d / 2, sign, px)));
  layer('parts', ...ordered.map((p) => partMark(p, under, px, at, near, ghosted.has(p.name))));
  layer('numbers', ...axisNumbers(deck, at));
  layer('misses', ...deck.misses.map(([x, y]) => lozenge(at([x, y]), 6 * px, 'miss')));
  if (state.fits && state.ghost) layer('fits', ...fitMarks(deck, at, px));
  if (state.ghost) layer('ghost', ...ghostMarks(deck, at, under, px));
  layer('names', ...names(deck, at, px));
  plan.replaceChildren(...nodes);
  if (state.show.findings) plan.append(...pins(deck, at, px));
  plan.setAttribute('aria-label', `plan of deck ${deck.name}, ${under ? 'turned over' : 'front up'}${state.chosen ? `; ${state.chosen} is chosen` : ''}`);
}

// Only what is under the pointer has changed.
function hoverPlan() {
  for (const node of plan.querySelectorAll('.part')) node.classList.toggle('over', node.dataset.part === state.over);
  plan.querySelector('.names')?.replaceChildren(...names(shownDeck(), (p) => flat(p, state.under), frame.unit));
}

function slotContour({ at: [x, y], length, width, turn }) {
  const r = width / 2, half = (length - width) / 2, [c, s] = [Math.cos(turn), Math.sin(turn)];
  const put = (u, v) => [x + u * c - v * s, y + u * s + v * c];
  return [[...put(-half, -r)], [...put(half, -r), ...put(half, 0), 1], [...put(half, r)], [...put(-half, r), ...put(-half, 0), 1]];
}

function partMark(part, under, px, at, near, ghosted) {
  const kind = ['part', part.face, part.face === near ? 'near' : 'far', part.name === state.chosen ? 'chosen' : '', part.name === state.over ? 'over' : '',
    ghosted ? 'leaving' : ''].filter(Boolean).join(' ');
  const node = vector('g', { class: kind, 'data-part': part.name }, vector('path', { d: pathOf(part.contours, under), 'fill-rule': 'evenodd' }));
  if (part.forward) {
    const [dx, dy] = at(part.forward);
    node.append(arrow(at(part.origin), [dx, dy], 11 * px, 4 * px, 'forward'));
  }
  return node;
}

// A lidar all round is a ring that fits the plan; what others see runs on past its edge.
function sights2d(deck, at) {
  const out = [], extent = Math.max(deck.bounds[2] - deck.bounds[0], deck.bounds[3] - deck.bounds[1]) * 1.4;
  const ring = 0.4 * Math.min(frame.w, frame.h) * frame.unit;
  for (const eye of eyesShown()) {
    if (placement(eye.owner)?.deck !== deck.name) continue;
    const seen = eye.kind === 'lidar' ? sightOf({ ...eye, reach: ring }, Infinity) : sightOf(eye, extent);
    const on = (run) => run.map((p) => at(back(deck.pose, p)));
    const line = (run, kind) => vector('path', { class: kind, d: `M${on(run).map((p) => p.join(' ')).join('L')}` });
    if (eye.kind !== 'lidar') out.push(...seen.fans.map((run) => line(run, 'fan')));
    out.push(...seen.edges.map((run) => line(run, seen.dashed ? 'cone' : 'edge')), ...seen.strokes.map((run) => line(run, 'blocked')));
  }
  return out;
}

function words(text, [x, y], kind, more = {}) {
  return vector('text', { x, y, class: kind, ...more }, text);
}

function axisNumbers(deck, at) {
  const px = frame.unit, [x0, y0, x1, y1] = frame.extent, out = [];
  const corners = [at([x0, y0]), at([x1, y1])], xs = corners.map((c) => c[0]), ys = corners.map((c) => c[1]);
  const [left, right, top, bottom] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const step = (places, least) => {
    const gap = Math.min(...places.slice(1).map((p, k) => Math.abs(p[1] - places[k][1])), Infinity);
    return [1, 2, 5, 10, 20, 50, 100].find((s) => s * gap >= least) ?? 200;
  };
  const rows = step(deck.rows, 12 * px), columns = step(deck.columns, 20 * px);
  for (const [i, x] of deck.rows.filter(([k]) => k % rows === 0)) {
    for (const side of [left - 14 * px, right + 14 * px]) out.push(words(String(i), [side, at([x, 0])[1] + 3.5 * px], 'axis'));
  }
  for (const [j, y] of deck.columns.filter(([k]) => k % columns === 0)) {
    for (const side of [top - 9 * px, bottom + 16 * px]) out.push(words(String(j), [at([0, y])[0], side], 'axis'));
  }
  out.push(words('i', [left - 14 * px, top - 9 * px], 'axis name'), words('j', [left - 5 * px, top - 9 * px], 'axis name'));
  return out;
}

// ------------------------------------------------------------------------------------------------------------- moving
// Where a lattice place of the part that is moved is on its deck.
export function placePoint(part, place) {
  const { o, i, j } = part.plane;
  return [o[0] + i[0] * place[0] + j[0] * place[1], o[1] + i[1] * place[0] + j[1] * place[1]];
}

function fitMarks(deck, at, px) {
  const part = placement(state.ghost.of);
  if (part.deck !== deck.name) return [];
  if (state.ranked?.spots.length) {
    return state.ranked.spots.map((s) => spotMark(at(placePoint(part, s.at)), s.rank === null ? null : 1 - s.rank / state.ranked.ranks, px));
  }
  return state.fits.places.filter((p) => p.taken === null).map((p) => {
    const [x, y] = at(placePoint(part, p.at)), r = 4 * px;
    return vector('path', { class: 'fit', d: `M${x - r} ${y}L${x - r / 3} ${y}M${x + r / 3} ${y}L${x + r} ${y}M${x} ${y - r}L${x} ${y - r / 3}M${x} ${y + r / 3}L${x} ${y + r}` });
  });
}

// Until the server has worked the move out, outlines are shifted and turned here; then its own are drawn.
function ghostMarks(deck, at, under, px) {
  const { ghost, outcome } = state, part = placement(ghost.of);
  if (part.deck !== deck.name && !outcome) return [];
  const kind = ghost.fits === false ? 'outline misfit' : 'outline', out = [];
  if (outcome?.outlines) {
    out.push(...outcome.outlines.filter((o) => o.deck === deck.name).map((o) => vector('path', { class: kind, d: pathOf(o.contours, under) })));
  } else {
    const move = movement(part, ghost);
    out.push(...deck.parts.filter((p) => carried(ghost.of).has(p.name)).map((p) => vector('path', { class: kind, d: pathOf(movedContours(p.contours, move), under) })));
  }
  const origin = at(placePoint(part, ghost.at));
  for (const arm of state.fits?.arms ?? []) {
    const [x, y] = at([placePoint(part, ghost.at)[0] + arm[0], placePoint(part, ghost.at)[1] + arm[1]]), r = 2.6 * px;
    out.push(ghost.fits === false ? vector('path', { class: 'bolt', d: `M${x - r} ${y - r}L${x + r} ${y + r}M${x - r} ${y + r}L${x + r} ${y - r}` })
      : vector('circle', { class: 'bolt', cx: x, cy: y, r }));
  }
  out.push(vector('circle', { class: 'origin', cx: origin[0], cy: origin[1], r: 1.6 * px }));
  return out;
}

function movement(part, ghost) {
  const from = placePoint(part, part.at), to = placePoint(part, ghost.at);
  const a = part.plane.ccw * (ghost.turn - part.turn) * Math.PI / 180, [c, s] = [Math.cos(a), Math.sin(a)];
  return ([x, y]) => {
    const [u, v] = [x - from[0], y - from[1]];
    return [to[0] + u * c - v * s, to[1] + u * s + v * c];
  };
}

const movedContours = (contours, move) => contours.map((edges) => edges.map((e) => (
  e.length === 2 ? move(e) : [...move([e[0], e[1]]), ...move([e[2], e[3]]), e[4]])));

// ------------------------------------------------------------------------------------------------------- names, numbers
const ruler = document.createElement('canvas').getContext('2d');

function names(deck, at, px) {
  ruler.font = `600 11px ${getComputedStyle(plan).fontFamily}`;
  const taken = [], out = [];
  const room = (p) => {
    const xs = p.contours.flat().map((e) => e[1]), ys = p.contours.flat().map((e) => e[0]);
    return [(Math.max(...xs) - Math.min(...xs)) / px, (Math.max(...ys) - Math.min(...ys)) / px];
  };
  const first = (p) => (p.name === state.chosen ? 0 : p.name === state.over ? 1 : 2);
  const area = (p) => room(p)[0] * room(p)[1];
  for (const part of [...deck.parts].sort((a, b) => first(a) - first(b) || area(a) - area(b))) {
    const width = ruler.measureText(part.name).width + 6, [x, y] = at(part.anchor), must = first(part) < 2;
    const box = [x / px - width / 2, y / px - 7, x / px + width / 2, y / px + 7];
    const [wide, high] = room(part);
    if (!must && (width > wide + 34 || high < 10)) continue;
    if (taken.some((t) => box[0] < t[2] && t[0] < box[2] && box[1] < t[3] && t[1] < box[3])) continue;
    taken.push(box);
    out.push(vector('g', { class: `label ${part.face}${must ? ' must' : ''}` },
      vector('rect', { x: x - width / 2 * px, y: y - 7 * px, width: width * px, height: 14 * px, rx: 2 * px }),
      words(part.name, [x, y + 4 * px], 'name')));
  }
  return out;
}

function pins(deck, at, px) {
  const out = [], numbers = numbersByOwner();
  const place = (p, list) => {
    let [x, y] = at(p);
    x += 4 * px;
    y -= 9 * px;
    for (const [n, severity] of fewest(list)) {
      const wide = (7 + 6 * String(n).length) * px, node = vector('g', { class: `pin ${severity}` });
      if (severity === 'error') node.append(vector('rect', { x, y: y - 12 * px, width: wide, height: 13 * px }));
      else if (severity === 'warning') node.append(vector('rect', { x, y: y - 12 * px, width: wide, height: 13 * px, rx: 6.5 * px }));
      node.append(words(String(n), [x + wide / 2, y - 2 * px], 'pin-word'));
      out.push(node);
      x += wide + 2 * px;
    }
  };
  for (const part of deck.parts) if (numbers.has(part.name)) place(part.anchor, numbers.get(part.name));
  if (numbers.has(deck.name)) place([deck.bounds[2], (deck.bounds[1] + deck.bounds[3]) / 2], numbers.get(deck.name));
  return out;
}

// --------------------------------------------------------------------------------------------------------------- hands
// The smallest part under a pointer.
function partUnder(event) {
  const found = document.elementsFromPoint(event.clientX, event.clientY).map((n) => n.closest?.('[data-part]')).filter((n) => n && plan.contains(n));
  const area = (n) => {
    const box = n.getBoundingClientRect();
    return box.width * box.height;
  };
  return found.length ? found.reduce((a, b) => (area(b) < area(a) ? b : a)).dataset.part : null;
}

function deckRow() {
  const turn = element('button', { type: 'button', 'aria-pressed': String(state.under), title: 'as the plate lies when it is turned over, left and right changed',
    onclick: () => showDeck(state.deck, !state.under) }, 'turned over');
  document.getElementById('way').textContent = state.under ? '↑ front, seen from below' : '↑ front';
  deckButtons.replaceChildren(...state.picture.decks.map((d) => element('button', { type: 'button', 'aria-pressed': String(d.name === state.deck),
    onclick: () => showDeck(d.name, state.under) }, d.name)), turn);
}

export let showDeck = () => {};

export function startPlan(changed) {
  showDeck = (name, under) => {
    [state.deck, state.under] = [name, under];
    changed('deck');
  };
  plan.addEventListener('pointermove', (e) => hoverOver(partUnder(e)));
  plan.addEventListener('pointerleave', () => hoverOver(null));
  plan.addEventListener('pointerdown', (e) => { pressed = [e.clientX, e.clientY]; });
  plan.addEventListener('click', (e) => {
    if (!state.picture || (pressed && Math.hypot(e.clientX - pressed[0], e.clientY - pressed[1]) > 5)) return;
    const part = partUnder(e);
    if (!onClick(pointOn(e), part)) choose(part);
  });
  const again = () => {
    if (!state.picture) return;
    layOut(shownDeck());
    drawPlan();
  };
  whenChanged(['picture', 'deck', 'verdict', 'legend', 'chosen', 'over', 'ghost', 'outcome'], (topics) => {
    if (!state.picture) return;
    if (!deckOf(state.deck)) state.deck = state.picture.base_deck;
    if (topics.has('picture') || topics.has('deck')) deckRow();
    if (topics.size === 1 && topics.has('over') && !manyEyes()) hoverPlan();
    else again();
  });
  new ResizeObserver(again).observe(plan);
}
