// Solids as faces and as the lines that a draughtsman would draw: edges, and outlines that depend on where one looks from.
import { add, back, cross, dot, norm, origin, put, scale, sub, turned, unit } from './space.js';

const ROUND = 40, RINGS = 14;

// Triangles gathered for one drawing; `id` says whose they are.
export class Faces {
  constructor() {
    this.position = []; this.normal = []; this.color = []; this.id = [];
  }

  corner(p, n, color, id) {
    this.position.push(p[0], p[1], p[2]);
    this.normal.push(n[0], n[1], n[2]);
    this.color.push(color[0], color[1], color[2]);
    this.id.push(id);
  }

  triangle(a, b, c, normals, color, id) {
    this.corner(a, normals[0], color, id);
    this.corner(b, normals[1] ?? normals[0], color, id);
    this.corner(c, normals[2] ?? normals[0], color, id);
  }
}

// Lines gathered for one drawing: pairs of ends; where a run begins, its dashes begin.
export class Lines {
  constructor() {
    this.a = []; this.b = []; this.side = []; this.along = []; this.color = [];
  }

  line(p, q, color, from = 0) {
    const length = norm(sub(q, p));
    for (const [here, there, side, along] of [[p, q, 1, from], [p, q, -1, from], [q, p, -1, from + length], [q, p, -1, from + length],
      [p, q, -1, from], [q, p, 1, from + length]]) {
      this.a.push(here[0], here[1], here[2]);
      this.b.push(there[0], there[1], there[2]);
      this.side.push(side);
      this.along.push(along);
      this.color.push(color[0], color[1], color[2]);
    }
    return from + length;
  }

  run(points, color, closed = false) {
    let from = 0;
    for (let k = 0; k + 1 < points.length; k++) from = this.line(points[k], points[k + 1], color, from);
    if (closed && points.length > 2) this.line(points[points.length - 1], points[0], color, from);
  }
}

const circle = (pose, radius, z, count = ROUND) => Array.from({ length: count }, (_, k) => {
  const a = 2 * Math.PI * k / count;
  return put(pose, [radius * Math.cos(a), radius * Math.sin(a), z]);
});

// One body: [owner, role, kind, size, pose].
export function solid(body, color, ink, id, faces, lines) {
  const [, , kind, size, pose] = body;
  if (kind === 'box') box(size, pose, color, ink, id, faces, lines);
  else if (kind === 'cylinder') cylinder(size, pose, color, ink, id, faces, lines);
  else if (kind === 'sphere') sphere(size[0], pose, color, id, faces);
  else for (const corners of size) face(corners.map((c) => put(pose, c)), color, ink, id, faces, lines);
}

function face(corners, color, ink, id, faces, lines) {
  const n = unit(cross(sub(corners[1], corners[0]), sub(corners[2], corners[0])));
  for (let k = 1; k + 1 < corners.length; k++) faces.triangle(corners[0], corners[k], corners[k + 1], [n], color, id);
  lines.run(corners, ink, true);
}

function box(size, pose, color, ink, id, faces, lines) {
  const [x, y, z] = size.map((v) => v / 2);
  const at = (i) => put(pose, [i & 1 ? x : -x, i & 2 ? y : -y, i & 4 ? z : -z]);
  const c = [0, 1, 2, 3, 4, 5, 6, 7].map(at);
  const sides = [[0, 4, 6, 2], [1, 3, 7, 5], [0, 1, 5, 4], [2, 6, 7, 3], [0, 2, 3, 1], [4, 5, 7, 6]];
  for (const [i, j, k, l] of sides) {
    const n = unit(cross(sub(c[j], c[i]), sub(c[k], c[i])));
    faces.triangle(c[i], c[j], c[k], [n], color, id);
    faces.triangle(c[i], c[k], c[l], [n], color, id);
  }
  for (const [i, j] of [[0, 1], [2, 3], [4, 5], [6, 7], [0, 2], [1, 3], [4, 6], [5, 7], [0, 4], [1, 5], [2, 6], [3, 7]]) {
    lines.line(c[i], c[j], ink);
  }
}

