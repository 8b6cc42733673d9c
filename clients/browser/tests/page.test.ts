// What of the page can be tried without a browser: lengths, lists, triangles, the eye, remedies.
import assert from "node:assert/strict";
import { test } from "node:test";
import { looking, through, type Point } from "../src/camera";
import { Sheet, changeAt, chapterAt, paint, readFilm } from "../src/film";
import { companion, meshOf, regions, turning } from "../src/geometry";
import { german } from "../src/german";
import { cure } from "../src/remedies";
import { retell, type Told } from "../src/retell";
import { cells, linesOf, readList } from "../src/rows";
import { fingerprint, recipe, shop, size } from "../src/state";
import { readLength, showLength, showTime, writeLength } from "../src/units";
import { everyday } from "../src/weights";
import { say } from "../src/words";
import type { Finding, Recipe, Remedy } from "../src/shapes";

test("a length is read as the service reads it", () => {
  const known: [string | number, number | null][] = [
    [9, 9], ["9", 9], ["9 mm", 9], ["2,5 cm", 25], ["1/8 in", 3.175], ["1 1/2 in", 38.1], ['3/8"', 9.525],
    ["-1/2 in", -12.7], ["-.5cm", -5], ["", null], ["potato", null], ["1/0 in", null], ["1 parsec", null], [Number.NaN, null],
  ];
  for (const [written, mm] of known) {
    const found = readLength(written);
    if (mm === null) assert.equal(found, null, String(written));
    else assert.ok(found !== null && Math.abs(found - mm) < 1e-9, String(written));
  }
});

test("an inch stays an inch, and what is shown is read back as it was", () => {
  assert.equal(writeLength("1 1/2", "in"), "1 1/2 in");
  assert.equal(writeLength("60", "mm"), "60 mm");
  assert.equal(writeLength("2,5 cm", "in"), "2.5 cm");
  assert.equal(writeLength("large", "mm"), null);
  for (let k = 1; k < 400; k += 1) {
    const mm = (k / 64) * 25.4;
    assert.ok(Math.abs(readLength(showLength(mm, "in"))! - mm) < 1e-9, showLength(mm, "in"));
    assert.ok(Math.abs(readLength(showLength(k / 10, "mm"))! - k / 10) < 1e-9);
  }
  assert.equal(showLength(-3.175, "in"), "-1/8 in");
  assert.equal(showTime(7300), "2 h 2 min");
});

test("a table is read by its heading, a plain list line by line", () => {
  assert.deepEqual(cells('a;"b;""c"";\nd"\r\ne;f\r\n\n'), [["a", 'b;"c";\nd'], ["e", "f"]]);
  const table = readList("\ufeffQuantity,TEXT,else\n2,\"Avocet, old\",x\n");
  assert.deepEqual(linesOf(table), [{ text: "Avocet, old", quantity: "2" }]);
  const plain = readList("Avocet, old\r\n\r\n  Curlew \n<b>Knot</b>");
  assert.deepEqual(plain.map((row) => row.text), ["Avocet, old", "Curlew", "<b>Knot</b>"]);
});

const square = (x: number, y: number, side: number, hole = false) => {
  const ring = [x, y, x + side, y, x + side, y + side, x, y + side];
  return hole ? [ring[0]!, ring[1]!, ring[6]!, ring[7]!, ring[4]!, ring[5]!, ring[2]!, ring[3]!] : ring;
};

test("holes go to the exterior before them", () => {
  const rings = [square(0, 0, 100), square(20, 20, 10, true), square(200, 0, 50), square(60, 60, 10, true)];
  assert.deepEqual(regions(rings, 10).map((region) => region.length), [2, 2]);
  assert.ok(turning(square(0, 0, 1)) > 0 && turning(square(0, 0, 1, true)) < 0);
});

