// Moving a part by hand: a ghost goes ahead, and nothing is written before Enter.
import { ask } from './ask.js';
import { plan, placePoint, whenClicked } from './plan.js';
import { spotMark } from './marks.js';
import { changed, element, placement, say, state, vector, whenChanged } from './state.js';
import { list, step } from './words.js';

const room = document.getElementById('move'), told = document.getElementById('move-words'), keys = document.getElementById('plan-keys');
const undoButton = document.getElementById('undo'), redoButton = document.getElementById('redo');
const PAUSE = 160;  // ms of rest before a place is asked about
let timer = null, asking = false, again = false, writing = false;

const rounded = (v) => Math.round(v * 1e6) / 1e6;
const text = (v) => String(rounded(v));
const same = (a, b) => Math.abs(a[0] - b[0]) < 1e-6 && Math.abs(a[1] - b[1]) < 1e-6;
const turns = (ghost) => Math.abs(((ghost.turn - placement(ghost.of).turn) % 360 + 360) % 360) > 1e-6;
const about = (ghost) => `[${ghost.at.map(text).join(', ')}]${turns(ghost) ? `, turn ${text(((ghost.turn % 360) + 360) % 360)}°` : ''}`;

function why() {
  if (!state.picture?.edit) return null;
  if (!state.connected) return 'the server does not answer';
  if (state.trouble) return 'the file does not read; editing goes on when it does';
  return null;
}

// Begin to move the chosen part. Says why where that can't be.
async function pickUp() {
  const part = placement(state.chosen);
  if (!state.picture.edit || !part || state.ghost) return Boolean(state.ghost);
  const reason = why() ?? (part.locked ? `${part.name} ${part.locked}` : null);
  if (reason) {
    say(reason);
    tell([reason]);
    return false;
  }
  state.ghost = { of: part.name, at: [...part.at], turn: part.turn, fits: null, revision: state.picture.revision };
  state.outcome = state.fits = state.ranked = null;
  changed('ghost', 'outcome');
  await askFits();
  askRanked();
  return true;
}

export function drop(words) {
  if (!state.ghost) return;
  clearTimeout(timer);
  const { of } = state.ghost;
  state.ghost = state.fits = state.outcome = state.ranked = null;
  room.hidden = true;
  say(words ?? `${of} stays where it is; nothing was written`);
  changed('ghost', 'outcome');
}

async function askFits() {
  const { ghost } = state, found = await ask({ do: 'fits', of: ghost.of, turn: text(ghost.turn), revision: ghost.revision });
  if (state.ghost !== ghost || found.turn === undefined || Math.abs(found.turn - ghost.turn) > 1e-6) {
    if (state.ghost === ghost && found.refused) tell([found.refused]);
    return;
  }
  state.fits = found;
  weigh();
  changed('ghost');
}

// Which of the places are good: worked out while the ghost can be moved already, and asked for again until all are judged.
async function askRanked() {
  const { ghost } = state, found = await ask({ do: 'places', of: ghost.of, turn: text(ghost.turn), revision: ghost.revision });
  if (state.ghost !== ghost || found.turn === undefined || Math.abs(found.turn - ghost.turn) > 1e-6) return;
  state.ranked = found;
  weigh();
  if (room.hidden) tell([`${ghost.of} is at ${about(ghost)}`, ghost.words]);
  if (found.judged < found.tried) {
    changed('ghost');
    askRanked();
    return;
  }
  const open = found.spots.filter((s) => s.rank !== null).length;
  const here = same(ghost.at, placement(ghost.of).at) ? '' : `${ghost.of} at ${about(ghost)}: ${ghost.words}; `;  // it may have gone on meanwhile
  if (found.spots.length) say(`${here}${open} of ${found.spots.length} places where the bolts fit give no new error, ranked by ${found.by.map(criterion).join(', then ')}; B goes to the best`);
  changed('ghost');
}

const CRITERIA = { view: 'free view', tip: 'tip angle', com: 'shift of the centre of mass', footprint: 'footprint' };
const criterion = (name) => CRITERIA[name];

