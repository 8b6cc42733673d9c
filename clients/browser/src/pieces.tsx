// Test pieces: cut, measured and typed in, they make the figures of the shop true.
import { effect, signal } from "@preact/signals";
import { useEffect, useId } from "preact/hooks";
import { Problem, again, follow as followJob, getJson, make, postJson } from "./api";
import { Bar, Choice, LengthField, Picture, Wrong } from "./controls";
import { Files, unprovedTaken } from "./files";
import { fetchShops, here, hereName, inRack, machines, materials, rack } from "./shops";
import { show, unit } from "./state";
import { say } from "./words";
import type { Written } from "./units";
import type { Job, Mistake, Progress, Result, Stock } from "./shapes";

interface Read { name: string; label: string; layer: string | null; needed: boolean; choices: string[] | null }
interface Piece extends Result { subject: string; units: "mm" | "inch"; proved: boolean; steps: string[]; reads: Read[] }
interface Measured { summary: string; kept: boolean; changes: { words: string }[]; remarks: string[] }
/** What is at work: the piece by its id, the shop it is for, what was read on it; what is asked for. */
interface Work { id: string; shop: string; readings: Record<string, string>; step: string; wish: Record<string, string> }

const SHELF = "letterply-piece";
const NONE: Work = { id: "", shop: "", readings: {}, step: "", wish: {} };
const work = signal<Work>(NONE);
const made = signal<Piece | null>(null);
const going = signal<Progress | null | "asked">(null);
const failed = signal("");
const mistakes = signal<Mistake[]>([]);
const told = signal<Measured | null>(null);
const busy = signal(false);
let stop = new AbortController();

const put = (more: Partial<Work>) => { work.value = { ...work.value, ...more }; };
const set = (name: string, value: string) => put({ wish: { ...work.value.wish, [name]: value } });

/** Take up what was made before the page was left: between the programs and the readings somebody cuts. */
export function rememberPiece(): void {
  try {
    const found = JSON.parse(localStorage.getItem(SHELF) ?? "null") as Work | null;
    if (found && [found.id, found.shop, found.step].every((text) => typeof text === "string") &&
      [found.readings, found.wish].every((all) => all && Object.values(all).every((value) => typeof value === "string"))) work.value = found;
  } catch { /* storage that is shut */ }
  effect(() => {
    const text = JSON.stringify(work.value);
    try { localStorage.setItem(SHELF, text); } catch { /* full or shut: kept as long as the page is open */ }
  });
}

async function wait(what: () => Promise<Piece>): Promise<void> {
  stop = new AbortController();
  going.value = "asked";
  failed.value = "";
  mistakes.value = [];
  made.value = told.value = null;
  try {
    made.value = await what();
    put({ id: made.value.id });
  } catch (error) {
    if (!stop.signal.aborted) failed.value = error instanceof Problem ? [error.message, error.facts.expected && say.wanted(error.facts.expected)].filter(Boolean).join(" ") : String(error);
  } finally {
    going.value = null;
  }
}

const tell = (progress: Progress | null) => { going.value = progress ?? "asked"; };

async function order(): Promise<void> {
  unprovedTaken.value = false;
  put({ id: "", shop: hereName.value, readings: {} });
  await wait(() => make<Piece>("/v1/test-pieces", request(), tell, stop.signal));
}

function takeUp(): void {
  const { id } = work.value;
  if (id && made.value?.id !== id && going.value === null) {
    void wait(async () => followJob<Piece>(await again(() => getJson<Job>(`/v1/jobs/${encodeURIComponent(id)}`)), tell, stop.signal)).then(() => {
      if (failed.value) { failed.value = ""; put({ id: "", readings: {} }); } // swept meanwhile
    });
  }
}

async function measure(keep: boolean): Promise<void> {
  const { id, readings, step } = work.value;
  busy.value = true;
  mistakes.value = [];
  failed.value = "";
  const given = Object.fromEntries(Object.entries(readings).filter(([, value]) => value.trim()).map(([name, value]) => [name, value.trim().replace(/(\d),(\d)/, "$1.$2")]));
  const typed = Object.fromEntries(Object.entries(given).map(([name, value]) => [name, Number.isFinite(Number(value)) ? Number(value) : value]));
  try {
    told.value = await again(() => postJson<Measured>(`/v1/shops/${encodeURIComponent(hereName.value)}/measured`,
      { piece: id, readings: typed, keep, ...(step.trim() ? { resolution: Number.isFinite(Number(step)) ? Number(step) : step } : {}) }));
    if (keep) await fetchShops();
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    told.value = null;
    mistakes.value = error.facts.mistakes ?? [{ message: error.message, code: error.facts.code, field: error.facts.field, expected: error.facts.expected }];
  } finally {
    busy.value = false;
  }
}

