// The stack drawn with WebGL2, when something has changed and not before.
import { companion, companionMesh, meshOf, type Beside, type Mesh } from "./geometry";
import { looking, through, type Box, type Matrix, type Point } from "./camera";
import type { Material, Preview } from "./shapes";

const VERTEX = `#version 300 es
layout(location=0) in vec3 place; layout(location=1) in vec3 normal;
uniform mat4 eye; uniform vec3 shift; uniform float press;
out vec3 at; out vec3 facing;
void main() { at = place; facing = normal; vec3 p = vec3(place.xy, place.z * press) + shift; gl_Position = eye * vec4(p, 1.0); }`;

const FRAGMENT = `#version 300 es
precision highp float;
in vec3 at; in vec3 facing; out vec4 colour;
uniform vec3 paint; uniform float grain; uniform vec2 glint;
float dice(vec2 p) { return fract(sin(dot(p, vec2(12.9898, 78.233))) * 43758.5453); }
float cloud(vec2 p) {
  vec2 i = floor(p), f = fract(p); f = f * f * (3.0 - 2.0 * f);
  return mix(mix(dice(i), dice(i + vec2(1, 0)), f.x), mix(dice(i + vec2(0, 1)), dice(i + vec2(1, 1)), f.x), f.y);
}
float shine() {
  float band = 0.5 + 0.5 * sin((at.x * 0.7 + at.y) * 0.028 + glint.x * 3.0);
  return band * band * band * band * band * band;
}
void main() { colour = vec4(SHADE, 1.0); }`;

/** A shadow; black, as strong as it is told. */
const SHADOW = `#version 300 es
precision mediump float;
uniform float alpha; out vec4 colour;
void main() { colour = vec4(0.0, 0.0, 0.0, alpha); }`;

/** How bright a wall is by where it faces; what looks up is fully lit. */
const LIT = "mix(0.56 + 0.26 * dot(facing.xy, vec2(-0.55, 0.84)), 1.0, facing.z)";

/** How each kind of material looks, face and walls: a program each, as where the processor draws every branch of one is run through. */
const SHADES: Record<Stuff, { face: string; wall: string }> = {
  plain: { face: "paint", wall: `paint * ${LIT}` },
  solid: {
    face: "paint * (1.0 + grain * (cloud(at.xy * vec2(0.035, 0.9)) * 0.6 + cloud(at.xy * vec2(0.012, 0.16)) * 0.4 - 0.5) * 0.34)",
    wall: `paint * (1.0 + grain * (cloud(vec2(at.z * 1.4, (at.x + at.y) * 0.03)) - 0.5) * 0.3) * ${LIT}`,
  },
  ply: {
    face: "paint * (1.0 + grain * (cloud(at.xy * vec2(0.03, 0.7)) - 0.5) * 0.24)",
    wall: `paint * (fract(at.z / 3.0) < 0.5 ? 1.0 : 0.74) * ${LIT}`,
  },
  fibre: {
    face: "paint * (1.0 + grain * (cloud(at.xy * 1.7) - 0.5) * 0.12)",
    wall: `paint * (1.0 + grain * (cloud(at.xy * 1.7) - 0.5) * 0.12) * ${LIT}`,
  },
  glossy: { face: "paint + 0.16 * shine()", wall: `paint * ${LIT} + 0.05 * shine()` },
  brushed: {
    face: "paint * (1.0 + grain * (cloud(at.xy * vec2(0.06, 3.0)) - 0.5) * 0.16) + 0.16 * shine()",
    wall: `paint * (1.0 + grain * (cloud(at.xy * vec2(0.06, 3.0)) - 0.5) * 0.16) * ${LIT} + 0.05 * shine()`,
  },
};
type Stuff = "plain" | "solid" | "ply" | "fibre" | "glossy" | "brushed";
type Side = "face" | "wall";

interface Drawn { array: WebGLVertexArrayObject; buffers: WebGLBuffer[]; count: number }
interface Lying { face: Drawn; walls: Drawn; worked: Drawn; colour: Point; stuff: Stuff; top: number }
interface Brush { program: WebGLProgram; places: Map<string, WebGLUniformLocation | null> }

const STUFF: Record<string, Stuff> = {
  plywood: "ply", hardwood: "solid", softwood: "solid", fibreboard: "fibre", acrylic: "glossy", plastic: "glossy", metal: "brushed",
};

export interface Pose { turn: number; tilt: number; apart: number; beside: Beside }

export function rgb(hex: string): Point {
  const value = /^#[0-9a-f]{6}$/i.test(hex) ? parseInt(hex.slice(1), 16) : 0x999999;
  return [(value >> 16) / 255, ((value >> 8) & 255) / 255, (value & 255) / 255];
}

export class Stage {
  private readonly gl: WebGL2RenderingContext;
  private brushes = new Map<string, Brush>();
  private brush!: Brush;
  private layers: Lying[] = [];
  private beside: { drawn: Drawn; which: Beside } | null = null;
  private preview: Preview | null = null;
  private materials = new Map<string, Material>();
  private stale = false;
  private eye: Matrix = new Float32Array(16);
  private pose: Pose = { turn: -0.35, tilt: 0.9, apart: 0, beside: "nothing" };
  private grain = 0;
  private asked = 0;
  private readonly soft: boolean;
  /** Called after each picture. */
  onDrawn: () => void = () => undefined;

