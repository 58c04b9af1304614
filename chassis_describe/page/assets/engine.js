// Faces and lines on a canvas by WebGL, and whose face is under a point. Knows nothing of robots.

const FACE_VERTEX = `
attribute vec3 position; attribute vec3 normal; attribute vec3 color; attribute float id;
uniform mat4 view; varying vec3 paint; varying vec3 facing; varying float whose;
void main() { gl_Position = view * vec4(position, 1.0); paint = color; facing = normal; whose = id; }`;
const FACE_FRAGMENT = `
precision mediump float;
uniform float alpha; uniform bool picking; varying vec3 paint; varying vec3 facing; varying float whose;
void main() {
  if (picking) {
    float n = floor(whose + 0.5), high = floor(n / 256.0);
    gl_FragColor = vec4((n - high * 256.0) / 255.0, high / 255.0, 0.0, 1.0);
    return;
  }
  float light = 0.90 + 0.10 * dot(normalize(facing), normalize(vec3(0.35, 0.5, 0.8)));
  gl_FragColor = vec4(paint * light * alpha, alpha);
}`;
// A line is a strip as wide as the pen on the screen, whatever the distance.
const LINE_VERTEX = `
attribute vec3 a; attribute vec3 b; attribute float side; attribute float along; attribute vec3 color;
uniform mat4 view; uniform vec2 size; uniform float pen; uniform float nearer; varying vec3 paint; varying float run;
void main() {
  vec4 p = view * vec4(a, 1.0), q = view * vec4(b, 1.0);
  vec2 d = (q.xy / q.w - p.xy / p.w) * size;
  float l = length(d);
  d = l > 0.0001 ? d / l : vec2(1.0, 0.0);
  gl_Position = vec4(p.xy + vec2(-d.y, d.x) * side * pen / size * p.w, p.z - nearer * p.w, p.w);
  paint = color; run = along;
}`;
const LINE_FRAGMENT = `
precision mediump float;
uniform vec2 dash; uniform float alpha; varying vec3 paint; varying float run;
void main() {
  if (dash.x > 0.0 && mod(run, dash.x + dash.y) > dash.x) discard;
  gl_FragColor = vec4(paint * alpha, alpha);
}`;

export class Engine {
  // Null fields where the browser has no WebGL.
  constructor(canvas) {
    this.canvas = canvas;
    this.gl = canvas.getContext('webgl', { antialias: true, alpha: true, premultipliedAlpha: true });
    if (this.gl) this.prepare();
  }

  prepare() {
    const gl = this.gl;
    this.faceProgram = this.program(FACE_VERTEX, FACE_FRAGMENT);
    this.lineProgram = this.program(LINE_VERTEX, LINE_FRAGMENT);
    this.target = gl.createFramebuffer();
    this.batches = new Map();
  }