const KINDS = ["diameter", "fit", "angle", "feed", "line", "flatness"];
const CUTTING: Record<string, (kind: string) => boolean> = {
  diameter: (kind) => kind === "flat" || kind === "beam", angle: (kind) => kind === "vbit", line: (kind) => kind === "drag",
  feed: (kind) => kind === "flat" || kind === "beam",
};
const sheetName = (one: Stock) => `${materials.value.get(one.material)?.name ?? one.material}, ${show(one.thickness_mm)}`;

/** What can be chosen for a kind, and what is chosen. */
function chosen() {
  const { wish } = work.value;
  const kind = KINDS.includes(wish.kind ?? "") ? wish.kind! : "diameter";
  const able = CUTTING[kind];
  const machine = machines.value.find((one) => one.key === (here.value?.shop.machine ?? "bench-router"));
  const beam = machine?.kind === "beam"; // a router drives no beam, a beam machine nothing else
  const cutters = able ? inRack.value.filter((one) => able(one.kind) && (one.kind === "beam") === beam) : [];
  const cutter = cutters.find((one) => one.key === wish.cutter) ?? cutters[0];
  const sheets = [...new Map(rack.value.map((one) => [sheetName(one), one])).values()];
  const sheet = sheets.find((one) => one.key === wish.sheet) ?? sheets[0];
  const plug = sheets.find((one) => one.key === wish.plug) ?? sheet;
  return { kind, cutters, cutter, sheets, sheet, plug, dowel: wish.plug === "dowel" };
}

function request(): object {
  const { kind, cutter, sheet, plug, dowel } = chosen();
  const { wish } = work.value;
  return {
    kind, shop: { name: hereName.value, units: unit.value === "in" ? "inch" : "mm" }, material: sheet?.material ?? "", thickness: sheet?.thickness_mm ?? 0,
    ...(cutter ? { cutter: cutter.key } : {}),
    ...(kind === "fit" ? (dowel ? { dowel: wish.dowel || "6 mm" } : { of: plug?.material, of_thickness: plug?.thickness_mm }) : {}),
    ...(kind === "flatness" ? { width: wish.width || sheet?.width_mm, height: wish.height || sheet?.height_mm } : {}),
  };
}

export function TestPieces() {
  const { kind, cutters, cutter, sheets, sheet, plug, dowel } = chosen();
  const { wish, shop } = work.value, now = going.value;
  useEffect(takeUp, []);
  if (!here.value) return null;
  const history = (here.value.shop.measured ?? []) as { on: string; words?: string; subject: string }[];
  const length = (name: string, label: string, usual: Written | undefined) =>
    <LengthField label={label} value={wish[name] || usual} least={1} onChange={(v) => set(name, String(v))} />;
  return (
    <section class="shop pieces" aria-labelledby="shop-pieces">
      <h2 id="shop-pieces">{say.pieces}</h2>
      <p>{say.piecesAbout}</p>
      <div class="rack">
        <Choice label={say.pieceKind} value={kind} choices={KINDS.map((one) => [one, say.pieceKinds[one] ?? one])} onChange={(v) => set("kind", v)} />
        {cutters.length > 0 && <Choice label={say.pieceCutter} value={cutter?.key ?? ""} choices={cutters.map((one) => [one.key, one.name])} onChange={(v) => set("cutter", v)} />}
        <Choice label={kind === "fit" ? say.pieceInto : say.pieceSheet} value={sheet?.key ?? ""} choices={sheets.map((one) => [one.key, sheetName(one)])} onChange={(v) => set("sheet", v)} />
        {kind === "fit" && <Choice label={say.pieceOf} value={dowel ? "dowel" : plug?.key ?? ""} choices={[["dowel", say.pieceDowel], ...sheets.map((one): [string, string] => [one.key, sheetName(one)])]} onChange={(v) => set("plug", v)} />}
        {kind === "fit" && dowel && length("dowel", say.across, "6 mm")}
        {kind === "flatness" && <>{length("width", say.width, sheet?.width_mm)}{length("height", say.height, sheet?.height_mm)}</>}
      </div>
      {now === null
        ? <p><button type="button" class={made.value ? undefined : "strong"} disabled={!sheet || (Boolean(CUTTING[kind]) && !cutter)} onClick={() => void order()}>{say.pieceMake}</button></p>
        : <Bar share={now === "asked" ? null : now.share} words={say.planning} />}
      {failed.value && <Wrong>{failed.value}</Wrong>}
      {made.value && shop === hereName.value && <OnePiece piece={made.value} />}
      {history.length > 0 && <>
        <h3>{say.pieceHistory}</h3>
        <ul class="plain">{[...history].reverse().map((entry, k) => <li key={k}><small>{entry.on}</small> {entry.words ?? entry.subject}</li>)}</ul>
      </>}
    </section>
  );
}

