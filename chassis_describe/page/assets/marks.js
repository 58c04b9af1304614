// Signs of the plan: outlines as SVG paths, what holes are used by, arrows. Shape tells, colour helps.
import { vector } from './state.js';

// Coordinates of a deck (x forward, y left) on the page (right, down); turned over, left and right change places.
export const flat = (p, under) => [under ? p[1] : -p[1], -p[0]];

const number = (v) => Math.round(v * 1e3) / 1e3;
const written = (p) => `${number(p[0])} ${number(p[1])}`;

// Contours: [x, y] where a straight edge begins, [x, y, centre x, centre y, 1 or 0] where a round one does.
export function pathOf(contours, under, move = (p) => p) {
  return contours.map((edges) => {
    const starts = edges.map((e) => move([e[0], e[1]]));
    const out = [`M${written(flat(starts[0], under))}`];
    edges.forEach((edge, k) => {
      const end = starts[(k + 1) % starts.length], to = written(flat(end, under));
      if (edge.length === 2) out.push(`L${to}`);
      else {
        const next = edges[(k + 1) % edges.length], [x, y, cx, cy, left] = edge;
        let sweep = Math.atan2(next[1] - cy, next[0] - cx) - Math.atan2(y - cy, x - cx);
        if (left && sweep <= 0) sweep += 2 * Math.PI;
        if (!left && sweep >= 0) sweep -= 2 * Math.PI;
        const r = number(Math.hypot(x - cx, y - cy));
        // Counter-clockwise on the deck is against SVG's positive angles, turned over it is along them.
        out.push(`A${r} ${r} 0 ${Math.abs(sweep) > Math.PI ? 1 : 0} ${(left === 1) === under ? 1 : 0} ${to}`);
      }
    });
    return `${out.join('')}Z`;
  }).join('');
}

// A hole of its true size: filled (top face), hatched (under face), crossed (a standoff), open (free).
export function holeMark([x, y], r, sign, hair) {
  const [t, u, s] = ['t', 'u', 's'].map((c) => sign.includes(c));
  const parts = [vector('circle', { cx: x, cy: y, r, class: `hole ${t ? 'top' : u ? 'under' : s ? 'standoff' : 'free'}` })];
  if (t && u) parts.push(vector('circle', { cx: x, cy: y, r: r + 1.6 * hair, class: 'ring' }));
  else if (u) {
    for (const k of r < 4.5 * hair ? [0] : [-0.55, 0, 0.55]) {  // where it is small, one stroke still shows
      const d = Math.sqrt(1 - k * k) * r * Math.SQRT1_2, mx = x + k * r * Math.SQRT1_2, my = y + k * r * Math.SQRT1_2;
      parts.push(vector('path', { d: `M${mx - d} ${my + d}L${mx + d} ${my - d}`, class: 'hatch' }));
    }
  }
  if (s) {
    const d = (r + 1.6 * hair) * Math.SQRT1_2;
    parts.push(vector('path', { d: `M${x - d} ${y - d}L${x + d} ${y + d}M${x - d} ${y + d}L${x + d} ${y - d}`, class: 'cross' }));
  }
  return vector('g', {}, ...parts);
}

// An arrow from a point along a direction of the page.
export function arrow([x, y], [dx, dy], length, head, kind) {
  const [tx, ty] = [x + dx * length, y + dy * length], back = [tx - dx * head, ty - dy * head];
  return vector('path', { class: kind, d: `M${x} ${y}L${tx} ${ty}M${back[0] - dy * head * 0.5} ${back[1] + dx * head * 0.5}L${tx} ${ty}`
    + `L${back[0] + dy * head * 0.5} ${back[1] - dx * head * 0.5}` });
}

export const lozenge = ([x, y], r, kind) => vector('path', { class: kind, d: `M${x} ${y - r}L${x + r} ${y}L${x} ${y + r}L${x - r} ${y}Z` });

// A place that a part could go to: a square, since holes are round; the better, the larger and the fuller. A small cross where an error
// would come.
export function spotMark([x, y], good, px) {
  if (good === null) {
    const r = 2.6 * px;
    return vector('path', { class: 'spot refused', d: `M${x - r} ${y - r}L${x + r} ${y + r}M${x - r} ${y + r}L${x + r} ${y - r}` });
  }
  const half = (2.4 + 4 * good) * px;
  return vector('rect', { class: `spot ${good > 0.8 ? 'best' : good > 0.4 ? 'good' : 'poor'}`, x: x - half, y: y - half, width: 2 * half, height: 2 * half });
}
