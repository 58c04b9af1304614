// Puts the page together: what it was given, and, where it is served, what comes later.
import { listenTo } from './ask.js';
import { startGhost } from './ghost.js';
import { startModel } from './model.js';
import { startPlan } from './plan.js';
import { changed, placement, say, state } from './state.js';
import { startWords } from './words.js';

const given = JSON.parse(document.getElementById('data').textContent);

function take(kind, value) {
  state[kind] = value;
  if (kind === 'picture') {
    if (state.chosen && !placement(state.chosen)) state.chosen = null;
    if (!value.decks.some((d) => d.name === state.deck)) state.deck = value.base_deck;
  }
  if (kind === 'trouble' && value) say(`the file does not read: ${value.words || value.findings[0]?.message}`);
  if (kind === 'verdict') say(`the check: ${value.count}`);
  changed(kind);
}

startModel();
startPlan(changed);
startWords();
startGhost();
if (given.start) {
  state.deck = given.start.deck;
  state.under = given.start.under;
}
for (const kind of ['picture', 'verdict']) if (given[kind]) take(kind, given[kind]);
if (!given.picture) {
  listenTo(['picture', 'verdict', 'trouble', 'history'], take, (on) => {
    if (state.connected !== on) {
      state.connected = on;
      changed('connected');
    }
  });
}