// What `places` says of where the ghost is.
function standing() {
  const { ghost, ranked } = state, here = ranked?.spots.find((s) => same(s.at, ghost.at));
  if (!here) return '';
  if (here.rank === null) return `the check would find ${here.refused} here`;
  if (ranked.judged < ranked.tried) return '';
  const better = ranked.spots.filter((s) => s.rank !== null && s.rank < here.rank).length, by = ranked.by.map(criterion).join(', then ');
  return better ? `${better} place${better === 1 ? ' is' : 's are'} better by ${by}` : `no place is better by ${by}`;
}

// The places that give no error, the best first, of equal ones the nearest to where the part is.
function inOrder(part) {
  const far = (s) => Math.hypot(s.at[0] - part.at[0], s.at[1] - part.at[1]);
  return (state.ranked?.spots ?? []).filter((s) => s.rank !== null).sort((a, b) => a.rank - b.rank || far(a) - far(b));
}

// Whether the bolts meet holes where the ghost is now.
function weigh() {
  const { ghost, fits } = state, here = fits?.places.find((p) => same(p.at, ghost.at));
  ghost.fits = !fits || !fits.bolted ? null : Boolean(here) && here.taken === null;
  ghost.words = !fits ? '' : !fits.bolted ? 'it is not bolted here' : !here ? 'its bolts meet no sound holes here' : here.taken ? `one of its holes is taken by ${here.taken}` : 'its bolts fit here';
  ghost.words = [ghost.words, standing()].filter(Boolean).join('; ');
}

function moved(at, turn) {
  const { ghost } = state, turning = turn !== ghost.turn;
  ghost.at = at.map(rounded);
  ghost.turn = turn;
  state.outcome = null;
  if (turning) state.fits = state.ranked = null;
  weigh();
  say(`${ghost.of} at ${about(ghost)}${ghost.words ? `: ${ghost.words}` : ''}`);
  tell([`${ghost.of} to ${about(ghost)}`, ghost.words, 'working it out …']);
  changed('ghost', 'outcome');
  if (turning) askFits().then(() => state.ghost === ghost && askRanked());
  clearTimeout(timer);
  timer = setTimeout(preview, PAUSE);
}

async function preview() {
  if (asking) {
    again = true;
    return;
  }
  const { ghost } = state;
  if (!ghost) return;
  asking = true;
  const [at, turn] = [ghost.at, ghost.turn];
  const found = await ask({ ...request('preview', ghost) });
  asking = false;
  if (state.ghost === ghost && ghost.at === at && ghost.turn === turn) {
    state.outcome = found.refused || found.nothing ? null : found;
    outcome(ghost, found);
    changed('outcome');
  }
  if (again) {
    again = false;
    preview();
  }
}

function request(task, ghost) {
  return { do: task, of: ghost.of, to: ghost.at.map(text), turn: turns(ghost) ? text(ghost.turn) : null, revision: ghost.revision };
}

function outcome(ghost, found) {
  if (found.refused) {
    tell([`${ghost.of} to ${about(ghost)}`, found.refused]);
    say(found.refused);
  } else if (found.nothing) tell([`${ghost.of} is there already`]);
  else {
    tell([`${ghost.of} to ${about(ghost)}`, ghost.words, ...found.along], found);
    const errors = found.errors ? `${found.errors} new error${found.errors === 1 ? '' : 's'}` : 'no new error';
    say([`${ghost.of} at ${about(ghost)}`, ghost.words, ...found.along, errors].filter(Boolean).join('; '));
  }
}

function tell(rows, found = null) {
  room.hidden = false;
  told.replaceChildren(...rows.filter(Boolean).map((row, k) => element('p', { class: k ? '' : 'first' }, row)),
    ...(found ? [element('pre', {}, found.words), element('pre', { class: 'patch' }, found.patch)] : []));
}

async function write() {
  const { ghost } = state;
  if (!ghost || writing) return;
  clearTimeout(timer);
  if (why()) {
    say(why());
    return;
  }
  writing = true;
  const found = await ask(request('write', ghost));
  writing = false;
  if (state.ghost !== ghost) return;
  if (found.refused) {
    tell([`${ghost.of} to ${about(ghost)}`, found.refused, 'Nothing was written.']);
    say(`${found.refused}; nothing was written`);
  } else drop(found.nothing ? `${ghost.of} is there already; nothing was written` : `written: ${ghost.of} is at ${about(ghost)}`);
}

