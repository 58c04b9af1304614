// The robot in the round: an ink drawing that turns. It shows and chooses, and never moves a part.
import { add, cross, lookingAt, norm, origin, perspective, projected, put, scale, sub, times, turned, unit } from './space.js';
import { badge, choose, element, eyesShown, fewest, hoverOver, numbersByOwner, placement, state, whenChanged } from './state.js';
import { Engine } from './engine.js';
import { Faces, Lines, outline, plate, solid } from './shapes.js';
import { sightOf } from './sight.js';

const canvas = document.getElementById('canvas'), labels = document.getElementById('labels');
const looks = document.getElementById('looks');
const HOME = { turn: 0.62, lift: 0.5, away: 1, shift: [0, 0, 0] };
const LOOKS = { corner: [0.62, 0.5], front: [0, 0.02], left: [Math.PI / 2, 0.02], above: [Math.PI, Math.PI / 2 - 0.001], below: [Math.PI, -Math.PI / 2 + 0.001] };
const FIELD = 0.42;  // of view, upright (rad): a long lens keeps shapes as they are in the plan
const camera = { ...HOME };
let engine = null, size = { middle: [0, 0, 0], extent: 200 }, owners = [], round = [], paint = null, matrix = null, queued = false, pointer = null;

const INK = {};
function inks() {
  const style = getComputedStyle(document.documentElement);
  for (const name of ['ink', 'grey', 'pale', 'hair', 'paper', 'blue', 'mist', 'ochre', 'sand', 'plate', 'rubber', 'metal']) {
    const text = style.getPropertyValue(`--${name}`).trim();
    INK[name] = [1, 3, 5].map((k) => parseInt(text.slice(k, k + 2), 16) / 255);
  }
}

function paintOf(owner, role) {
  if (role === 'standoff' || role === 'spacer') return INK.metal;
  if (role === 'wheel' || role === 'caster') return INK.rubber;
  return placement(owner)?.face === 'under' ? INK.sand : INK.mist;
}

const left = (owner) => state.hidden.has(placement(owner)?.deck ?? owner);

function build() {
  if (!engine?.gl || !state.picture) return;
  const faces = new Faces(), lines = new Lines();
  const { solids, decks, ground, frames } = state.picture;
  owners = [...new Set([...decks.map((d) => d.name), ...solids.map((s) => s[0])])];
  round = [];
  for (const body of solids) {
    if (left(body[0])) continue;
    solid(body, paintOf(body[0], body[1]), INK.ink, owners.indexOf(body[0]) + 1, faces, lines);
    round.push(body);
  }
  for (const deck of decks) {
    if (!state.hidden.has(deck.name)) plate(deck, INK.plate, INK.sand, INK.ink, owners.indexOf(deck.name) + 1, faces, lines);
  }
  engine.keep('faces', faces);
  engine.keep('lines', lines);
  paint = { id: faces.id, color: faces.color };
  dye();
  sights(eyesShown().filter((e) => !left(e.owner)));
  floor(ground);
  axes(frames);
  ghosts();
  redraw();
}

// What is chosen or under the pointer is blue.
function dye() {
  if (!paint) return;
  const marked = new Set([state.chosen, state.over].map((owner) => owners.indexOf(owner) + 1)), color = paint.color.slice();
  marked.delete(0);
  const blue = INK.blue.map((v) => 0.55 + 0.45 * v);
  if (marked.size) paint.id.forEach((id, k) => marked.has(id) && blue.forEach((v, c) => { color[3 * k + c] = v; }));
  engine.change('faces', 'color', color);
}

function sights(eyes) {
  const fans = new Faces(), edges = new Lines(), dashed = new Lines(), strokes = new Lines();
  for (const eye of eyes) {
    const seen = sightOf(eye, size.extent);
    for (const [from, ...rim] of seen.fans) {
      for (let k = 0; k + 1 < rim.length; k++) fans.triangle(from, rim[k], rim[k + 1], [[0, 0, 1]], INK.blue, 0);
    }
    seen.edges.forEach((run) => (seen.dashed ? dashed : edges).run(run, seen.dashed ? INK.grey : INK.blue));
    seen.strokes.forEach((run) => strokes.run(run, INK.ochre));
  }
  engine.keep('fans', fans);
  engine.keep('sight', edges);
  engine.keep('cones', dashed);
  engine.keep('blocked', strokes);
}

