// Forms of the shop: what is typed in its units, every mistake of the service at its field.
import { effect, signal } from "@preact/signals";
import { useEffect, useId, useRef } from "preact/hooks";
import { Problem, again, postJson } from "./api";
import { Bar, Choice, Tick, Wrong } from "./controls";
import { habitFields } from "./habits";
import { chooseShop, fetchShops, here, inRack, machines, materials, putShop } from "./shops";
import { unit } from "./state";
import { exactLength, writeLength } from "./units";
import { say } from "./words";
import type { Cutter, Facts, Json, Mistake, ShopFile, Stock } from "./shapes";

type Kind = "new" | "cutter" | "sheet" | "prices" | "machine";
export type Values = Record<string, string>;
/** The form that is open: of what, of which entry (empty for a new one), and what is in it. */
interface Form { kind: Kind; key: string; values: Values; was: Values }
/** A field: `lines` are texts parted by commas, `folded` is shown on request; `bed.0` is the first of the pair `bed`. */
export interface Field { name: string; kind: "text" | "length" | "feed" | "number" | "choice" | "tick" | "lines"; choices?: [string, string][]; folded?: boolean }

const SHELF = "letterply-shop-form";
export const form = signal<Form | null>(null);
const mistakes = signal<Mistake[]>([]);
const wrong = signal("");
const busy = signal(false);
/** What was stored last, to be said. */
export const stored = signal("");

/** Take what was being written before a reload, and keep what is written from now on. */
export function rememberShopForm(): void {
  try {
    const found = JSON.parse(localStorage.getItem(SHELF) ?? "null") as Form | null;
    if (found && ["new", "cutter", "sheet", "prices", "machine"].includes(found.kind) && typeof found.key === "string" &&
      [found.values, found.was].every((all) => all && Object.values(all).every((value) => typeof value === "string"))) form.value = found;
  } catch { /* storage that is shut */ }
  effect(() => {
    const text = JSON.stringify(form.value);
    try { localStorage.setItem(SHELF, text); } catch { /* full or shut: kept as long as the page is open */ }
  });
}

/** Open a form with what is there. */
export function openForm(kind: Kind, key = "", values: Values = {}): void {
  mistakes.value = [];
  wrong.value = stored.value = "";
  form.value = { kind, key, values, was: values };
}

const exact = (mm: number) => exactLength(mm, unit.value);
export const cutterValues = (one: Cutter): Values => ({
  name: one.name, kind: one.kind, diameter: exact(one.diameter_mm), cutting_length: exact(one.cutting_length_mm),
  flutes: String(one.flutes), included_angle_deg: String(one.included_angle_deg), tip_diameter: exact(one.tip_diameter_mm),
});
export const sheetValues = (one: Stock): Values => ({
  material: one.material, thickness: exact(one.thickness_mm), width: exact(one.width_mm), height: exact(one.height_mm),
  count: String(one.count), price: String(one.price), margin: exact(one.margin_mm), offcut: one.offcut ? "yes" : "",
});

const pairs = (words: Record<string, string>): [string, string][] => Object.entries(words);

/** Which fields a form has; what a kind of cutter has not is not asked for. */
function fieldsOf({ kind, values }: Form): Field[] {
  const not = (...kinds: string[]) => !kinds.includes(values.kind ?? "flat");
  switch (kind) {
    case "new": return [
      { name: "name", kind: "text" }, { name: "title", kind: "text" }, { name: "units", kind: "choice", choices: pairs(say.shopUnits) },
      { name: "machine", kind: "choice", choices: machines.value.map((one) => [one.key, one.name]) },
    ];
    case "cutter": return [
      { name: "name", kind: "text" }, { name: "kind", kind: "choice", choices: pairs(say.cutterKinds) }, { name: "diameter", kind: "length" },
      ...(not("beam") ? [{ name: "cutting_length", kind: "length" } as const] : []),
      ...(not("beam", "drag") ? [{ name: "flutes", kind: "number" } as const] : []),
      ...(not("flat", "ball", "beam") ? [{ name: "included_angle_deg", kind: "number" } as const] : []),
      ...(not("flat", "ball", "beam", "drill") ? [{ name: "tip_diameter", kind: "length" } as const] : []),
    ];
    case "sheet": return [
      { name: "material", kind: "choice", choices: [...materials.value.values()].map((one) => [one.key, one.name]) },
      ...(["thickness", "width", "height"] as const).map((name): Field => ({ name, kind: "length" })),
      { name: "count", kind: "number" }, { name: "price", kind: "number" }, { name: "margin", kind: "length" }, { name: "offcut", kind: "tick" },
    ];
    case "machine": return habitFields(values);
    default: return Object.keys(say.priceRules).map((name): Field => ({ name, kind: name === "currency" ? "text" : "number" }));
  }
}

