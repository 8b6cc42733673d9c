// Where the eye is: matrices column by column, as WebGL wants them.

export type Matrix = Float32Array;
export type Point = [number, number, number];

const FIELD = 0.42; // radians from top to bottom: little distortion, as through a long lens
const FILL = 0.92;

function times(a: Matrix, b: Matrix): Matrix {
  const made = new Float32Array(16);
  for (let column = 0; column < 4; column += 1) {
    for (let row = 0; row < 4; row += 1) {
      let sum = 0;
      for (let k = 0; k < 4; k += 1) sum += a[k * 4 + row]! * b[column * 4 + k]!;
      made[column * 4 + row] = sum;
    }
  }
  return made;
}

function lens(aspect: number, near: number, far: number): Matrix {
  const f = 1 / Math.tan(FIELD / 2);
  return new Float32Array([
    f / aspect, 0, 0, 0, 0, f, 0, 0, 0, 0, (far + near) / (near - far), -1, 0, 0, (2 * far * near) / (near - far), 0,
  ]);
}

/** Look at a point from a distance: turned about the upright axis, tilted up from the table. */
function seen(at: Point, turn: number, tilt: number, distance: number): Matrix {
  const ct = Math.cos(turn), st = Math.sin(turn), ck = Math.cos(tilt), sk = Math.sin(tilt);
  // Rows of the eye's frame: right, up, backwards.
  const right: Point = [ct, st, 0];
  const up: Point = [-st * sk, ct * sk, ck];
  const back: Point = [st * ck, -ct * ck, sk];
  const shift = (axis: Point) => -(axis[0] * at[0] + axis[1] * at[1] + axis[2] * at[2]);
  return new Float32Array([
    right[0], up[0], back[0], 0, right[1], up[1], back[1], 0, right[2], up[2], back[2], 0,
    shift(right), shift(up), shift(back) - distance, 1,
  ]);
}

export interface Box { low: Point; high: Point }

function cornersOf({ low, high }: Box): Point[] {
  return [low[0], high[0]].flatMap((x) => [low[1], high[1]].flatMap((y) => [low[2], high[2]].map((z): Point => [x, y, z])));
}

/** Return the matrix from which boxes just fill the picture. */
export function looking(boxes: Box[], turn: number, tilt: number, aspect: number): Matrix {
  const corners = boxes.flatMap(cornersOf);
  const ends = [0, 1, 2].map((k) => [Math.min(...corners.map((c) => c[k]!)), Math.max(...corners.map((c) => c[k]!))] as const);
  const middle = ends.map(([low, high]) => (low + high) / 2) as Point;
  const radius = Math.hypot(...ends.map(([low, high]) => high - low)) / 2 || 1;
  let near = radius * 1.05, far = radius * 40;
  const at = (distance: number) =>
    times(lens(aspect, Math.max(distance - 1.6 * radius, radius / 50), distance + 2 * radius), seen(middle, turn, tilt, distance));
  for (let step = 0; step < 18; step += 1) {
    const distance = Math.sqrt(near * far), matrix = at(distance);
    const fits = corners.every((corner) => {
      const [x, y, , w] = through(matrix, corner);
      return w > 0 && Math.abs(x) < FILL && Math.abs(y) < FILL;
    });
    if (fits) far = distance; else near = distance;
  }
  return at(far);
}

/** Return a point in the picture, -1 to 1 each way, and its weight. */
export function through(matrix: Matrix, [x, y, z]: Point): [number, number, number, number] {
  const row = (k: number) => matrix[k]! * x + matrix[4 + k]! * y + matrix[8 + k]! * z + matrix[12 + k]!;
  const w = row(3);
  return [row(0) / w, row(1) / w, row(2) / w, w];
}