async function goBack(task) {
  if (why()) {
    say(why());
    return;
  }
  drop();
  const found = await ask({ do: task, revision: state.picture.revision });
  say(found.refused ?? `${task === 'undo' ? 'taken back' : 'done again'}: ${found.words}`);
  if (found.refused) tell([found.refused]);
  else room.hidden = true;
}

// --------------------------------------------------------------------------------------------------------------- hands
// The step in holes that goes most nearly one way on the deck, as the plan shows it.
function towards(part, right, up) {
  const way = [up, (state.under ? right : -right)], { i, j } = part.plane;
  const steps = [[i, [1, 0]], [i, [-1, 0]], [j, [0, 1]], [j, [0, -1]]];
  const along = ([axis, [a, b]]) => (axis[0] * way[0] + axis[1] * way[1]) * (a + b) / Math.hypot(axis[0], axis[1]);
  return steps.reduce((best, s) => (along(s) > along(best) + 1e-9 ? s : best))[1];
}

const WAYS = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };

// The nearest place that fits further that way; sideways counts double, so that it keeps the line where it can.
function next(part, ghost, way) {
  const [a, b] = towards(part, ...way);
  const ahead = (p) => (p.at[0] - ghost.at[0]) * a + (p.at[1] - ghost.at[1]) * b;
  const aside = (p) => Math.abs((p.at[0] - ghost.at[0]) * b) + Math.abs((p.at[1] - ghost.at[1]) * a);
  const open = (state.fits?.places ?? []).filter((p) => p.taken === null && ahead(p) > 1e-6);
  return open.length ? open.reduce((best, p) => (ahead(p) + 2 * aside(p) < ahead(best) + 2 * aside(best) - 1e-9 ? p : best)).at : null;
}

async function key(event) {
  if (!state.picture?.edit) return;
  const inList = event.currentTarget === list, way = WAYS[event.key];
  const does = (work) => {
    event.preventDefault();
    event.stopPropagation();
    return work();
  };
  const letter = event.key.toLowerCase();
  if ((event.ctrlKey || event.metaKey) && !event.altKey) {
    if (letter === 'z') await does(() => goBack(event.shiftKey ? 'redo' : 'undo'));
    else if (letter === 'y') await does(() => goBack('redo'));
    return;
  }
  if (event.key === 'Escape' && state.ghost) await does(() => drop());
  else if (event.key === 'Enter') await does(async () => {
    if (state.ghost) await write();
    else if (await pickUp()) plan.focus();
  });
  else if (way && !(inList && !state.ghost)) {
    await does(async () => {
      const { altKey, shiftKey } = event;
      if (!state.ghost && !(await pickUp())) return;
      const part = placement(state.ghost.of), { ghost } = state;
      if (altKey) {
        const at = next(part, ghost, way);
        if (at) moved(at, ghost.turn);
        else say('no place that fits further that way');
      } else {
        const by = towards(part, ...way), far = shiftKey ? 0.5 : 1;
        moved([ghost.at[0] + by[0] * far, ghost.at[1] + by[1] * far], ghost.turn);
      }
    });
  } else if (letter === 'b' && !event.altKey) {
    await does(async () => {
      const back = event.shiftKey;
      if (!state.ghost && !(await pickUp())) return;
      const { ghost } = state, order = inOrder(placement(ghost.of));
      if (!order.length) {
        say(state.ranked ? 'no place is without an error' : 'the places are still being judged');
        return;
      }
      // Once among them, from one to the next; else to the best first.
      const to = ghost.nth !== undefined && same(order[ghost.nth]?.at ?? [], ghost.at) ? ghost.nth + (back ? -1 : 1) : 0;
      if (to >= 0 && to < order.length) {
        ghost.nth = to;
        moved(order[to].at, ghost.turn);
      } else say(back ? 'this is the best place' : 'this is the last place');
    });
  } else if (letter === 'r' && !event.altKey) {
    await does(async () => {
      if (!state.ghost && !(await pickUp())) return;
      const part = placement(state.ghost.of), seen = part.plane.ccw * (state.under ? -1 : 1);
      moved(state.ghost.at, rounded(state.ghost.turn + (event.shiftKey ? -90 : 90) * seen));
    });
  }
}