  /** Throws where the browser has no WebGL2. */
  constructor(private readonly canvas: HTMLCanvasElement) {
    const soft = isSoft();
    const gl = canvas.getContext("webgl2", { antialias: !soft, alpha: true, premultipliedAlpha: true });
    if (!gl) throw new Error("no WebGL2");
    this.gl = gl;
    this.soft = soft;
    this.prepare();
    canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
    canvas.addEventListener("webglcontextrestored", () => {
      this.layers = [];
      this.beside = null;
      this.prepare();
      this.stale = true;
      this.ask();
    });
  }

  private prepare(): void {
    const gl = this.gl;
    this.brushes.clear();
    gl.enable(gl.DEPTH_TEST);
    gl.polygonOffset(-1, -2);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
  }

  /** Go on with a program, made when it is first wanted. */
  private take(name: string, fragment: string): void {
    const gl = this.gl;
    let brush = this.brushes.get(name);
    if (!brush) {
      brush = { program: gl.createProgram()!, places: new Map() };
      for (const [kind, source] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, fragment]] as const) {
        const shader = gl.createShader(kind)!;
        gl.shaderSource(shader, source);
        gl.compileShader(shader);
        gl.attachShader(brush.program, shader);
      }
      gl.linkProgram(brush.program);
      this.brushes.set(name, brush);
    }
    this.brush = brush;
    gl.useProgram(brush.program);
    gl.uniformMatrix4fv(this.at("eye"), false, this.eye);
  }

  private at(name: string): WebGLUniformLocation | null {
    const { program, places } = this.brush;
    if (!places.has(name)) places.set(name, this.gl.getUniformLocation(program, name));
    return places.get(name)!;
  }

  lay(preview: Preview, materials: Map<string, Material>): void {
    this.preview = preview;
    this.materials = materials;
    this.stale = true;
    this.ask();
  }

  /** Send what is to be drawn: with the frame that shows it, so that a new piece takes one frame and not two. */
  private upload(): void {
    if (!this.preview) return;
    this.stale = false;
    const { layers, steps_per_mm: steps } = this.preview;
    for (const layer of this.layers) for (const drawn of [layer.face, layer.walls, layer.worked]) this.drop(drawn);
    this.layers = layers.map((layer) => {
      const mesh = meshOf(layer, steps);
      return {
        face: this.send(mesh.face), walls: this.send(mesh.walls), worked: this.send(mesh.worked),
        colour: rgb(layer.colour), stuff: STUFF[this.materials.get(layer.material)?.kind ?? ""] ?? "plain",
        top: layer.z_mm + layer.thickness_mm,
      };
    });
    this.layBeside(true);
  }

  private layBeside(fresh: boolean): void {
    const which = this.pose.beside;
    if (!fresh && this.beside?.which === which) return;
    if (this.beside) this.drop(this.beside.drawn);
    this.beside = null;
    if (which === "nothing" || !this.preview) return;
    const [x, y] = this.besideAt();
    this.beside = { which, drawn: this.send(companionMesh(which, x, y)) };
  }

  private besideAt(): [number, number] {
    const size = companion(this.pose.beside);
    const gap = 0.06 * Math.max(this.preview!.width_mm, size.width);
    return [this.preview!.width_mm + gap, this.preview!.height_mm > size.height ? 0 : (this.preview!.height_mm - size.height) / 2];
  }

  stand(pose: Pose): void {
    this.pose = pose;
    this.layBeside(false);
    this.ask();
  }

  private send(mesh: Mesh): Drawn {
    const gl = this.gl, array = gl.createVertexArray()!;
    const vertices = gl.createBuffer()!, indices = gl.createBuffer()!;
    gl.bindVertexArray(array);
    gl.bindBuffer(gl.ARRAY_BUFFER, vertices);
    gl.bufferData(gl.ARRAY_BUFFER, mesh.vertices, gl.STATIC_DRAW);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, indices);
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, mesh.indices, gl.STATIC_DRAW);
    for (const place of [0, 1]) {
      gl.enableVertexAttribArray(place);
      gl.vertexAttribPointer(place, 3, gl.FLOAT, false, 24, place * 12);
    }
    gl.bindVertexArray(null);
    return { array, buffers: [vertices, indices], count: mesh.indices.length };
  }

  private drop(drawn: Drawn): void {
    this.gl.deleteVertexArray(drawn.array);
    for (const buffer of drawn.buffers) this.gl.deleteBuffer(buffer);
  }

  /** Draw with the next frame. */
  ask(): void {
    if (!this.asked) this.asked = requestAnimationFrame(() => this.draw());
  }

  /** How far one layer is lifted above its place, mm. */
  private lift(number: number): number {
    return this.preview ? number * this.pose.apart * 0.28 * Math.min(this.preview.width_mm, 2 * this.preview.height_mm) : 0;
  }

  private boxes(): Box[] {
    const p = this.preview!, top = p.total_thickness_mm + this.lift(p.layers.length - 1);
    const boxes: Box[] = [{ low: [0, 0, 0], high: [p.width_mm, p.height_mm, top] }];
    if (this.pose.beside !== "nothing") {
      const size = companion(this.pose.beside), [x, y] = this.besideAt();
      boxes.push({ low: [x, y, 0], high: [x + size.width, y + size.height, 0] });
    }
    return boxes;
  }

  private draw(): void {
    this.asked = 0;
    const gl = this.gl, canvas = this.canvas;
    if (!this.preview || gl.isContextLost() || canvas.clientWidth === 0) return;
    if (this.stale) this.upload();
    const density = this.soft ? 1 : Math.min(devicePixelRatio || 1, 2);
    const width = Math.round(canvas.clientWidth * density), height = Math.round(canvas.clientHeight * density);
    if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
    gl.viewport(0, 0, width, height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    this.eye = looking(this.boxes(), this.pose.turn, this.pose.tilt, width / height);
    // Fine grain would only flicker where a millimetre is less than a pixel or two.
    const pixels = width / Math.max(this.preview.width_mm, 1);
    this.grain = Math.max(0, Math.min(1, (pixels - 0.6) / 1.4));
    // What is nearest first, so that what it hides is not worked out.
    for (let number = this.layers.length - 1; number >= 0; number -= 1) {
      const { worked, face, walls, colour, stuff } = this.layers[number]!, lift = this.lift(number), [r, g, b] = colour;
      // Nearer by a step of the depth buffer, so that work in a face is not lost in it.
      gl.enable(gl.POLYGON_OFFSET_FILL);
      this.paint(worked, [r * 0.42, g * 0.4, b * 0.38], "plain", "face", lift);
      gl.disable(gl.POLYGON_OFFSET_FILL);
      this.paint(face, colour, stuff, "face", lift);
      gl.enable(gl.CULL_FACE);
      this.paint(walls, colour, stuff, "wall", lift);
      gl.disable(gl.CULL_FACE);
    }
    if (this.beside) this.paint(this.beside.drawn, [0.55, 0.5, 0.47], "plain", "wall", 0);
    this.drawShadows();
    this.onDrawn();
  }

  /** Where nothing stands: after all else, under a depth test. */
  private drawShadows(): void {
    const gl = this.gl;
    gl.enable(gl.BLEND);
    gl.depthMask(false);
    this.take("shadow", SHADOW);
    gl.uniform1f(this.at("press"), 0);
    gl.uniform1f(this.at("alpha"), this.soft ? 0.14 : 0.06);
    this.layers.forEach((layer, number) => {
      const fall = (layer.top + this.lift(number)) * 0.22;
      for (const far of this.soft ? [1] : [0.7, 1, 1.3]) {
        gl.uniform3f(this.at("shift"), fall * far, -fall * far, 0);
        this.fill(layer.face);
      }
    });
    gl.depthMask(true);
    gl.disable(gl.BLEND);
  }

  private paint(drawn: Drawn, colour: Point, stuff: Stuff, side: Side, lift: number): void {
    if (!drawn.count) return;
    const gl = this.gl;
    this.take(`${stuff} ${side}`, FRAGMENT.replace("SHADE", SHADES[stuff][side]));
    gl.uniform1f(this.at("press"), 1);
    gl.uniform3f(this.at("shift"), 0, 0, lift);
    gl.uniform3f(this.at("paint"), ...colour);
    gl.uniform1f(this.at("grain"), this.grain);
    gl.uniform2f(this.at("glint"), this.pose.turn, this.pose.tilt);
    this.fill(drawn);
  }

  private fill(drawn: Drawn): void {
    this.gl.bindVertexArray(drawn.array);
    this.gl.drawElements(this.gl.TRIANGLES, drawn.count, this.gl.UNSIGNED_INT, 0);
  }

  /** Return where a place of a layer is in the picture, 0 to 1 from its upper left. */
  project(layer: string | null, x: number, y: number): [number, number] | null {
    if (!this.preview) return null;
    const number = Math.max(0, this.preview.layers.findIndex((found) => found.name === layer));
    const found = this.preview.layers[number];
    if (!found) return null;
    const [ox, oy] = this.preview.origin_mm;
    const z = found.z_mm + found.thickness_mm + this.lift(number);
    const [u, v] = through(this.eye, [x - ox, y - oy, z]);
    return [(u + 1) / 2, (1 - v) / 2];
  }
}

/** Whether pictures are drawn by the processor: smoothing then takes more than twice the time. */
function isSoft(): boolean {
  const gl = document.createElement("canvas").getContext("webgl2");
  const named = gl?.getExtension("WEBGL_debug_renderer_info");
  const name = gl && named ? String(gl.getParameter(named.UNMASKED_RENDERER_WEBGL)) : "";
  gl?.getExtension("WEBGL_lose_context")?.loseContext();
  return /swiftshader|llvmpipe|software/i.test(name);
}