function floor(ground) {
  const foot = new Lines(), support = new Lines(), com = new Lines();
  if (ground && state.show.ground) {
    foot.run(ground.footprint.map(([x, y]) => [x, y, 0]), INK.ink, true);
    support.run(ground.support.map(([x, y]) => [x, y, 0]), INK.ink, true);
    if (ground.com) {
      const [x, y, z] = ground.com, r = 0.03 * size.extent;
      com.line([x - r, y, z], [x + r, y, z], INK.ink);
      com.line([x, y - r, z], [x, y + r, z], INK.ink);
      com.line([x, y, z + r], [x, y, 0], INK.ink);
      com.run(Array.from({ length: 24 }, (_, k) => [x + r / 2 * Math.cos(k * Math.PI / 12), y + r / 2 * Math.sin(k * Math.PI / 12), z]), INK.ink, true);
    }
  }
  engine.keep('footprint', foot);
  engine.keep('support', support);
  engine.keep('com', com);
}

// x in blue and whole, y in ochre and dashed, z in grey and dotted.
function axes(frames) {
  const long = 0.07 * size.extent;
  [['x', [long, 0, 0], INK.blue], ['y', [0, long, 0], INK.ochre], ['z', [0, 0, long], INK.grey]].forEach(([name, tip, ink]) => {
    const lines = new Lines();
    if (state.show.frames) {
      for (const [, , pose] of frames) lines.line(origin(pose), put(pose, tip), ink);
    }
    engine.keep(`axis ${name}`, lines);
  });
}

function ghosts() {
  const faces = new Faces(), lines = new Lines();
  for (const body of state.outcome?.solids ?? []) solid(body, INK.blue, INK.blue, 0, faces, lines);
  engine.keep('ghost', faces);
  engine.keep('ghost lines', lines);
}

function measure() {
  const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
  const take = (p, r) => p.forEach((v, k) => {
    low[k] = Math.min(low[k], v - r);
    high[k] = Math.max(high[k], v + r);
  });
  for (const deck of state.picture.decks) {
    const [x0, y0, x1, y1] = deck.bounds;
    [[x0, y0], [x0, y1], [x1, y0], [x1, y1]].forEach(([x, y]) => take(put(deck.pose, [x, y, 0]), 0));
  }
  for (const [, , kind, about, pose] of state.picture.solids) {
    take(origin(pose), kind === 'box' ? norm(about) / 2 : kind === 'hull' ? Math.max(...about.flat().map(norm)) : Math.max(...about.map((v) => v / 1.5)));
  }
  size = { middle: scale(add(low, high), 0.5), extent: Math.max(50, norm(sub(high, low))) };
}

// ------------------------------------------------------------------------------------------------------------ looking
function eyeAt() {
  const { turn, lift, away, shift } = camera;
  const toward = [Math.cos(turn) * Math.cos(lift), Math.sin(turn) * Math.cos(lift), Math.sin(lift)];
  const target = add(size.middle, shift), distance = away * size.extent * 0.41 / Math.tan(FIELD / 2) * Math.max(1, 0.95 / aspect());
  return { eye: add(target, scale(toward, distance)), target, distance, up: Math.abs(lift) > 1.56 ? scale([Math.cos(turn), Math.sin(turn), 0], -Math.sign(lift)) : [0, 0, 1] };
}

const aspect = () => Math.max(0.2, canvas.clientWidth / Math.max(1, canvas.clientHeight));

export function redraw() {
  if (!queued) {
    queued = true;
    requestAnimationFrame(() => {
      queued = false;
      draw();
    });
  }
}

