// What sensors look at, in their own frames: a fan, a pyramid, a cone. Drawn a little past the robot, not to their range.
import { put } from './space.js';

const arc = (radius, from, to) => {
  const count = Math.max(2, Math.ceil((to - from) / (Math.PI / 60)));
  return Array.from({ length: count + 1 }, (_, k) => {
    const a = from + (to - from) * k / count;
    return [radius * Math.cos(a), radius * Math.sin(a), 0];
  });
};

// How far views are drawn around a robot that reaches so far.
export const reachOf = (eye, extent) => Math.min(eye.reach ?? Infinity, (eye.kind === 'lidar' ? 0.58 : 0.5) * extent + 40);

// `edges`: runs of points; `fans`: areas from the origin; `strokes`: beams that the robot blocks. In ground axes.
export function sightOf(eye, extent) {
  const r = reachOf(eye, extent), out = (points) => points.map((p) => put(eye.pose, p));
  if (eye.kind === 'lidar') {
    const round = eye.fov > 2 * Math.PI - 1e-6, rim = arc(r, -eye.fov / 2, eye.fov / 2);
    const strokes = [];
    for (const [from, to] of eye.blocked) {
      const count = Math.max(1, Math.round((to - from) / (Math.PI / 90)));
      for (let k = 0; k <= count; k++) {
        const a = from + (to - from) * k / count;
        strokes.push(out([[0.55 * r * Math.cos(a), 0.55 * r * Math.sin(a), 0], [r * Math.cos(a), r * Math.sin(a), 0]]));
      }
    }
    const edges = [out(rim)];
    if (!round) edges.push(out([rim[0], [0, 0, 0], rim[rim.length - 1]]));
    return { edges, strokes, fans: [[put(eye.pose, [0, 0, 0]), ...out(rim)]], dashed: false };
  }
  if (eye.kind === 'ranger') {
    const half = eye.fov / 2, ring = Array.from({ length: 33 }, (_, k) => {
      const a = 2 * Math.PI * k / 32;
      return [r * Math.cos(half), r * Math.sin(half) * Math.cos(a), r * Math.sin(half) * Math.sin(a)];
    });
    const edges = [out(ring), ...[0, 8, 16, 24].map((k) => out([[0, 0, 0], ring[k]]))];
    return { edges, strokes: [], fans: [[put(eye.pose, [0, 0, 0]), ...out(ring)]], dashed: true };
  }
  if (eye.kind === 'none' || !eye.fov) return { edges: [], strokes: [], fans: [], dashed: false };
  const w = Math.tan(eye.fov / 2), h = w * eye.aspect, long = r / Math.hypot(1, w, h);
  const corners = [[1, w, h], [1, -w, h], [1, -w, -h], [1, w, -h]].map((c) => c.map((v) => v * long));
  const edges = [out([...corners, corners[0]]), ...corners.map((c) => out([[0, 0, 0], c]))];
  return { edges, strokes: [], fans: [[put(eye.pose, [0, 0, 0]), ...out([...corners, corners[0]])]], dashed: false };
}
