// From the stack to the machine: sheets, programs, the verdict of their proof, files.
import { computed, signal, useSignal } from "@preact/signals";
import { useId } from "preact/hooks";
import { Problem, again, follow as followJob, getAll, getJson, make, save } from "./api";
import { Bar, Choice, LengthField, Picture, Tick, Wrong } from "./controls";
import { checkRequest, refused } from "./following";
import { materials } from "./layers";
import { Watch } from "./player";
import { fingerprint, plan, planOf, preview, recipe, shop, show } from "./state";
import { readLength, showTime } from "./units";
import { say } from "./words";
import type { Film } from "./film";
import type { Cutter, FileLink, Job, Machine, Plan, Preview, Progress, Proof, Sheet, Stock } from "./shapes";

const rack = signal<Stock[]>([]);
const machines = signal<Machine[]>([]);
const cutters = signal<ReadonlyMap<string, string>>(new Map());
const made = signal<Plan | null>(null);
const proof = signal<Proof | null>(null);
const going = signal<Progress | null | "asked">(null);
const failed = signal("");
const unprovedTaken = signal(false);
let stop = new AbortController();

const current = computed(() => Boolean(made.value) && planOf.value === fingerprint.value);

export async function fetchRack(): Promise<void> {
  const [sheets, kinds, found] = await Promise.all([
    again(() => getAll<Stock>("/v1/stock")), again(() => getAll<Machine>("/v1/machines")), again(() => getAll<Cutter>("/v1/cutters")),
  ]);
  rack.value = sheets;
  machines.value = kinds;
  cutters.value = new Map(found.map((cutter) => [cutter.key, cutter.name]));
}

async function lay(): Promise<void> {
  const of = fingerprint.value;
  await wait(() => make<Plan>("/v1/plans", checkRequest(), tell, stop.signal), of);
}

const tell = (progress: Progress | null) => { going.value = progress ?? "asked"; };

async function wait(what: () => Promise<Plan>, of: string): Promise<void> {
  stop = new AbortController();
  going.value = "asked";
  failed.value = "";
  made.value = proof.value = null;
  unprovedTaken.value = false;
  try {
    const found = await what();
    const file = found.files.find((one) => one.path === "proof.json");
    proof.value = file ? await again(() => getJson<Proof>(file.url)) : null;
    made.value = found;
    plan.value = found.id;
    planOf.value = of;
  } catch (error) {
    if (!stop.signal.aborted) failed.value = error instanceof Problem ? error.message : String(error);
  } finally {
    going.value = null;
  }
}

/** Take up a plan that was made before the page was loaded. */
export function takeUpPlan(): void {
  if (!plan.value) return;
  const id = encodeURIComponent(plan.value), of = planOf.value;
  void wait(async () => {
    const job = await again(() => getJson<Job>(`/v1/jobs/${id}`));
    return followJob<Plan>(job, tell, stop.signal);
  }, of).then(() => { if (failed.value) { failed.value = ""; plan.value = ""; } });
}

/** What the service takes where a shop does not say. */
const USUAL_DETAIL = "0.25 mm";

const setShop = (name: "machine" | "hold_down", value: string) => {
  const next = { ...shop.value };
  if (value) next[name] = value; else delete next[name];
  shop.value = next;
};

export function MachineRoom() {
  const now = going.value;
  const kept = made.value;
  return (
    <section class="machine" aria-labelledby="machine-title">
      <h2 id="machine-title">{say.cutting}</h2>
      <div class="rack">
        <Choice label={say.machine} value={shop.value.machine ?? "bench-router"} onChange={(v) => setShop("machine", v === "bench-router" ? "" : v)}
          choices={machines.value.map((found) => [found.key, found.name])} />
        <Choice label={say.holdDown} value={shop.value.hold_down ?? ""} onChange={(v) => setShop("hold_down", v)} choices={Object.entries(say.hold)} />
        <LengthField label={say.detail} value={shop.value.detail ?? USUAL_DETAIL} least={0.02}
          onChange={(v) => { shop.value = { ...shop.value, detail: v }; }} />
        <Sheets />
      </div>
      {now === null
        ? <button type="button" class="strong" disabled={refused.value !== null} onClick={() => void lay()}>{say.plan}</button>
        : <Bar share={now === "asked" ? null : now.share} words={now === "asked" ? say.planning : phase(now)} />}
      {failed.value && <Wrong>{failed.value}</Wrong>}
      {kept && !current.value && <p class="wrong" role="status">{say.planStale}</p>}
      {kept && <Made kept={kept} />}
    </section>
  );
}