function cylinder([radius, length], pose, color, ink, id, faces, lines) {
  const low = circle(pose, radius, -length / 2), high = circle(pose, radius, length / 2);
  const up = turned(pose, [0, 0, 1]), down = scale(up, -1);
  const bottom = put(pose, [0, 0, -length / 2]), top = put(pose, [0, 0, length / 2]);
  for (let k = 0; k < ROUND; k++) {
    const n = (k + 1) % ROUND;
    const out = unit(sub(low[k], bottom)), next = unit(sub(low[n], bottom));
    faces.triangle(low[k], low[n], high[n], [out, next, next], color, id);
    faces.triangle(low[k], high[n], high[k], [out, next, out], color, id);
    faces.triangle(bottom, low[n], low[k], [down], color, id);
    faces.triangle(top, high[k], high[n], [up], color, id);
  }
  lines.run(low, ink, true);
  lines.run(high, ink, true);
}

function sphere(radius, pose, color, id, faces) {
  const at = (i, k) => {
    const a = Math.PI * i / RINGS, b = 2 * Math.PI * k / ROUND;
    return [Math.sin(a) * Math.cos(b), Math.sin(a) * Math.sin(b), Math.cos(a)];
  };
  for (let i = 0; i < RINGS; i++) {
    for (let k = 0; k < ROUND; k++) {
      const n = [at(i, k), at(i + 1, k), at(i + 1, k + 1), at(i, k + 1)].map((v) => turned(pose, v));
      const p = n.map((v) => add(origin(pose), scale(v, radius)));
      if (i + 1 < RINGS) faces.triangle(p[0], p[1], p[2], [n[0], n[1], n[2]], color, id);
      if (i > 0) faces.triangle(p[0], p[2], p[3], [n[0], n[2], n[3]], color, id);
    }
  }
}

// A deck: its face pulled down by its thickness, holes and all.
export function plate(deck, color, rim, ink, id, faces, lines) {
  const { pose, thickness, face: { loops, triangles } } = deck;
  const flat = loops.flat();
  const corner = (k, z) => put(pose, [flat[2 * k], flat[2 * k + 1], z]);
  const up = turned(pose, [0, 0, 1]), down = scale(up, -1);
  for (let k = 0; k < triangles.length; k += 3) {
    const [a, b, c] = triangles.slice(k, k + 3);
    faces.triangle(corner(a, 0), corner(b, 0), corner(c, 0), [up], color, id);
    faces.triangle(corner(a, -thickness), corner(c, -thickness), corner(b, -thickness), [down], color, id);
  }
  let first = 0;
  for (const loop of loops) {
    const count = loop.length / 2;
    const top = Array.from({ length: count }, (_, k) => corner(first + k, 0));
    const low = Array.from({ length: count }, (_, k) => corner(first + k, -thickness));
    for (let k = 0; k < count; k++) {
      const n = (k + 1) % count, before = (k + count - 1) % count;
      const out = unit(cross(sub(top[n], top[k]), up));
      faces.triangle(low[k], low[n], top[n], [out], rim, id);
      faces.triangle(low[k], top[n], top[k], [out], rim, id);
      // A corner that one can feel is an edge.
      if (dot(out, unit(cross(sub(top[k], top[before]), up))) < 0.9) lines.line(low[k], top[k], ink);
    }
    lines.run(top, ink, true);
    lines.run(low, ink, true);
    first += count;
  }
}

// Where round bodies turn away from an eye: two lines of a cylinder, a ring of a ball.
export function outline(body, eye, ink, lines) {
  const [, , kind, size, pose] = body;
  const from = back(pose, eye);
  if (kind === 'cylinder') {
    const [radius, length] = size, away = Math.hypot(from[0], from[1]);
    if (away <= radius) return;
    const middle = Math.atan2(from[1], from[0]), half = Math.acos(radius / away);
    for (const a of [middle - half, middle + half]) {
      const [x, y] = [radius * Math.cos(a), radius * Math.sin(a)];
      lines.line(put(pose, [x, y, -length / 2]), put(pose, [x, y, length / 2]), ink);
    }
  } else if (kind === 'sphere') {
    const away = norm(from), radius = size[0];
    if (away <= radius) return;
    const axis = unit(from), side = unit(cross(axis, Math.abs(axis[2]) < 0.9 ? [0, 0, 1] : [1, 0, 0])), other = cross(axis, side);
    const middle = scale(axis, radius * radius / away), ring = radius * Math.sqrt(1 - (radius / away) ** 2);
    lines.run(Array.from({ length: ROUND }, (_, k) => {
      const a = 2 * Math.PI * k / ROUND;
      return put(pose, add(middle, add(scale(side, ring * Math.cos(a)), scale(other, ring * Math.sin(a)))));
    }), ink, true);
  }
}