function draw() {
  if (!engine?.gl || !state.picture) return;
  const ratio = Math.min(window.devicePixelRatio || 1, 2);
  const [w, h] = [canvas.clientWidth, canvas.clientHeight].map((v) => Math.max(1, Math.round(v * ratio)));
  if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
  const { eye, target, distance, up } = eyeAt();
  matrix = times(perspective(FIELD, w / h, distance * 0.05, distance + 6 * size.extent), lookingAt(eye, target, up));
  const limbs = new Lines();
  round.forEach((body) => outline(body, eye, INK.ink, limbs));
  engine.keep('limbs', limbs);
  const mm = 1.6 * size.extent / 400;  // dashes grow with the robot
  engine.begin(matrix);
  engine.lines('footprint', { pen: 1.3 * ratio, dash: [7 * mm, 4 * mm] });
  engine.lines('support', { pen: 1.3 * ratio, dash: [1.5 * mm, 3 * mm] });
  engine.faces('faces');
  engine.lines('lines', { pen: 0.9 * ratio });
  engine.lines('limbs', { pen: 0.9 * ratio, nearer: 0.0002 });
  engine.faces('fans', { alpha: 0.05 });
  engine.lines('sight', { pen: 1.1 * ratio, alpha: 0.8 });
  engine.lines('cones', { pen: 1 * ratio, dash: [5 * mm, 3 * mm] });
  engine.lines('blocked', { pen: 1.2 * ratio });
  engine.lines('com', { pen: 1 * ratio, through: true });
  engine.faces('ghost', { alpha: 0.25 });
  engine.lines('ghost lines', { pen: 1.1 * ratio, through: true });
  engine.lines('axis x', { pen: 2 * ratio, through: true });
  engine.lines('axis y', { pen: 2 * ratio, dash: [2.6 * mm, 1.6 * mm], through: true });
  engine.lines('axis z', { pen: 2 * ratio, dash: [0.9 * mm, 1.1 * mm], through: true });
  place();
}

// Names and numbers over the drawing.
function place() {
  labels.replaceChildren();
  const at = (p) => projected(matrix, p, canvas.clientWidth, canvas.clientHeight);
  const stick = (node, p) => {
    const found = at(p);
    if (!found) return;
    node.style.left = `${found[0]}px`;
    node.style.top = `${found[1]}px`;
    labels.append(node);
  };
  if (state.show.findings) {
    for (const [owner, numbers] of numbersByOwner()) {
      const point = middleOf(owner);
      if (point && !left(owner)) stick(element('span', { class: 'pins' }, ...fewest(numbers).map(([n, severity]) => badge(n, severity))), point);
    }
  }
  if (state.chosen && !left(state.chosen)) {
    const point = middleOf(state.chosen);
    if (point) stick(element('span', { class: 'name' }, state.chosen), point);
  }
}

function middleOf(owner) {
  const bodies = state.picture.solids.filter((s) => s[0] === owner && s[1] !== 'standoff');
  const deck = state.picture.decks.find((d) => d.name === owner);
  if (deck) return put(deck.pose, [deck.bounds[2], (deck.bounds[1] + deck.bounds[3]) / 2, 0]);
  return bodies.length ? scale(bodies.map((b) => origin(b[4])).reduce(add), 1 / bodies.length) : null;
}

// --------------------------------------------------------------------------------------------------------------- hands
function under(event) {
  const box = canvas.getBoundingClientRect(), ratio = canvas.width / box.width;
  const id = engine.pick('faces', Math.round((event.clientX - box.left) * ratio), Math.round((event.clientY - box.top) * ratio));
  return id ? owners[id - 1] : null;
}

// Frames under the pointer, by name; only while they are shown.
export function framesNear(x, y) {
  if (!state.show.frames || !matrix) return [];
  const box = canvas.getBoundingClientRect();
  return state.picture.frames.filter(([, , pose]) => {
    const p = projected(matrix, origin(pose), box.width, box.height);
    return p && Math.hypot(p[0] + box.left - x, p[1] + box.top - y) < 9;
  }).map(([name]) => name);
}