/** What is typed as the service reads it: lengths with their unit; what cannot be read goes as it is, to be told. */
function entryOf(open: Form): Facts {
  const found: Facts = {};
  for (const { name, kind, choices } of fieldsOf(open)) {
    if (open.key && open.values[name] === open.was[name]) continue; // what was not changed stays as it is written
    const typed = (open.values[name] ?? (choices?.[0]?.[0] ?? "")).trim();
    if (kind === "tick") { found[name] = typed === "yes"; continue; }
    if (kind === "lines") { found[name] = typed.split(",").map((line) => line.trim()).filter(Boolean); continue; }
    if (!typed) continue;
    const number = Number(typed.replace(",", "."));
    found[name] = kind === "length" ? writeLength(typed, unit.value) ?? typed : kind === "feed" && Number.isFinite(number) ? `${number} ${unit.value}/min` : kind === "number" && Number.isFinite(number) ? number : typed;
  }
  return pairsOf(found, open);
}

/** Put both halves of a pair together where one of them was changed; without either it is empty. */
function pairsOf(entry: Facts, open: Form): Facts {
  const names = fieldsOf(open).filter(({ name }) => name.endsWith(".0")).map(({ name }) => name.slice(0, -2));
  for (const name of names) {
    const halves = [`${name}.0`, `${name}.1`];
    const typed = halves.map((half) => (open.values[half] ?? "").trim());
    const changed = halves.some((half, k) => typed[k] !== (open.was[half] ?? ""));
    for (const half of halves) delete entry[half];
    if (changed) entry[name] = typed.filter(Boolean).map((half) => writeLength(half, unit.value) ?? half);
  }
  return entry;
}

/** A key of lower-case letters that is not taken yet. */
function newKey(words: string, taken: string[]): string {
  const plain = words.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "").slice(0, 40) || "own";
  let key = plain;
  for (let n = 2; taken.includes(key); n += 1) key = `${plain}-${n}`;
  return key;
}

/** Return the shop with the entry in it, and where mistakes in the entry are told. */
function withEntry(file: ShopFile, open: Form): { next: ShopFile; at: string } {
  const entry = entryOf(open);
  const tables = file.catalogue ?? {};
  if (open.kind === "prices") return { next: { ...file, prices: entry }, at: "prices" };
  if (open.kind === "machine") {
    const all = tables.machines ?? {};
    return { next: { ...file, catalogue: { ...tables, machines: { ...all, [open.key]: { ...all[open.key], ...entry } } } }, at: `catalogue.machines.${open.key}` };
  }
  if (open.kind === "cutter") {
    const cutters = tables.cutters ?? {};
    const key = open.key || newKey(String(entry.name ?? ""), [...Object.keys(cutters), ...inRack.value.map((one) => one.key)]);
    // What is not asked for: it goes down by itself, and into any material.
    const rest: Facts = open.key ? {} : { included_angle_deg: 0, tip_diameter: 0, can_plunge: true, materials: [], ...(entry.kind === "beam" || entry.kind === "drag" ? { flutes: 0 } : {}), ...(entry.kind === "beam" ? { cutting_length: 10 } : {}) };
    const next = { ...file, catalogue: { ...tables, cutters: { ...cutters, [key]: { ...rest, ...cutters[key], ...entry } } } };
    if (file.cutters && !file.cutters.includes(key)) next.cutters = [...file.cutters, key];
    return { next, at: `catalogue.cutters.${key}` };
  }
  return withSheet(file, open.key, entry, `${entry.material ?? "sheet"}-${open.values.thickness ?? ""}`);
}

/** Return the shop with what is said of a sheet; one without a key is new and gets one of these words. */
export function withSheet(file: ShopFile, named: string, entry: Facts, words = ""): { next: ShopFile; at: string } {
  const listed = file.stock ?? [], tables = file.catalogue ?? {};
  const place = listed.findIndex((one) => typeof one !== "string" && one.key === named);
  if (named && place < 0 || !file.stock) {
    const stock = tables.stock ?? {};
    const key = named || newKey(words, Object.keys(stock));
    return { next: { ...file, catalogue: { ...tables, stock: { ...stock, [key]: { ...stock[key], ...entry } } } }, at: `catalogue.stock.${key}` };
  }
  if (place >= 0) {
    const had = listed[place] as Facts;
    return { next: { ...file, stock: listed.map((one, k) => (k === place ? { ...bare(had), ...entry } : one)) }, at: `stock.${place}` };
  }
  const key = newKey(words, listed.map((one) => String(typeof one === "string" ? one : one.key)));
  return { next: { ...file, stock: [...listed, { ...entry, key }] }, at: `stock.${listed.length}` };
}

/** The same entry without what the form writes under the short names. */
const bare = (entry: Facts): Facts => Object.fromEntries(Object.entries(entry).filter(([name]) => !name.endsWith("_mm")));

