// Many at once: a list of names, its mistakes where they are, and the order that is made of it.
import { computed, signal, useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { Away, Problem, again, getJson, postJson, whenBack } from "./api";
import { StockOf } from "./commits";
import { Bar, Choice, Drawn, Wrong } from "./controls";
import { FileButton } from "./drawings";
import { named } from "./following";
import { fonts } from "./fonts";
import { stockMoved } from "./machine";
import { hereName, materials } from "./shops";
import { FileLine } from "./files";
import { OrderOffers } from "./offers";
import { emptyRow, linesOf, readList } from "./rows";
import { order, orderRecipe, orderShop, orderTitle, recipe, rows, show, templates, wish, type Row } from "./state";
import { showTime } from "./units";
import { say } from "./words";
import type { Estimate, Mistake, Order, Preview, Recipe } from "./shapes";

const mistakes = signal<Mistake[]>([]);
const wrong = signal("");
const estimate = signal<Estimate | null>(null);
const busy = signal<"" | "reckoning" | "starting">("");
const standing = signal<Order | null>(null);
/** Pictures of the lines by text, or what stands in the way of one. */
const seen = signal<ReadonlyMap<string, { svg: string } | { trouble: string }>>(new Map());

/** The recipe of a line: `{text}` where its words go, in a piece of several words too. */
const pattern = computed<Recipe | null>(() => {
  const found = orderRecipe.value === "this-piece" ? recipe.value : templates.value.find((t) => t.key === orderRecipe.value)?.recipe ?? null;
  if (!found?.lettering) return found;
  const made = structuredClone(found);
  made.title = made.title.includes(found.lettering.text) && found.lettering.text ? made.title.replace(found.lettering.text, "{text}") : `{text}`;
  made.lettering!.text = "{text}";
  return made;
});

function request(): object {
  const name = orderRecipe.value;
  return {
    title: orderTitle.value.trim() || "Order", recipe: name, recipes: { [name]: pattern.value },
    ...wish.value, lines: linesOf(rows.value),
  };
}

async function send(path: string, doing: "reckoning" | "starting"): Promise<unknown> {
  busy.value = doing;
  wrong.value = "";
  mistakes.value = [];
  try {
    return await again(() => postJson(path, request()));
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    mistakes.value = error.facts.mistakes ?? [];
    wrong.value = error.message;
    return null;
  } finally {
    busy.value = "";
  }
}

async function reckon(): Promise<void> {
  estimate.value = null;
  estimate.value = (await send("/v1/orders?dry_run=true", "reckoning")) as Estimate | null;
}

async function start(): Promise<void> {
  const placed = (await send("/v1/orders", "starting")) as Order | null;
  if (!placed) return;
  orderShop.value = hereName.value;
  followOrder(placed.id);
}

let following = "";

/** Watch an order until nothing more happens to it. */
export function followOrder(id: string): void {
  order.value = following = id;
  void (async () => {
    while (following === id) {
      try {
        standing.value = await getJson<Order>(`/v1/orders/${encodeURIComponent(id)}`);
        if (["done", "failed", "cancelled"].includes(standing.value.phase)) return;
        await new Promise((done) => setTimeout(done, 1000));
      } catch (error) {
        if (error instanceof Away) { await whenBack(); continue; }
        if (error instanceof Problem && error.facts.status === 404) order.value = "";
        else wrong.value = String(error);
        return;
      }
    }
  })();
}

async function tellOrder(path: string): Promise<void> {
  try {
    const told = await again(() => postJson<Order>(path, {}));
    followOrder(told.id);
  } catch (error) { wrong.value = error instanceof Problem ? error.message : String(error); }
}

export function List() {
  return (
    <>
      <Names />
      {standing.value && <Standing now={standing.value} />}
      {standing.value?.phase === "done" && <OrderOffers id={standing.value.id} />}
      <Glance />
    </>
  );
}

function Names() {
  const field = useRef<HTMLTextAreaElement>(null);
  const pasted = useSignal("");
  useEffect(() => { if (!rows.value.length) field.current?.focus(); }, []);
  const kinds: [string, string][] = [["this-piece", say.thisPiece], ...templates.value.filter((t) => t.recipe.lettering).map((t): [string, string] => [t.key, t.name])];
  const take = (text: string) => { rows.value = [...rows.value.filter((row) => row.text.trim()), ...readList(text)]; };
  return (
    <section class="names" aria-labelledby="names-title">
      <h2 id="names-title">{say.list}</h2>
      <div class="rack">
        <span class="field"><label for="order-title">{say.orderTitle}</label>
          <input id="order-title" value={orderTitle.value} onInput={(event) => { orderTitle.value = event.currentTarget.value; }} /></span>
        <Choice label={say.listRecipe} value={orderRecipe.value} choices={kinds} onChange={(v) => { orderRecipe.value = v; estimate.value = null; }} />
      </div>
      <label for="paste">{say.listHelp}</label>
      <textarea id="paste" ref={field} rows={rows.value.length ? 2 : 6} spellcheck={false} value={pasted.value}
        onInput={(event) => { pasted.value = event.currentTarget.value; }}
        onPaste={(event) => { event.preventDefault(); take(event.clipboardData?.getData("text/plain") ?? ""); }}
        onBlur={() => { if (pasted.value.trim()) { take(pasted.value); pasted.value = ""; } }} />
      <p><FileButton id="bring-list" label={say.listFile} accept=".csv,.tsv,.txt" /></p>
      {rows.value.length > 0 && <TableOf list={rows.value} />}
      {wrong.value && <Wrong>{mistakes.value.length ? say.mistakes(mistakes.value.length) : wrong.value}</Wrong>}
      <General />
      <p class="moves">
        <button type="button" disabled={!rows.value.length || busy.value !== ""} onClick={() => void reckon()}>{say.dryRun}</button>{" "}
        <button type="button" class="strong" disabled={!rows.value.length || busy.value !== ""} onClick={() => void start()}>{say.start}</button>
      </p>
      {busy.value && <Bar share={null} words={busy.value === "reckoning" ? say.dryRunning : say.starting} />}
      {estimate.value && <Reckoned found={estimate.value} />}
    </section>
  );
}

/** Mistakes that belong to no cell of the table. */
function General() {
  const loose = mistakes.value.filter((m) => !m.line || m.line > rows.value.length);
  return loose.length ? <ul class="wrong">{loose.map((m, k) => <li key={k}>{m.message} {m.expected && say.wanted(m.expected)}</li>)}</ul> : null;
}

const FIELDS: [keyof Row, () => string][] = [
  ["text", () => say.text], ["quantity", () => say.quantity], ["size", () => say.size], ["font", () => say.font],
];

function TableOf({ list }: { list: Row[] }) {
  const set = (number: number, name: keyof Row, value: string) => {
    rows.value = list.map((row, k) => (k === number ? { ...row, [name]: value } : row));
    mistakes.value = mistakes.value.filter((m) => !(m.line === number + 1 && m.column === name));
    estimate.value = null;
  };
  const states = standing.value?.line_states ?? [];
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={say.listTable}>
      <table>
        <thead><tr><th scope="col">{say.row}</th>{FIELDS.map(([name, words]) => <th key={name} scope="col">{words()}</th>)}<th><span class="unseen">{say.takeOff}</span></th></tr></thead>
        <tbody>
          {list.map((row, number) => (
            <tr key={number} class={states[number]}>
              <th scope="row">{number + 1}</th>
              {FIELDS.map(([name, words]) => <Cell key={name} name={name} label={name === "size" ? say.sizeShort : words()} words={`${words()}, ${number + 1}`} value={row[name]} line={number + 1} set={(value) => set(number, name, value)} />)}
              <td><button type="button" class="small" aria-label={say.removeLine(number + 1)} onClick={() => { rows.value = list.filter((_, k) => k !== number); mistakes.value = []; estimate.value = null; }}>×</button></td>
            </tr>
          ))}
        </tbody>
      </table>
      <button type="button" onClick={() => { rows.value = [...list, emptyRow()]; }}>{say.addLine}</button>
      <datalist id="font-keys">{fonts.value.map((font) => <option key={font.key} value={font.key} />)}</datalist>
    </div>
  );
}

