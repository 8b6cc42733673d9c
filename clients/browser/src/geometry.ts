// Rings -> triangles. Everything in mm, z up; a vertex is x, y, z and its normal.
import earcut from "earcut";
import type { PreviewLayer } from "./shapes";

export interface Mesh { vertices: Float32Array; indices: Uint32Array }
export interface LayerMesh { face: Mesh; walls: Mesh; worked: Mesh }

/** A little above the face, so that work in it is seen and does not flicker. */
const ABOVE_MM = 0.02;

class Growing {
  private readonly vertices: number[] = [];
  private readonly indices: number[] = [];

  /** Add a flat region: an exterior and its holes, as x, y, x, y, ... in mm. */
  flat(rings: number[][], z: number): void {
    const first = this.vertices.length / 6;
    const points = rings.flat();
    const holes: number[] = [];
    let count = 0;
    for (const ring of rings) {
      if (count) holes.push(count);
      count += ring.length / 2;
    }
    for (let i = 0; i < points.length; i += 2) this.vertices.push(points[i]!, points[i + 1]!, z, 0, 0, 1);
    for (const index of earcut(points, holes)) this.indices.push(first + index);
  }

  /** Add the walls along a ring; the material lies on its left. */
  wall(ring: number[], low: number, high: number): void {
    for (let i = 0; i < ring.length; i += 2) {
      const j = (i + 2) % ring.length;
      const x = ring[i]!, y = ring[i + 1]!, u = ring[j]!, v = ring[j + 1]!;
      const length = Math.hypot(u - x, v - y);
      if (length === 0) continue;
      const nx = (v - y) / length, ny = (x - u) / length;
      const first = this.vertices.length / 6;
      this.vertices.push(x, y, low, nx, ny, 0, u, v, low, nx, ny, 0, u, v, high, nx, ny, 0, x, y, high, nx, ny, 0);
      this.indices.push(first, first + 1, first + 2, first, first + 2, first + 3);
    }
  }

  done(): Mesh {
    return { vertices: new Float32Array(this.vertices), indices: new Uint32Array(this.indices) };
  }
}

/** Twice the area of a ring, positive where it turns counter-clockwise. */
export function turning(ring: number[]): number {
  let sum = 0;
  for (let i = 0; i < ring.length; i += 2) {
    const j = (i + 2) % ring.length;
    sum += ring[i]! * ring[j + 1]! - ring[j]! * ring[i + 1]!;
  }
  return sum;
}

/** Return each exterior with its holes, which follow it. */
export function regions(rings: number[][], stepsPerMm: number): number[][][] {
  const found: number[][][] = [];
  for (const steps of rings) {
    const ring = steps.map((step) => step / stepsPerMm);
    const last = found[found.length - 1];
    if (last && turning(ring) < 0) last.push(ring);
    else found.push([ring]);
  }
  return found;
}

export function meshOf(layer: PreviewLayer, stepsPerMm: number): LayerMesh {
  const face = new Growing(), walls = new Growing(), worked = new Growing();
  const low = layer.z_mm, high = layer.z_mm + layer.thickness_mm;
  for (const part of layer.parts) {
    for (const region of regions(part.rings, stepsPerMm)) {
      face.flat(region, high);
      for (const ring of region) walls.wall(ring, low, high);
    }
    for (const work of part.worked) {
      for (const region of regions(work.rings, stepsPerMm)) worked.flat(region, high + ABOVE_MM);
    }
  }
  return { face: face.done(), walls: walls.done(), worked: worked.done() };
}

/** A rounded bar from one point to another, flat on the table: a finger, a coin, a door. */
export function bar(x: number, y: number, u: number, v: number, radius: number, corners = 14): number[] {
  const along = Math.atan2(v - y, u - x), ring: number[] = [];
  for (const [cx, cy, from] of [[u, v, along - Math.PI / 2], [x, y, along + Math.PI / 2]] as const) {
    for (let k = 0; k <= corners; k += 1) {
      const angle = from + (Math.PI * k) / corners;
      ring.push(cx + radius * Math.cos(angle), cy + radius * Math.sin(angle));
    }
  }
  return ring;
}

export type Beside = "nothing" | "coin" | "hand" | "door";

/** What lies beside the piece, its lower left at the origin, with its width and height in mm.
 *  A coin is 25 mm, a hand 185 mm long, a door 850 by 2000 mm: usual sizes, from memory. */
export function companion(which: Beside): { rings: number[][]; width: number; height: number } {
  if (which === "coin") return { rings: [bar(12.5, 12.5, 12.5, 12.5, 12.5, 24)], width: 25, height: 25 };
  if (which === "door") {
    return { rings: [[0, 0, 850, 0, 850, 2000, 0, 2000]], width: 850, height: 2000 };
  }
  if (which === "hand") {
    const fingers = [
      bar(15, 90, 8, 138, 7.5), bar(33, 98, 29, 166, 8.5), bar(52, 100, 53, 176, 9), bar(71, 98, 77, 163, 8.5),
      bar(70, 42, 107, 96, 10), bar(30, 48, 25, 86, 19), bar(62, 50, 62, 86, 19), bar(44, 18, 46, 80, 26),
    ];
    return { rings: fingers, width: 118, height: 185 };
  }
  return { rings: [], width: 0, height: 0 };
}

export function companionMesh(which: Beside, x: number, y: number): Mesh {
  const grown = new Growing();
  const high = which === "coin" ? 2 : 0.05; // a coin has an edge to be seen
  for (const ring of companion(which).rings) {
    const there = ring.map((value, i) => value + (i % 2 ? y : x));
    grown.flat([there], high);
    if (which === "coin") grown.wall(there, 0, high);
  }
  return grown.done();
}