async function save(open: Form): Promise<void> {
  busy.value = true;
  mistakes.value = [];
  wrong.value = "";
  let at = "";
  try {
    if (open.kind === "new") {
      const entry = entryOf(open);
      await again(() => postJson("/v1/shops", { ...entry, name: entry.name ?? "" } as Json));
      await fetchShops();
      await chooseShop(String(entry.name));
    } else if (here.value) {
      const made = withEntry(here.value.shop, open);
      at = made.at;
      await putShop(here.value.name, made.next, here.value.version);
    }
    form.value = null;
    stored.value = say.shopStored;
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    const found = error.facts.mistakes ?? [{ message: error.message, code: error.facts.code, field: error.facts.field, expected: error.facts.expected }];
    mistakes.value = found.map((one) => ({ ...one, field: at && one.field?.startsWith(`${at}.`) ? one.field.slice(at.length + 1) : one.field }));
    wrong.value = say.mistakes(found.length);
    if (error.facts.status === 412) await fetchShops();
  } finally {
    busy.value = false;
  }
}

const called = (field: Field, kind: Kind) => (kind === "prices" ? say.priceRules : kind === "machine" ? say.habits.fields : say.shopFields)[field.name] ?? field.name;
const wordsOf = (one: Mistake) => (one.code === "missing-field" ? say.needed : [one.message, one.expected && say.wanted(one.expected)].filter(Boolean).join(" "));
const about = (mistake: Mistake, name: string) => mistake.field === name || mistake.field === `${name}_mm`;

export function ShopForm({ label }: { label: string }) {
  const open = form.value!;
  const box = useRef<HTMLFormElement>(null);
  const id = useId();
  const fields = fieldsOf(open);
  useEffect(() => { box.current?.querySelector<HTMLElement>("input, select")?.focus(); }, [open.kind, open.key]);
  useEffect(() => { if (mistakes.value.length) box.current?.querySelector<HTMLElement>("[aria-invalid=true]")?.focus(); }, [mistakes.value]);
  const set = (name: string, value: string) => {
    form.value = { ...open, values: { ...open.values, [name]: value } };
    mistakes.value = mistakes.value.filter((one) => !about(one, name));
  };
  const loose = mistakes.value.filter((one) => !fields.some((field) => field.kind !== "tick" && field.kind !== "choice" && about(one, field.name)));
  const folded = fields.filter((field) => field.folded);
  const shownField = (field: Field) => {
    const found = mistakes.value.filter((one) => about(one, field.name));
    const value = open.values[field.name] ?? "", at = `${id}-${field.name}`;
    if (field.kind === "tick") return <Tick key={field.name} label={called(field, open.kind)} value={value === "yes"} onChange={(on) => set(field.name, on ? "yes" : "")} />;
    if (field.kind === "choice") {
      return <Choice key={field.name} label={called(field, open.kind)} value={value || (field.choices?.[0]?.[0] ?? "")} choices={field.choices ?? []} onChange={(v) => set(field.name, v)} />;
    }
    return (
      <span class="field" key={field.name}>
        <label for={at}>{called(field, open.kind)}</label>
        <input id={at} value={value} autocomplete="off" maxLength={300} inputMode={field.kind === "number" ? "decimal" : undefined} aria-invalid={found.length > 0}
          aria-describedby={found.length ? `${at}-wrong` : undefined} onInput={(event) => set(field.name, event.currentTarget.value)} />
        {found.length > 0 && <small id={`${at}-wrong`} class="wrong">{found.map(wordsOf).join(" ")}</small>}
      </span>
    );
  };
  return (
    <form ref={box} class="drawer" aria-label={label} noValidate onSubmit={(event) => { event.preventDefault(); if (!busy.value) void save(open); }}>
      <h3>{label}</h3>
      <div class="rack">{fields.filter((field) => !field.folded).map(shownField)}</div>
      {folded.length > 0 && (
        <details open={folded.some((field) => mistakes.value.some((one) => about(one, field.name))) || undefined}>
          <summary>{say.habits.folded}</summary>
          <div class="rack">{folded.map(shownField)}</div>
        </details>
      )}
      {wrong.value && mistakes.value.length > 0 && <Wrong>{wrong.value}</Wrong>}
      {loose.length > 0 && <ul class="wrong">{loose.map((one, k) => <li key={k}>{one.message} {one.expected && say.wanted(one.expected)}</li>)}</ul>}
      {busy.value && <Bar share={null} words={say.offerBusy} />}
      <p class="moves">
        <button type="submit" class="strong" disabled={busy.value}>{say.shopKeep}</button>{" "}
        <button type="button" onClick={() => { form.value = null; }}>{say.offerLeave}</button>
      </p>
    </form>
  );
}