function Cell({ name, label, words, value, line, set }: { name: keyof Row; label: string; words: string; value: string; line: number; set: (value: string) => void }) {
  const found = mistakes.value.filter((m) => m.line === line && (m.column === name || (name === "text" && !FIELDS.some(([one]) => one === m.column))));
  const id = `wrong-${line}-${name}`;
  return (
    <td data-label={label}>
      <input aria-label={words} value={value} list={name === "font" ? "font-keys" : undefined} aria-invalid={found.length > 0}
        aria-describedby={found.length ? id : undefined} onInput={(event) => set(event.currentTarget.value)} />
      {found.length > 0 && <small id={id} class="wrong">{found.map((m) => `${m.message} ${m.expected ? say.wanted(m.expected) : ""}`).join(" ")}</small>}
    </td>
  );
}

function Reckoned({ found }: { found: Estimate }) {
  return (
    <div class="made" role="status">
      <p class="verdict">{found.summary}</p>
      <ul>{found.materials.map((m) => (
        <li key={`${m.material}${m.thickness_mm}`}>{materials.value.get(m.material)?.name ?? m.material}, {show(m.thickness_mm)}: {m.sheets} ({m.enough ? say.enough : say.short})</li>
      ))}</ul>
    </div>
  );
}

function Standing({ now }: { now: Order }) {
  const over = ["done", "failed", "cancelled"].includes(now.phase);
  const name = say.orderPhases[now.phase] ?? now.phase;
  const left = now.progress.remaining_s;
  const lost = Object.values(now.lost ?? {}).some((one) => (Array.isArray(one) ? one.length > 0 : Boolean(one)));
  const sheet = now.files?.find((file) => file.path === "job-sheet.pdf");
  const self = `/v1/orders/${encodeURIComponent(now.id)}`;
  const held = now.files?.some((file) => file.held_back) ?? false;
  return (
    <section class="standing" aria-labelledby="standing-title">
      <h2 id="standing-title">{say.orderGoesOn}: {now.title}</h2>
      {over ? <p class={now.phase === "done" && !held ? "stamp good" : "stamp bad"} role="status">{name}</p>
        : <Bar share={now.progress.share} words={left === null ? name : `${name}, ${say.remaining(showTime(left))}`} />}
      {now.summary && <p class="verdict">{now.summary}</p>}
      {now.problem && <Wrong>{now.problem.detail}</Wrong>}
      {now.line_states && !over && <p>{Object.entries(say.lineStates).map(([state, words]) => `${now.line_states!.filter((s) => s === state).length} ${words}`).join(", ")}</p>}
      {now.phase === "done" && now.proved && <StockOf kind="order" id={now.id} shop={orderShop.value} moved={stockMoved} />}
      <p class="moves">
        {sheet && <FileLine url={sheet.url} name="job-sheet.pdf" words={say.jobSheet} held={false} />}{" "}
        {now.phase === "done" && <FileLine url={now.links.zip} name={`${now.title}.zip`} words={say.bundle} held={false} />}{" "}
        {!over && <button type="button" onClick={() => void tellOrder(`${self}/cancel`)}>{say.cancel}</button>}{" "}
        {over && (lost || now.phase !== "done") && <button type="button" onClick={() => void tellOrder(`${self}/again`)}>{say.again}</button>}{" "}
        {over && <button type="button" onClick={() => { standing.value = null; order.value = following = ""; rows.value = []; estimate.value = null; }}>{say.anotherOrder}</button>}
      </p>
    </section>
  );
}