  program(vertex, fragment) {
    const gl = this.gl, program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program));
    return program;
  }

  // Take the place of what was kept under a name: arrays by the name of their attribute, three or one number a corner.
  keep(name, arrays) {
    const gl = this.gl;
    for (const { buffer } of Object.values(this.batches.get(name)?.buffers ?? {})) gl.deleteBuffer(buffer);
    const buffers = {};
    let count = 0;
    for (const [attribute, numbers] of Object.entries(arrays)) {
      const width = ['side', 'along', 'id'].includes(attribute) ? 1 : 3, buffer = gl.createBuffer();
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
      gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(numbers), gl.DYNAMIC_DRAW);
      buffers[attribute] = { buffer, width };
      count = numbers.length / width;
    }
    this.batches.set(name, { buffers, count });
  }

  // Other numbers for one attribute of what is kept, as many as there are.
  change(name, attribute, numbers) {
    const gl = this.gl;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.batches.get(name).buffers[attribute].buffer);
    gl.bufferSubData(gl.ARRAY_BUFFER, 0, new Float32Array(numbers));
  }

  draw(program, name) {
    const gl = this.gl, batch = this.batches.get(name);
    if (!batch || batch.count === 0) return;
    const used = [];
    for (const [attribute, { buffer, width }] of Object.entries(batch.buffers)) {
      const place = gl.getAttribLocation(program, attribute);
      if (place < 0) continue;
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
      gl.enableVertexAttribArray(place);
      gl.vertexAttribPointer(place, width, gl.FLOAT, false, 0, 0);
      used.push(place);
    }
    gl.drawArrays(gl.TRIANGLES, 0, batch.count);
    used.forEach((place) => gl.disableVertexAttribArray(place));
  }

  begin(view) {
    const gl = this.gl;
    this.view = view;
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.viewport(0, 0, this.canvas.width, this.canvas.height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    gl.disable(gl.CULL_FACE);
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
  }

  faces(name, { alpha = 1, picking = false } = {}) {
    const gl = this.gl, program = this.faceProgram;
    gl.useProgram(program);
    gl.uniformMatrix4fv(gl.getUniformLocation(program, 'view'), false, this.view);
    gl.uniform1f(gl.getUniformLocation(program, 'alpha'), alpha);
    gl.uniform1i(gl.getUniformLocation(program, 'picking'), picking ? 1 : 0);
    // Faces lie a little behind their own edges.
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.polygonOffset(1.5, 2);
    gl.depthMask(alpha === 1);
    this.draw(program, name);
    gl.depthMask(true);
    gl.disable(gl.POLYGON_OFFSET_FILL);
  }

  lines(name, { pen = 1, dash = [0, 0], alpha = 1, nearer = 0, through = false } = {}) {
    const gl = this.gl, program = this.lineProgram;
    gl.useProgram(program);
    gl.uniformMatrix4fv(gl.getUniformLocation(program, 'view'), false, this.view);
    gl.uniform2f(gl.getUniformLocation(program, 'size'), this.canvas.width, this.canvas.height);
    gl.uniform1f(gl.getUniformLocation(program, 'pen'), pen);
    gl.uniform1f(gl.getUniformLocation(program, 'nearer'), nearer);
    gl.uniform1f(gl.getUniformLocation(program, 'alpha'), alpha);
    gl.uniform2f(gl.getUniformLocation(program, 'dash'), dash[0], dash[1]);
    if (through) gl.disable(gl.DEPTH_TEST);
    gl.depthMask(false);
    this.draw(program, name);
    gl.depthMask(true);
    if (through) gl.enable(gl.DEPTH_TEST);
  }

  // The `id` of the face under a pixel of the canvas, 0 where there is none.
  pick(name, x, y) {
    const gl = this.gl, { width, height } = this.canvas;
    if (this.picture?.width !== width || this.picture?.height !== height) {
      this.picture = { width, height, color: gl.createTexture(), depth: gl.createRenderbuffer() };
      gl.bindTexture(gl.TEXTURE_2D, this.picture.color);
      gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, width, height, 0, gl.RGBA, gl.UNSIGNED_BYTE, null);
      gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.NEAREST);
      gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
      gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
      gl.bindRenderbuffer(gl.RENDERBUFFER, this.picture.depth);
      gl.renderbufferStorage(gl.RENDERBUFFER, gl.DEPTH_COMPONENT16, width, height);
      gl.bindFramebuffer(gl.FRAMEBUFFER, this.target);
      gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, this.picture.color, 0);
      gl.framebufferRenderbuffer(gl.FRAMEBUFFER, gl.DEPTH_ATTACHMENT, gl.RENDERBUFFER, this.picture.depth);
    }
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.target);
    gl.viewport(0, 0, width, height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.disable(gl.BLEND);
    this.faces(name, { picking: true });
    gl.enable(gl.BLEND);
    const found = new Uint8Array(4);
    gl.readPixels(x, height - 1 - y, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, found);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    return found[0] + 256 * found[1];
  }
}