test("the triangles of a face cover it and its walls look outwards", () => {
  const layer = {
    name: "face", material: "mdf", colour: "#b08d62", thickness_mm: 3, z_mm: 6,
    parts: [{ name: "face", rings: [square(0, 0, 1000), square(200, 200, 300, true)], worked: [] }],
  };
  const mesh = meshOf(layer, 100);
  const { vertices: v, indices } = mesh.face;
  let area = 0;
  for (let i = 0; i < indices.length; i += 3) {
    const [a, b, c] = [indices[i]! * 6, indices[i + 1]! * 6, indices[i + 2]! * 6];
    area += Math.abs((v[b]! - v[a]!) * (v[c + 1]! - v[a + 1]!) - (v[c]! - v[a]!) * (v[b + 1]! - v[a + 1]!)) / 2;
    for (const at of [a, b, c]) assert.equal(v[at + 2], 9);
  }
  assert.ok(Math.abs(area - (100 - 9)) < 1e-6);
  // A step along the normal of an outer wall leaves the square, of an inner wall enters the hole.
  const w = mesh.walls.vertices;
  const solid = (x: number, y: number) => x > 0 && x < 10 && y > 0 && y < 10 && !(x > 2 && x < 5 && y > 2 && y < 5);
  for (let i = 0; i < w.length; i += 24) {
    const x = (w[i]! + w[i + 6]!) / 2, y = (w[i + 1]! + w[i + 7]!) / 2;
    assert.ok(!solid(x + 0.1 * w[i + 3]!, y + 0.1 * w[i + 4]!));
    assert.ok(solid(x - 0.1 * w[i + 3]!, y - 0.1 * w[i + 4]!));
  }
});

test("the eye sees all of what it looks at, from everywhere", () => {
  const low: Point = [0, 0, 0], high: Point = [250, 120, 18];
  for (let turn = -3; turn < 3; turn += 0.7) for (const tilt of [0.15, 0.9, Math.PI / 2]) {
    const matrix = looking([{ low, high }], turn, tilt, 2.4);
    let widest = 0;
    for (const x of [0, 250]) for (const y of [0, 120]) for (const z of [0, 18]) {
      const [u, v, depth, w] = through(matrix, [x, y, z]);
      assert.ok(w > 0 && Math.abs(u) <= 1 && Math.abs(v) <= 1 && Math.abs(depth) <= 1);
      widest = Math.max(widest, Math.abs(u), Math.abs(v));
    }
    assert.ok(widest > 0.85, "it fills the picture");
  }
  // North is up where it is seen from above, unturned.
  const above = looking([{ low, high }], 0, Math.PI / 2, 1);
  assert.ok(through(above, [0, 120, 0])[1] > through(above, [0, 0, 0])[1]);
});

test("what lies beside has the size that it says", () => {
  for (const which of ["coin", "hand", "door"] as const) {
    const { rings, width, height } = companion(which);
    const xs = rings.flatMap((ring) => ring.filter((_, i) => i % 2 === 0)), ys = rings.flatMap((ring) => ring.filter((_, i) => i % 2));
    assert.ok(Math.abs(Math.max(...xs) - width) < 2 && Math.abs(Math.max(...ys) - height) < 2, which);
  }
});

const finding = (code: string, layer: string): Finding => ({
  number: 1, code, severity: "blocker", why: "", layer, part: null, where: null, measured: null, limit: null, unit: "mm", remedies: [], data: {},
});
const remedy = (action: string, value: Remedy["value"], unit = ""): Remedy => ({ action, value, unit, text: action });
const sign = (): Recipe => ({
  title: "Knot", lettering: { text: "Knot", font: "pacifico", size: { cap_height: "40 mm" }, features: { wght: 500 } },
  layers: [
    { name: "board", material: "mdf", thickness: "6 mm", outline: { kind: "plate", shape: "rounded", margin: "20 mm" }, features: [{ kind: "through_lettering" }] },
    { name: "face", material: "acrylic-cast", thickness: "3 mm", outline: { kind: "lettering" } },
  ],
});

