// The film of a sheet: where cutters go and when -> what is left of the material, cell by cell.
// Lengths in mm in the sheet's frame; the first row of cells is the one with the highest y.

export interface FilmCutter { key: string; name: string; shape: "flat" | "ball" | "cone"; radius_mm: number; tip_mm: number; rise: number }
export interface Chapter { from: number; program: string; change_s: number; cutter: number; kind: string; mark: string }
export interface Film {
  sheet: number; material: string; thickness_mm: number; total_s: number; count: number;
  box_mm: [number, number, number, number]; cutters: FilmCutter[]; chapters: Chapter[];
  x: Float32Array; y: Float32Array; z: Float32Array; t: Float32Array;
}

/** Read a film as the service makes it: length of the head, head, four columns. */
export function readFilm(data: ArrayBuffer): Film {
  const length = new DataView(data).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(data, 4, length))) as Film;
  const column = (k: number) => new Float32Array(data, 4 + length + 4 * head.count * k, head.count);
  return { ...head, x: column(0), y: column(1), z: column(2), t: column(3) };
}

/** Return the number of the last of ascending `values` that is not above `value`, or -1. */
export function lastNotAbove(values: ArrayLike<number>, value: number): number {
  let low = -1, high = values.length;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (values[middle]! <= value) low = middle; else high = middle;
  }
  return low;
}

/** Return which cutter is being put in at a time and when that is done, or null while one moves. */
export function changeAt(film: Film, time: number): { chapter: Chapter; until: number } | null {
  const number = lastNotAbove(film.chapters.map((chapter) => chapter.change_s), time);
  const chapter = film.chapters.find((one) => one.change_s === film.chapters[number]?.change_s);
  const until = chapter ? film.t[chapter.from]! : 0;
  return chapter && time < until ? { chapter, until } : null;
}

/** Return the number of the chapter in which a place of the film is; the first from the start. */
export function chapterAt(film: Film, place: number): number {
  return Math.max(0, lastNotAbove(film.chapters.map((chapter) => chapter.from), Math.max(place, 0)));
}

export interface Rect { left: number; top: number; right: number; bottom: number }
const NOTHING: Readonly<Rect> = { left: Infinity, top: Infinity, right: -Infinity, bottom: -Infinity };

const MOST_CELLS = 480_000;
const LEAST_CELL_MM = 0.1;
const LOOK_EVERY = 8; // pieces between two looks at the clock

/** The sheet while it is cut. What the cutter passes over goes down to its surface, never up. */
export class Sheet {
  readonly cell: number;
  readonly columns: number;
  readonly rows: number;
  readonly heights: Float32Array;
  /** Where the cutter is. */
  at: [number, number, number] = [0, 0, 40];
  /** The place of the film that was reached, and the time. */
  place = -1;
  time = 0;
  private touched: Rect = { ...NOTHING };

  constructor(readonly film: Film) {
    const [left, low, right, high] = film.box_mm;
    this.cell = Math.max(LEAST_CELL_MM, Math.sqrt(((right - left) * (high - low)) / MOST_CELLS));
    this.columns = Math.max(1, Math.ceil((right - left) / this.cell));
    this.rows = Math.max(1, Math.ceil((high - low) / this.cell));
    this.heights = new Float32Array(this.columns * this.rows);
    this.all();
  }

  private all(): void {
    this.touched = { left: 0, top: 0, right: this.columns, bottom: this.rows };
  }

  /** Cut up to a time, or until `enough` says that the moment is over; returns whether it is reached. */
  cutTo(time: number, enough: () => boolean = () => false): boolean {
    const { x, y, z, t, count } = this.film;
    if (time < this.time) {
      this.heights.fill(0);
      this.place = -1;
      this.time = 0;
      this.at = count ? [x[0]!, y[0]!, z[0]!] : [0, 0, 40];
      this.all();
    }
    for (let pieces = 1; this.place + 1 < count && t[this.place + 1]! <= time; pieces += 1) {
      const next = this.place + 1;
      this.cut(next, [x[next]!, y[next]!, z[next]!]);
      this.place = next;
      this.time = t[next]!;
      if (pieces % LOOK_EVERY === 0 && enough()) return false;
    }
    const next = this.place + 1;
    if (next < count && this.place >= 0 && time > this.time) {
      const share = (time - this.time) / (t[next]! - this.time), [ax, ay, az] = this.at;
      this.cut(next, [ax + share * (x[next]! - ax), ay + share * (y[next]! - ay), az + share * (z[next]! - az)]);
    }
    this.time = Math.max(this.time, time);
    return true;
  }

  cutterAt(place: number): FilmCutter | undefined {
    return this.film.cutters[this.film.chapters[chapterAt(this.film, place)]?.cutter ?? -1];
  }