function OnePiece({ piece }: { piece: Piece }) {
  const picture = piece.files.find((file) => /piece\.(svg|png)$/.test(file.path));
  return (
    <div class="drawer">
      <p class={piece.proved ? "stamp good" : "stamp bad"}>{piece.proved ? say.proved : say.unproved}</p>
      <p class="verdict">{piece.summary}</p>
      {picture && <Picture url={picture.url} alt={piece.subject} cls="piece-picture" />}
      <ol>{piece.steps.map((step) => <li key={step}>{step}</li>)}</ol>
      <Files kept={piece} />
      <Readings piece={piece} />
    </div>
  );
}

function Readings({ piece }: { piece: Piece }) {
  const id = useId();
  const { readings, step } = work.value, result = told.value;
  const about = (name: string) => mistakes.value.filter((one) => one.field === name);
  const loose = mistakes.value.filter((one) => !piece.reads.some((read) => one.field === `readings.${read.name}`) && one.field !== "resolution");
  const forget = (field: string) => { told.value = null; mistakes.value = mistakes.value.filter((one) => one.field !== field); };
  const type = (name: string, value: string) => { put({ readings: { ...readings, [name]: value } }); forget(`readings.${name}`); };
  const field = (name: string, label: string, value: string, at: string, change: (text: string) => void) => {
    const wrong = about(at);
    return (
      <span class="field" key={name}>
        <label for={`${id}-${name}`}>{label}</label>
        <input id={`${id}-${name}`} value={value} autocomplete="off" inputMode="decimal" maxLength={60} aria-invalid={wrong.length > 0}
          aria-describedby={wrong.length ? `${id}-${name}-wrong` : undefined} onInput={(event) => change(event.currentTarget.value)} />
        {wrong.length > 0 && <small id={`${id}-${name}-wrong`} class="wrong">{wrong.map(mistakeWords).join(" ")}</small>}
      </span>
    );
  };
  return (
    <form aria-label={say.pieceRead} noValidate onSubmit={(event) => { event.preventDefault(); if (!busy.value) void measure(false); }}>
      <h3>{say.pieceRead}</h3>
      <p class="quiet">{say.pieceReadHow(say.shopUnits[piece.units] ?? piece.units)}</p>
      <div class="rack">
        {piece.reads.map((read) => (read.choices
          ? <Choice key={read.name} label={read.label} value={readings[read.name] ?? ""} choices={[["", "—"], ...read.choices.map((one): [string, string] => [one, one])]} onChange={(v) => type(read.name, v)} />
          : field(read.name, read.label, readings[read.name] ?? "", `readings.${read.name}`, (text) => type(read.name, text))))}
        {field("step", say.pieceStep, step, "resolution", (text) => { put({ step: text }); forget("resolution"); })}
      </div>
      {mistakes.value.length > 0 && <Wrong>{say.mistakes(mistakes.value.length)}</Wrong>}
      {loose.length > 0 && <ul class="wrong">{loose.map((one, k) => <li key={k}>{mistakeWords(one)}</li>)}</ul>}
      <p class="moves"><button type="submit" class={result ? undefined : "strong"} disabled={busy.value}>{say.pieceTell}</button></p>
      <div role="status">
        {result && <>
          {result.changes.map((one) => <p class="verdict" key={one.words}>{one.words}</p>)}
          {result.remarks.map((one) => <p key={one}>{one}</p>)}
          {result.kept && <p class="yes">{say.shopStored}</p>}
        </>}
      </div>
      {result && !result.kept && <p><button type="button" class="strong" disabled={busy.value} onClick={() => void measure(true)}>{say.pieceKeep}</button></p>}
    </form>
  );
}

const mistakeWords = (one: Mistake) => [one.message, one.expected && say.wanted(one.expected)].filter(Boolean).join(" ");