test("a remedy changes what it names and nothing else", () => {
  const tried: [Finding, Remedy, (made: Recipe) => void][] = [
    [finding("neck", "face"), remedy("grow_by", 0.25, "mm"), (made) => { made.layers[1]!.outline.grow = 0.25; }],
    [finding("web", "board"), remedy("grow_by", 2, "mm"), (made) => { made.layers[0]!.outline.margin = 22; }],
    [finding("island", "board"), remedy("bridge", null), (made) => { made.layers[0]!.features![0]!.bridges = true; }],
    [finding("movement", "face"), remedy("change_material", "mdf"), (made) => { made.layers[1]!.material = "mdf"; }],
    [finding("island", "face"), remedy("join", null), (made) => { made.layers[1]!.outline.join = "letters"; }],
    [finding("island", "board"), remedy("change_font", "black-ops-one"), (made) => { made.lettering!.font = "black-ops-one"; delete made.lettering!.features; }],
  ];
  for (const [found, way, how] of tried) {
    recipe.value = sign();
    const wanted = sign();
    how(wanted);
    cure(found, way)!();
    assert.deepEqual(recipe.value, wanted, way.action);
  }
  recipe.value = sign();
  cure(finding("neck", "face"), remedy("raise_size_to", 1.5, "times"))!();
  assert.ok(size.value!.mm >= 60 && size.value!.mm < 60.5);
  const before = fingerprint.value;
  cure(finding("crumb", "face"), remedy("change_hold_down", "tape"))!();
  assert.equal(shop.value.hold_down, "tape");
  assert.notEqual(fingerprint.value, before);
  for (const way of [remedy("swap_cutter", 1, "mm"), remedy("change_font", null), remedy("grow_by", null, "mm"), remedy("split", null)]) {
    assert.equal(cure(finding("slot", "face"), way), null, way.action);
  }
});

test("newtons are told in weights that hands know", () => {
  assert.match(everyday(0.2), /20 g/);
  assert.match(everyday(0.6), /weight of an egg/);
  assert.match(everyday(9.80665), /1 litres|1 litre/);
  assert.match(everyday(5000), /person/);
});

function filmOf(head: object, columns: number[][]): ArrayBuffer {
  let told = new TextEncoder().encode(JSON.stringify({ ...head, count: columns[0]!.length }));
  told = new TextEncoder().encode(new TextDecoder().decode(told).padEnd(Math.ceil(told.length / 4) * 4));
  const data = new ArrayBuffer(4 + told.length + 16 * columns[0]!.length);
  new DataView(data).setUint32(0, told.length, true);
  new Uint8Array(data).set(told, 4);
  columns.forEach((column, k) => new Float32Array(data, 4 + told.length + 4 * k * column.length).set(column));
  return data;
}

const chapter = (from: number, change_s: number, cutter: number, kind: string, program: string) => ({ from, change_s, cutter, kind, program, mark: "1.tag" });
/** A flat cutter of 4 mm along y = 10 from x = 10 to 30, 2 mm deep; then a V of 90 degrees down at (45, 10), 3 mm. */
const short = () => readFilm(filmOf({
  sheet: 1, material: "mdf", thickness_mm: 6, total_s: 40, box_mm: [0, 0, 60, 20],
  cutters: [{ key: "flat-4", name: "4 mm", shape: "flat", radius_mm: 2, tip_mm: 0, rise: 0 }, { key: "v", name: "V", shape: "cone", radius_mm: 6, tip_mm: 0, rise: 1 }],
  chapters: [chapter(0, 0, 0, "profile", "a.nc"), chapter(3, 20, 1, "drill", "b.nc")],
}, [[10, 10, 30, 45, 45, 45], [10, 10, 10, 10, 10, 10], [5, -2, -2, 5, -3, 5], [5, 6, 16, 30, 32, 40]]));
const heightAt = (sheet: Sheet, x: number, y: number) => sheet.heights[Math.floor((20 - y) / sheet.cell) * sheet.columns + Math.floor(x / sheet.cell)]!;

test("a film takes away what its cutters pass over, and no more", () => {
  const sheet = new Sheet(short());
  assert.ok(sheet.cutTo(40));
  for (const [x, y, depth] of [[20, 10, -2], [20, 11.5, -2], [8.6, 10, -2], [31.4, 10, -2], [20, 12.4, 0], [20, 7.6, 0], [7.4, 10, 0], [45, 10, -3], [46, 10, -2], [45, 12, -1], [48.5, 10, 0], [55, 10, 0]] as const) {
    assert.ok(Math.abs(heightAt(sheet, x, y) - depth) < 0.15, `${x} ${y}: ${heightAt(sheet, x, y)}`);
  }
});