  private cut(place: number, to: [number, number, number]): void {
    const cutter = this.cutterAt(place), from = this.at;
    this.at = to;
    const deepest = Math.min(from[2], to[2]);
    if (!cutter || deepest >= 0) return;
    const { cell, columns, rows, heights } = this, [left, , , high] = this.film.box_mm;
    // What is narrower than a cell would be lost between two of them.
    const reach = Math.max(reachOf(cutter, -deepest), 0.75 * cell), rim = 0.5 * cell;
    const ax = (from[0] - left) / cell - 0.5, ay = (high - from[1]) / cell - 0.5;
    const bx = (to[0] - left) / cell - 0.5, by = (high - to[1]) / cell - 0.5;
    const r = (reach + rim) / cell, dx = bx - ax, dy = by - ay, long2 = dx * dx + dy * dy;
    const first = Math.max(0, Math.ceil(Math.min(ay, by) - r)), last = Math.min(rows - 1, Math.floor(Math.max(ay, by) + r));
    const begin = Math.max(0, Math.ceil(Math.min(ax, bx) - r)), end = Math.min(columns - 1, Math.floor(Math.max(ax, bx) + r));
    if (first > last || begin > end) return;
    for (let j = first; j <= last; j += 1) {
      // Columns within reach of the line: a long slope crosses a row in a short stretch.
      let low = begin, most = end;
      if (Math.abs(dy) > 1) {
        const near = (j - ay - Math.sign(dy) * r) / dy, far = (j - ay + Math.sign(dy) * r) / dy;
        const x0 = ax + Math.max(0, Math.min(1, near)) * dx, x1 = ax + Math.max(0, Math.min(1, far)) * dx;
        low = Math.max(begin, Math.floor(Math.min(x0, x1) - r));
        most = Math.min(end, Math.ceil(Math.max(x0, x1) + r));
      }
      for (let i = low; i <= most; i += 1) {
        const along = long2 > 0 ? Math.max(0, Math.min(1, ((i - ax) * dx + (j - ay) * dy) / long2)) : 0;
        const away = Math.hypot(i - ax - along * dx, j - ay - along * dy) * cell;
        if (away >= reach + rim) continue;
        const tip = long2 > 0 ? from[2] + along * (to[2] - from[2]) : deepest;
        let height = tip + riseOf(cutter, Math.min(away, reach));
        if (away > reach - rim) height *= (reach + rim - away) / cell; // a wall shares its cells
        const k = j * columns + i;
        if (height < heights[k]!) heights[k] = height;
      }
    }
    const touched = this.touched;
    touched.left = Math.min(touched.left, begin);
    touched.top = Math.min(touched.top, first);
    touched.right = Math.max(touched.right, end + 1);
    touched.bottom = Math.max(touched.bottom, last + 1);
  }

  /** Whether anything has changed since `changed` was asked. */
  get dirty(): boolean {
    return this.touched.left < this.touched.right;
  }

  /** Return what has changed since this was last asked, with room for shadows; null for nothing. */
  changed(room: number): Rect | null {
    const { left, top, right, bottom } = this.touched;
    this.touched = { ...NOTHING };
    if (left >= right) return null;
    return {
      left: Math.max(0, left - room), top: Math.max(0, top - room),
      right: Math.min(this.columns, right + room), bottom: Math.min(this.rows, bottom + room),
    };
  }
}

/** How far from its axis a cutter cuts, so deep in the material. */
export function reachOf({ shape, radius_mm: radius, tip_mm: tip, rise }: FilmCutter, depth: number): number {
  if (shape === "ball") return depth >= radius ? radius : Math.sqrt(depth * (2 * radius - depth));
  if (shape === "cone") return Math.min(radius, tip + depth / rise);
  return radius;
}

/** How far above its tip the surface of a cutter is, so far from its axis. */
function riseOf({ shape, radius_mm: radius, tip_mm: tip, rise }: FilmCutter, away: number): number {
  if (shape === "ball") return radius - Math.sqrt(Math.max(0, radius * radius - away * away));
  if (shape === "cone") return Math.max(0, away - tip) * rise;
  return 0;
}

export type Colour = [number, number, number];
/** Cells over which a shadow falls. */
export const SHADOW = 5;
const GLOW: Colour = [255, 246, 222];

/** Paint part of a sheet as it lies on the light table, lit from the upper left, into RGBA of that part. */
export function paint(sheet: Sheet, part: Rect, colour: Colour, grained: boolean, into: Uint8ClampedArray): void {
  const { heights, columns, rows, cell } = sheet, thick = sheet.film.thickness_mm;
  let p = 0;
  for (let j = part.top; j < part.bottom; j += 1) {
    const row = j * columns, above = Math.max(0, j - 1) * columns, below = Math.min(rows - 1, j + 1) * columns;
    const grain = grained ? 0.04 * Math.sin(j * cell * 2.1) * Math.sin(j * cell * 0.37 + 1.3) + 0.02 * Math.sin(j * cell * 5.3) : 0;
    for (let i = part.left; i < part.right; i += 1, p += 4) {
      const z = heights[row + i]!;
      const slope = (heights[row + Math.max(0, i - 1)]! + heights[above + i]! - heights[row + Math.min(columns - 1, i + 1)]! - heights[below + i]!) / (4 * cell);
      let light = 1 + grain - Math.max(-0.3, Math.min(0.3, 0.16 * slope)), shade = 0;
      if (z < 0) {
        const most = Math.min(SHADOW, i, j);
        for (let k = 1; k <= most; k += 2) shade = Math.max(shade, heights[row + i - k * (columns + 1)]! - z - 1.1 * k * cell);
        light *= 1 - 0.45 * Math.min(1, shade / (0.35 * thick + 0.2)) - 0.25 * Math.sqrt(Math.min(1, -z / thick));
      }
      // Where nothing is left, the table shines through.
      const through = Math.max(0, Math.min(1, (-z / thick - 0.9) * 10)), glow = through * (1 - 0.16 * Math.min(1, shade / thick));
      for (let c = 0; c < 3; c += 1) into[p + c] = colour[c]! * light * (1 - through) + GLOW[c]! * glow;
      into[p + 3] = 255;
    }
  }
}