function phase(now: Progress): string {
  const name = say.phases[now.phase] ?? now.phase;
  return now.steps > 1 ? `${name}, ${say.stepOf(now.step, now.steps)}` : name;
}

/** For each material and thickness of the piece, which sheet to take. */
function Sheets() {
  const wanted = new Map<string, { material: string; mm: number }>();
  for (const layer of recipe.value?.layers ?? []) {
    const mm = readLength(layer.thickness);
    if (mm !== null && layer.outline.kind !== "blank") wanted.set(`${layer.material} ${mm}`, { material: layer.material, mm });
  }
  const chosen = shop.value.stock;
  const fitting = (w: { material: string; mm: number }) => rack.value.filter((s) => s.material === w.material && Math.abs(s.thickness_mm - w.mm) < 0.05);
  const pick = (among: Stock[], key: string) => {
    const ours = new Set(among.map((sheet) => sheet.key));
    const rest = (chosen ?? rack.value.map((sheet) => sheet.key)).filter((one) => !ours.has(one));
    const stock = [...rest, ...(key ? [key] : [...ours])];
    const next = { ...shop.value, stock };
    if (stock.length === rack.value.length) delete (next as { stock?: string[] }).stock;
    shop.value = next;
  };
  return (
    <>
      {[...wanted].map(([key, want]) => {
        const among = fitting(want);
        const taken = chosen ? among.filter((sheet) => chosen.includes(sheet.key)) : among;
        return (
          <Choice key={key} label={`${materials.value.get(want.material)?.name ?? want.material}, ${show(want.mm)}`} value={taken.length === 1 && among.length > 1 ? taken[0]!.key : ""}
            choices={[["", say.anySheet], ...among.map((s): [string, string] => [s.key, `${show(s.width_mm)} × ${show(s.height_mm)}, ${say.onRack(s.count)}`])]}
            onChange={(v) => pick(among, v)} />
        );
      })}
    </>
  );
}

function Made({ kept }: { kept: Plan }) {
  const cautions = [...new Set(kept.sheets.flatMap((sheet) => sheet.cautions ?? []))];
  return (
    <div class="made">
      <p class={kept.proved ? "stamp good" : "stamp bad"} role="status">{kept.proved ? say.proved : say.unproved}</p>
      <p class="verdict">{kept.summary}</p>
      {proof.value?.sheets.some((sheet) => sheet.faults.length > 0) && <>
        <h3>{say.faults}</h3>
        <ul>{proof.value.sheets.flatMap((sheet) => sheet.faults.slice(0, 12).map((fault, k) => (
          <li key={`${sheet.sheet}.${k}`}>{say.sheet(sheet.sheet)}, {say.severity[fault.severity] ?? fault.severity}: {fault.text}</li>
        )))}</ul>
      </>}
      {cautions.length > 0 && <>
        <h3>{say.cautions}</h3>
        <ul class="cautions">{cautions.map((caution) => <li key={caution}>{caution}</li>)}</ul>
      </>}
      {kept.sheets.map((sheet) => <OneSheet key={sheet.number} sheet={sheet} files={kept.files} />)}
      <Files kept={kept} />
    </div>
  );
}

const cutterName = (key: string) => cutters.value.get(key) ?? key;

function OneSheet({ sheet, files }: { sheet: Sheet; files: FileLink[] }) {
  const film = files.find((file) => file.path === `films/sheet-${sheet.number}.bin`);
  const proofPicture = files.find((file) => file.path === `proofs/sheet-${sheet.number}.png`);
  const choice = sheet.cutter_choice;
  return (
    <article aria-labelledby={`sheet-${sheet.number}`}>
      <h3 id={`sheet-${sheet.number}`}>{say.sheet(sheet.number)}</h3>
      <p>{sheet.summary}</p>
      <div class="pictures">
        {current.value && preview.value && <figure><Layout sheet={sheet} drawn={preview.value} /><figcaption>{say.laidOut}</figcaption></figure>}
        {proofPicture && <figure><Picture url={proofPicture.url} alt={say.afterwards} /><figcaption>{say.afterwards}</figcaption></figure>}
      </div>
      {film && sheet.programs.length > 0 && (
        <Watch key={film.url} file={film} label={say.sheet(sheet.number)}
          chalked={current.value && preview.value ? chalk(sheet, preview.value) : undefined} />
      )}
      {sheet.programs.length > 0 && <>
        <h4>{say.setUp}</h4>
        <ul class="steps">{sheet.programs.map((program, k) => (
          <li key={program.file}>{say.program(k + 1, program.file, program.cutters.map(cutterName).join(", "), showTime(program.time.total_s))}</li>
        ))}</ul>
      </>}
      {choice && <>
        <h4>{say.cutters}</h4>
        <p>{choice.reason}.</p>
        {choice.compared.length > 1 && <ul>{choice.compared.map((one) => (
          <li key={one.cutters}>{one.cutters.split(" + ").map(cutterName).join(" + ")}: {showTime(one.time_s)}, {say.left(show(one.left_round_mm))}</li>
        ))}</ul>}
      </>}
    </article>
  );
}