test("a film is cut as far as its time, forwards, backwards and piece by piece alike", () => {
  const film = short(), whole = new Sheet(film), steps = new Sheet(film);
  whole.cutTo(11);
  for (let time = 0; time <= 11; time += 0.25) steps.cutTo(time);
  assert.ok(Math.abs(heightAt(whole, 19, 10) + 2) < 1e-6 && heightAt(whole, 23, 10) === 0, "half of the way");
  for (let k = 0; k < whole.heights.length; k += 1) assert.ok(Math.abs(whole.heights[k]! - steps.heights[k]!) < 1e-3);
  whole.cutTo(40);
  whole.cutTo(0);
  assert.ok(whole.heights.every((height) => height === 0));
  while (!whole.cutTo(40, () => true)) continue;
  steps.cutTo(40);
  assert.deepEqual(whole.heights, steps.heights);
});

test("a film knows its chapters and when a cutter is changed", () => {
  const film = short();
  assert.deepEqual([0, 2, 3, 5].map((place) => film.chapters[chapterAt(film, place)]!.kind), ["profile", "profile", "drill", "drill"]);
  assert.equal(changeAt(film, 2)?.until, 5);
  assert.equal(changeAt(film, 8), null);
  assert.equal(changeAt(film, 25)?.chapter.program, "b.nc");
  assert.equal(changeAt(film, 31), null);
});

test("what is cut through glows, a floor is darker than the face", () => {
  const film = { ...short(), thickness_mm: 2 }, sheet = new Sheet(film);
  sheet.cutTo(40);
  const part = { left: 0, top: 0, right: sheet.columns, bottom: sheet.rows };
  const painted = new Uint8ClampedArray(4 * sheet.columns * sheet.rows);
  paint(sheet, part, [100, 80, 60], false, painted);
  const at = (x: number, y: number) => [...painted.subarray(4 * (Math.floor((20 - y) / sheet.cell) * sheet.columns + Math.floor(x / sheet.cell))).slice(0, 3)];
  assert.deepEqual(at(55, 10), [100, 80, 60]);
  assert.ok(at(20, 10)[2]! > 150, String(at(20, 10)));
  assert.ok(at(45, 11.5)[0]! < 100, String(at(45, 11.5)));
});

test("every word has another in the second language, of the same kind", () => {
  const same = new Set(["mm", "oval"]);
  const compare = (one: unknown, other: unknown, path: string): void => {
    assert.equal(typeof one, typeof other, path);
    if (typeof one === "function") {
      const given = [3, 4, 5, 6] as const;
      const english = String((one as (...all: unknown[]) => unknown)(...given)), german_ = String((other as (...all: unknown[]) => unknown)(...given));
      for (const value of given.slice(0, (one as () => unknown).length)) assert.ok(german_.includes(String(value)) === english.includes(String(value)), path);
      if (/[a-z]{2}/i.test(english.replace("mm", ""))) assert.notEqual(english, german_, path);
    } else if (typeof one === "object" && one !== null) {
      assert.deepEqual(Object.keys(one).sort(), Object.keys(other as object).sort(), path);
      for (const [name, inner] of Object.entries(one)) compare(inner, (other as Record<string, unknown>)[name], `${path}.${name}`);
    } else if (typeof one === "string" && /[a-z]{2}/i.test(one) && !same.has(one.toLowerCase())) {
      assert.notEqual(String(one).toLowerCase(), String(other).toLowerCase(), path);
    }
  };
  compare(say, german, "words");
});

test("what the service tells is retold with its values, or not at all", () => {
  const language = {
    sentences: { "a gap": "ein Spalt", "{what} of {wide} on {names}": "{what} von {wide} auf {names}", "{{{a}}}": "{{{a}}}" },
    names: { "birch plywood": "Birkensperrholz" },
  };
  const told = (text: string, values: Told["values"] = {}, whole = false): Told => ({ text, values, whole });
  const gap = told("{what} of {wide} on {names}", { what: told("a gap"), wide: "2 mm", names: ["a", told("birch plywood"), "c"] }, true);
  assert.equal(retell(gap, language, "und"), "Ein Spalt von 2 mm auf a, Birkensperrholz und c.");
  assert.equal(retell(told("{a}{b}", { a: told("a gap"), b: "!" }), language, "und"), "ein Spalt!");
  assert.equal(retell(told("old oak"), language, "und"), "old oak");
  assert.equal(retell(told("{{{a}}}", { a: 1 }), language, "und"), "{1}");
  assert.equal(retell(told("{a} is new", { a: "it" }), language, "und"), null);
  assert.equal(retell(told("{a}{b}", { a: told("a gap"), b: told("{a} is new", { a: "" }) }), language, "und"), null);
});
