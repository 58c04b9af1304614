// Points, and poses as twelve numbers: the rotation row by row, then the shift. Millimetres.

export const add = (a, b) => [a[0] + b[0], a[1] + b[1], a[2] + b[2]];
export const sub = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
export const scale = (a, k) => [a[0] * k, a[1] * k, a[2] * k];
export const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
export const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
export const norm = (a) => Math.hypot(a[0], a[1], a[2]);
export const unit = (a) => scale(a, 1 / (norm(a) || 1));

// The point v of the inner frame, in the outer one.
export const put = (p, v) => [
  p[0] * v[0] + p[1] * v[1] + p[2] * v[2] + p[9],
  p[3] * v[0] + p[4] * v[1] + p[5] * v[2] + p[10],
  p[6] * v[0] + p[7] * v[1] + p[8] * v[2] + p[11]];

// The direction v of the inner frame, in the outer one.
export const turned = (p, v) => [
  p[0] * v[0] + p[1] * v[1] + p[2] * v[2],
  p[3] * v[0] + p[4] * v[1] + p[5] * v[2],
  p[6] * v[0] + p[7] * v[1] + p[8] * v[2]];

// The point v of the outer frame, in the inner one.
export const back = (p, v) => {
  const d = [v[0] - p[9], v[1] - p[10], v[2] - p[11]];
  return [p[0] * d[0] + p[3] * d[1] + p[6] * d[2], p[1] * d[0] + p[4] * d[1] + p[7] * d[2],
    p[2] * d[0] + p[5] * d[1] + p[8] * d[2]];
};

export const origin = (p) => [p[9], p[10], p[11]];

// Four by four, column by column, as WebGL takes them.
export function times(a, b) {
  const out = new Float32Array(16);
  for (let c = 0; c < 4; c++) {
    for (let r = 0; r < 4; r++) {
      let sum = 0;
      for (let k = 0; k < 4; k++) sum += a[k * 4 + r] * b[c * 4 + k];
      out[c * 4 + r] = sum;
    }
  }
  return out;
}

export function perspective(angle, aspect, near, far) {
  const f = 1 / Math.tan(angle / 2);
  return new Float32Array([f / aspect, 0, 0, 0, 0, f, 0, 0, 0, 0, (far + near) / (near - far), -1, 0, 0,
    2 * far * near / (near - far), 0]);
}

export function lookingAt(eye, target, up) {
  const z = unit(sub(eye, target)), x = unit(cross(up, z)), y = cross(z, x);
  return new Float32Array([x[0], y[0], z[0], 0, x[1], y[1], z[1], 0, x[2], y[2], z[2], 0, -dot(x, eye), -dot(y, eye), -dot(z, eye), 1]);
}

// Where a point is in a picture of so many pixels; null behind the eye.
export function projected(m, p, width, height) {
  const w = m[3] * p[0] + m[7] * p[1] + m[11] * p[2] + m[15];
  if (w <= 0) return null;
  const x = m[0] * p[0] + m[4] * p[1] + m[8] * p[2] + m[12], y = m[1] * p[0] + m[5] * p[1] + m[9] * p[2] + m[13];
  return [(x / w + 1) / 2 * width, (1 - y / w) / 2 * height];
}