/** The outlines of the picture, moved as the plan moves them. */
function placed(sheet: Sheet, drawn: Preview) {
  const [ox, oy] = drawn.origin_mm;
  const parts = new Map(drawn.layers.flatMap((layer) => layer.parts.map((part) => [part.name, { part, colour: layer.colour }] as const)));
  const point = (ring: number[], i: number) => `${ring[i]! / drawn.steps_per_mm + ox} ${ring[i + 1]! / drawn.steps_per_mm + oy}`;
  const path = (rings: number[][]) => rings.map((ring) => `M${Array.from({ length: ring.length / 2 }, (_, k) => point(ring, 2 * k)).join("L")}Z`).join("");
  return sheet.parts.flatMap(({ mark, part, matrix: [a, b, c, d, x, y] }) => {
    const found = parts.get(part);
    return found ? [{ mark, d: path(found.part.rings), colour: found.colour, transform: `matrix(${a} ${c} ${b} ${d} ${x} ${y})` }] : [];
  });
}

/** The sheet with its parts, from above. */
function Layout({ sheet, drawn }: { sheet: Sheet; drawn: Preview }) {
  const { width_mm: w, height_mm: h } = sheet.stock;
  return (
    <svg class="layout" viewBox={`-2 -2 ${w + 4} ${h + 4}`} role="img" aria-label={`${say.laidOut}: ${sheet.parts.map((p) => p.mark).join(", ")}`}>
      <g transform={`matrix(1 0 0 -1 0 ${h})`}>
        <rect width={w} height={h} />
        {placed(sheet, drawn).map(({ mark, d, colour, transform }) => <path key={mark} d={d} fill={colour} transform={transform} />)}
      </g>
    </svg>
  );
}

/** Return what draws the outlines as chalk on a box of the sheet. */
const chalk = (sheet: Sheet, drawn: Preview) => ([left, low, right, high]: Film["box_mm"]) => (
  <svg class="chalk" viewBox={`${left} ${-high} ${right - left} ${high - low}`} preserveAspectRatio="none" aria-hidden="true">
    <g transform="scale(1 -1)">
      {placed(sheet, drawn).map(({ mark, d, transform }) => <path key={mark} d={d} transform={transform} />)}
    </g>
  </svg>
);

const TAKEN = [/^programs\//, /^sheets\/.*\.(svg|dxf)$/, /^layers\/.*\.(svg|dxf)$/, /^stack\.png$/, /\.pdf$/];

function Files({ kept }: { kept: Plan }) {
  const held = kept.files.some((file) => file.held_back);
  const listed = TAKEN.flatMap((form) => kept.files.filter((file) => form.test(file.path)));
  return (
    <>
      <h3>{say.take}</h3>
      {held && <Tick label={say.acceptUnproved} value={unprovedTaken.value} onChange={(taken) => { unprovedTaken.value = taken; }} />}
      <ul class="files">
        <li><FileLine url={kept.links.zip} name={`${kept.title}.zip`} words={say.allFiles} held={held && unprovedTaken.value} /></li>
        {listed.map((file) => (
          <li key={file.path}>
            {file.held_back && !unprovedTaken.value
              ? <span class="quiet">{file.path} ({say.unprovedMark})</span>
              : <FileLine url={file.url} name={file.path.replaceAll("/", "-")} words={file.path} held={file.held_back} />}
          </li>
        ))}
      </ul>
    </>
  );
}

/** A file to take; one that the proof refused says so in its name too. */
export function FileLine({ url, name, words, held }: { url: string; name: string; words: string; held: boolean }) {
  const wrong = useSignal("");
  const id = useId();
  const full = held ? `${url}?override=accept-unproved` : url;
  const called = held ? `unproved-${name}` : name;
  const take = () => { save(full, called).catch((error: unknown) => { wrong.value = String(error); }); };
  return (
    <>
      <button type="button" class="link" aria-describedby={wrong.value ? id : undefined} onClick={take}>{words}{held && ` (${say.unprovedMark})`}</button>
      {wrong.value && <span id={id} class="wrong">{wrong.value}</span>}
    </>
  );
}