function orbit(dx, dy) {
  camera.turn -= dx;
  camera.lift = Math.max(-1.55, Math.min(1.55, camera.lift + dy));
  redraw();
}

function pan(dx, dy) {
  const { eye, target, distance, up } = eyeAt(), z = unit(sub(eye, target)), x = unit(cross(up, z)), y = cross(z, x);
  const k = 2 * distance * Math.tan(FIELD / 2) / Math.max(1, canvas.clientHeight);
  camera.shift = add(camera.shift, add(scale(x, -dx * k), scale(y, dy * k)));
  redraw();
}

function zoom(factor) {
  camera.away = Math.max(0.08, Math.min(6, camera.away * factor));
  redraw();
}

function listen() {
  canvas.addEventListener('pointerdown', (e) => {
    pointer = { x: e.clientX, y: e.clientY, moved: 0, pan: e.button !== 0 || e.shiftKey };
    canvas.setPointerCapture(e.pointerId);
  });
  canvas.addEventListener('pointermove', (e) => {
    if (pointer) {
      const [dx, dy] = [e.clientX - pointer.x, e.clientY - pointer.y];
      pointer.moved += Math.abs(dx) + Math.abs(dy);
      pointer.x = e.clientX;
      pointer.y = e.clientY;
      if (pointer.pan) pan(dx, dy);
      else orbit(dx * 0.008, dy * 0.008);
    } else if (state.picture && engine?.gl) hoverOver(under(e));
  });
  canvas.addEventListener('pointerup', (e) => {
    const clicked = pointer && pointer.moved < 4;
    pointer = null;
    if (clicked && state.picture && engine?.gl) choose(under(e));
  });
  canvas.addEventListener('pointercancel', () => { pointer = null; });
  canvas.addEventListener('pointerleave', () => hoverOver(null));
  canvas.addEventListener('contextmenu', (e) => e.preventDefault());
  canvas.addEventListener('wheel', (e) => {
    e.preventDefault();
    zoom(Math.exp(Math.max(-0.3, Math.min(0.3, e.deltaY * 0.0015))));
  }, { passive: false });
  const keys = { ArrowLeft: () => orbit(-0.12, 0), ArrowRight: () => orbit(0.12, 0), ArrowUp: () => orbit(0, 0.12), ArrowDown: () => orbit(0, -0.12),
    '+': () => zoom(0.85), '=': () => zoom(0.85), '-': () => zoom(1.18), 0: () => look('corner') };
  canvas.addEventListener('keydown', (e) => {
    const does = keys[e.key];
    if (!does || e.ctrlKey || e.metaKey || e.altKey) return;
    e.preventDefault();
    does();
  });
  canvas.addEventListener('webglcontextlost', (e) => e.preventDefault());
  canvas.addEventListener('webglcontextrestored', () => {
    engine.prepare();
    engine.picture = null;
    build();
  });
  new ResizeObserver(redraw).observe(canvas);
}

export function look(name) {
  [camera.turn, camera.lift] = LOOKS[name];
  camera.away = 1;
  camera.shift = [0, 0, 0];
  redraw();
}

export function startModel() {
  inks();
  engine = new Engine(canvas);
  if (!engine.gl) {
    document.getElementById('model').append(element('p', { class: 'empty' }, 'This browser shows no WebGL, so there is nothing in the round; the plan has all parts.'));
  }
  looks.append(...Object.keys(LOOKS).map((name) => element('button', { type: 'button', onclick: () => look(name) }, name)));
  listen();
  let known = null;
  whenChanged(['picture', 'chosen', 'over', 'legend', 'outcome', 'verdict'], (topics) => {
    if (!state.picture || !engine.gl) return;
    if (topics.has('picture') || topics.has('legend') || state.picture !== known) {
      if (state.picture !== known) measure();
      known = state.picture;
      build();
      return;
    }
    if (topics.has('chosen') || topics.has('over')) {
      dye();
      sights(eyesShown().filter((e) => !left(e.owner)));
    }
    if (topics.has('outcome')) ghosts();
    redraw();
  });
}