/** A sheet of small pictures, made one after the other; those with trouble come first. */
function Glance() {
  const list = rows.value, made = pattern.value;
  const print = JSON.stringify(made);
  useEffect(() => {
    let stopped = false;
    if (!made) return undefined;
    seen.value = new Map();
    const timer = setTimeout(() => void (async () => {
      for (const words of new Set(list.map((row) => row.text))) {
        if (stopped) return;
        const drawn = await picture(made, words);
        if (!stopped) seen.value = new Map([...seen.value, [words, drawn]]);
      }
    })(), 800);
    return () => { stopped = true; clearTimeout(timer); };
  }, [print, JSON.stringify(list.map((row) => row.text))]);
  if (!list.length) return null;
  const bad = new Set(mistakes.value.map((m) => m.line));
  const shown = list.map((row, k) => ({ row, line: k + 1, seen: seen.value.get(row.text) }));
  const troubled = (one: (typeof shown)[number]) => Number(bad.has(one.line) || (one.seen !== undefined && "trouble" in one.seen));
  shown.sort((a, b) => troubled(b) - troubled(a) || a.line - b.line);
  return (
    <section class="glance" aria-labelledby="glance-title">
      <h2 id="glance-title">{say.contact}</h2>
      <ol>
        {shown.map((one) => (
          <li key={one.line} class={troubled(one) ? "troubled" : undefined}>
            {one.seen && "svg" in one.seen ? <Drawn svg={one.seen.svg} alt="" /> : <span class="waiting" />}
            <p>{one.line}. {one.row.text}{one.seen && "trouble" in one.seen && <small class="wrong">{one.seen.trouble}</small>}</p>
          </li>
        ))}
      </ol>
    </section>
  );
}

async function picture(made: Recipe, words: string): Promise<{ svg: string } | { trouble: string }> {
  const own = JSON.parse(JSON.stringify(made)) as Recipe;
  own.title = own.title.replaceAll("{text}", words).slice(0, 200) || "-";
  if (own.lettering) own.lettering.text = words;
  try {
    return { svg: (await again(() => postJson<Preview>("/v1/previews", { recipe: own, ...named() }))).svg };
  } catch (error) {
    return { trouble: error instanceof Problem ? error.message : String(error) };
  }
}