// In the list, up and down choose, as in any list.
function listKey(event) {
  if (state.ghost || event.altKey || event.ctrlKey || event.metaKey) return;
  const by = { ArrowDown: 1, ArrowUp: -1, ArrowRight: 1, ArrowLeft: -1, Home: -1e6, End: 1e6 }[event.key];
  if (by === undefined) return;
  event.preventDefault();
  step(by);
}

// A click moves the ghost to the nearest place that fits, or else to the nearest whole step from where the part is.
function clicked(point, partThere) {
  if (!state.picture.edit || !state.chosen) return false;
  if (!state.ghost && partThere) return false;
  const part = placement(state.chosen);
  if (part.locked || part.deck !== state.deck) return Boolean(state.ghost);
  plan.focus();
  const go = () => {
    if (!state.ghost) return;
    const { o, i, j } = part.plane, d = [point[0] - o[0], point[1] - o[1]], det = i[0] * j[1] - i[1] * j[0];
    const at = [(d[0] * j[1] - d[1] * j[0]) / det, (i[0] * d[1] - i[1] * d[0]) / det];
    const far = (p) => Math.hypot(...[0, 1].map((k) => placePoint(part, p)[k] - point[k]));
    const open = (state.fits?.places ?? []).filter((p) => p.taken === null).map((p) => p.at);
    const fit = open.length ? open.reduce((a, b) => (far(b) < far(a) ? b : a)) : null;
    const whole = at.map((v, k) => part.at[k] + Math.round(v - part.at[k]));
    moved(fit && far(fit) <= 0.75 * Math.hypot(...i) ? fit : whole, state.ghost.turn);
  };
  if (state.ghost) go();
  else pickUp().then((up) => up && go());
  return true;
}

function history() {
  const { history: found, picture } = state;
  document.getElementById('edit').hidden = !picture?.edit;
  keys.hidden = !picture?.edit;
  if (!picture?.edit) return;
  undoButton.disabled = !found?.undo || Boolean(why());
  redoButton.disabled = !found?.redo || Boolean(why());
  undoButton.textContent = found?.undo ? `undo: ${found.undo}` : 'undo';
  redoButton.textContent = found?.redo ? `redo: ${found.redo}` : 'redo';
  undoButton.title = found?.stopped ?? 'Ctrl+Z';
  keys.textContent = state.ghost ? 'arrows: one hole (Shift: half) · Alt+arrow: next place that fits · B: best place, again: the next · R: quarter turn · Enter writes · Esc drops'
    : why() ?? (state.chosen ? (placement(state.chosen)?.locked ? `${state.chosen} ${placement(state.chosen).locked}` : `Enter or an arrow picks ${state.chosen} up`)
      : 'choose a part here or in the list; Enter picks it up');
}

// What the spots on the plan mean, while there are any.
function spots() {
  const { ranked } = state, row = document.getElementById('plan-spots');
  row.hidden = !state.ghost || !ranked?.spots.length;
  if (row.hidden) return;
  const sign = (good, words) => element('span', { class: 'sign-word' },
    vector('svg', { viewBox: '0 0 22 16', class: 'swatch spots', 'aria-hidden': 'true' }, spotMark([11, 8], good, 1)), words);
  row.replaceChildren(element('span', {}, `places by ${ranked.by.map(criterion).join(', then ')}${ranked.judged < ranked.tried ? `, ${ranked.judged} of ${ranked.tried} judged` : ''}:`), sign(1, 'best'), sign(0.6, 'good'), sign(0.1, 'last that fits'), sign(null, 'bolts fit, an error would come'));
}

export function startGhost() {
  plan.addEventListener('keydown', key);
  list.addEventListener('keydown', listKey);
  list.addEventListener('keydown', key);
  whenClicked(clicked);
  undoButton.addEventListener('click', () => goBack('undo'));
  redoButton.addEventListener('click', () => goBack('redo'));
  whenChanged(['picture', 'history', 'trouble', 'connected', 'chosen', 'ghost'], (topics) => {
    if (state.ghost && state.ghost.revision !== state.picture?.revision && !writing) drop('the file has changed; the move was dropped');
    if (topics.has('chosen') && !state.ghost) room.hidden = true;
    if (topics.has('history') && state.history?.stopped) say(state.history.stopped);
    history();
    spots();
  });
}
