// From the stack to the machine: what it is cut with and from, and what the service made of it.
import { computed, signal } from "@preact/signals";
import { Problem, again, follow as followJob, getJson, make } from "./api";
import { ClampsOf } from "./clamps";
import { StockOf } from "./commits";
import { Bar, Choice, LengthField, Wrong } from "./controls";
import { freeChoice } from "./cutters";
import { Files, unprovedTaken } from "./files";
import { checkRequest, refused } from "./following";
import { proved } from "./proving";
import { OneSheet } from "./sheets";
import { SHIPPED, chooseShop, chooseStock, fetchShops, here, hereName, keyOf, machines, materials, rack, shops } from "./shops";
import { compared, pieceprint, plan, planOf, planUnit, recipe, shop, show, unit, view, wideprint } from "./state";
import { readLength } from "./units";
import { say } from "./words";
import type { Job, Plan, Progress, Proof, Stock } from "./shapes";

const made = signal<Plan | null>(null);
const proof = signal<Proof | null>(null);
/** The plan that had all cutters to choose from, where the one that is shown had not. */
const wide = signal<Plan | null>(null);
const going = signal<Progress | null | "asked">(null);
const failed = signal("");
let stop = new AbortController();

const current = computed(() => Boolean(made.value) && planOf.value === pieceprint.value);

async function lay(): Promise<void> {
  const of = pieceprint.value, spoken = unit.value;
  await wait(() => make<Plan>("/v1/plans", checkRequest(), tell, stop.signal), of, spoken);
}

const tell = (progress: Progress | null) => { going.value = progress ?? "asked"; };

async function wait(what: () => Promise<Plan>, of: string, spoken: string): Promise<void> {
  stop = new AbortController();
  going.value = "asked";
  failed.value = "";
  made.value = proof.value = null;
  unprovedTaken.value = false;
  proved.value = null;
  try {
    const found = await what();
    const file = found.files.find((one) => one.path === "proof.json");
    proof.value = file ? await again(() => getJson<Proof>(file.url)) : null;
    await compareWith(found);
    made.value = found;
    plan.value = found.id;
    planOf.value = of;
    planUnit.value = spoken;
  } catch (error) {
    if (!stop.signal.aborted) failed.value = error instanceof Problem ? error.message : String(error);
  } finally {
    going.value = null;
  }
}

/** Keep the comparison of the whole rack in sight while one of its sets is worked with. */
async function compareWith(found: Plan): Promise<void> {
  const [id = "", of] = compared.value.split(" ");
  if (!shop.value.cutters || of !== wideprint.value) {
    compared.value = `${found.id} ${wideprint.value}`;
    wide.value = found;
  } else if (wide.value?.id !== id) {
    wide.value = await again(() => getJson<Plan>(`/v1/plans/${encodeURIComponent(id)}`)).catch(() => found);
  }
}

/** Take up a plan that was made before the page was loaded. */
export function takeUpPlan(): void {
  if (!plan.value) return;
  const id = encodeURIComponent(plan.value), of = planOf.value;
  void wait(async () => {
    const job = await again(() => getJson<Job>(`/v1/jobs/${id}`));
    return followJob<Plan>(job, tell, stop.signal);
  }, of, planUnit.value).then(() => { if (failed.value) { failed.value = ""; plan.value = ""; } });
}

/** What the service takes where a shop does not say. */
const USUAL_DETAIL = "0.25 mm";

const setShop = (name: "machine" | "hold_down", value: string) => {
  const next = { ...shop.value };
  if (value) next[name] = value; else delete next[name];
  shop.value = next;
};

/** Look at the shop anew after its stock has moved: the piece that was laid out is still the same. */
export async function stockMoved(): Promise<void> {
  const still = current.value, wideStill = compared.value.endsWith(` ${wideprint.value}`);
  await fetchShops();
  if (still) planOf.value = pieceprint.value;
  if (wideStill) compared.value = `${compared.value.split(" ")[0]} ${wideprint.value}`;
}

export function MachineRoom() {
  const now = going.value;
  const kept = made.value;
  const usualMachine = here.value?.shop.machine ?? "bench-router";
  return (
    <section class="machine" aria-labelledby="machine-title">
      <h2 id="machine-title">{say.cutting}</h2>
      <div class="rack">
        <ShopChoice />
        <Choice label={say.machine} value={shop.value.machine ?? usualMachine} onChange={(v) => setShop("machine", v === usualMachine ? "" : v)}
          choices={machines.value.map((found) => [found.key, found.name])} />
        <Choice label={say.holdDown} value={shop.value.hold_down ?? ""} onChange={(v) => setShop("hold_down", v)} choices={Object.entries(say.hold)} />
        <LengthField label={say.detail} value={shop.value.detail ?? (here.value?.shop.detail as string | undefined) ?? USUAL_DETAIL} least={0.02}
          onChange={(v) => { shop.value = { ...shop.value, detail: v }; }} />
        <Sheets />
      </div>
      <ClampsOf among={wanted().flatMap(fitting)} />
      {shop.value.cutters && (
        <p class="changed">{say.cuttersChosen(freeChoice())}{" "}
          <button type="button" onClick={() => { const { cutters: _, ...rest } = shop.value; shop.value = rest; }}>{say.allCutters}</button></p>
      )}
      {now === null
        ? <button type="button" class="strong" disabled={refused.value !== null} onClick={() => void lay()}>{say.plan}</button>
        : <Bar share={now === "asked" ? null : now.share} words={now === "asked" ? say.planning : phase(now)} />}
      {failed.value && <Wrong>{failed.value}</Wrong>}
      {kept && !current.value && <p class="wrong" role="status">{say.planStale}</p>}
      {kept && current.value && planUnit.value !== unit.value && <p class="quiet" role="status">{say.planUnits}</p>}
      {kept && <Made kept={kept} />}
    </section>
  );
}

/** Which shop it is made in. */
export function ShopChoice() {
  const names: [string, string][] = [...shops.value.map((one): [string, string] => [one.key, one.name]), [SHIPPED, say.shippedShop]];
  return (
    <span class="linked-field">
      <Choice label={say.madeIn} value={hereName.value} choices={names} onChange={(name) => void chooseShop(name)} />
      {view.value !== "shop" && <button type="button" class="link" onClick={() => { view.value = "shop"; scrollTo({ top: 0 }); }}>{say.seeShop}</button>}
    </span>
  );
}

function phase(now: Progress): string {
  const name = say.phases[now.phase] ?? now.phase;
  return now.steps > 1 ? `${name}, ${say.stepOf(now.step, now.steps)}` : name;
}

interface Wanted { material: string; mm: number }

/** The materials and thicknesses that the piece is cut from. */
function wanted(): Wanted[] {
  const found = new Map<string, Wanted>();
  for (const layer of recipe.value?.layers ?? []) {
    const mm = readLength(layer.thickness);
    if (mm !== null && layer.outline.kind !== "blank") found.set(`${layer.material} ${mm}`, { material: layer.material, mm });
  }
  return [...found.values()];
}

const fitting = (want: Wanted) => rack.value.filter((s) => s.material === want.material && Math.abs(s.thickness_mm - want.mm) < 0.05);

/** For each material and thickness of the piece, which sheet to take. */
function Sheets() {
  const chosen = shop.value.stock;
  const pick = (among: Stock[], key: string) => {
    const ours = new Set(among.map((sheet) => sheet.key));
    const before = chosen ?? rack.value.map((sheet) => sheet.key);
    const again = [...ours].filter((one) => (!key || one === key)).map((one) => before.find((had) => keyOf(had) === one) ?? one);
    chooseStock([...before.filter((one) => !ours.has(keyOf(one))), ...again]);
  };
  return (
    <>
      {wanted().map((want) => {
        const among = fitting(want);
        const taken = chosen ? among.filter((sheet) => chosen.some((one) => keyOf(one) === sheet.key)) : among;
        return (
          <Choice key={`${want.material} ${want.mm}`} label={`${materials.value.get(want.material)?.name ?? want.material}, ${show(want.mm)}`} value={taken.length === 1 && among.length > 1 ? taken[0]!.key : ""}
            choices={[["", among.length ? say.anySheet : say.noSheet], ...among.map((s): [string, string] => [s.key, `${show(s.width_mm)} × ${show(s.height_mm)}, ${say.onRack(s.count)}`])]}
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
      <p class={kept.proved ? "stamp good" : "stamp bad"} role="status">{kept.proved ? say.proved : kept.sheets.length ? say.unproved : say.nothingLaid}</p>
      <p class="verdict">{kept.summary}</p>
      {cautions.length > 0 && <>
        <h3>{say.cautions}</h3>
        <ul class="cautions">{cautions.map((caution) => <li key={caution}>{caution}</li>)}</ul>
      </>}
      {kept.sheets.map((sheet) => (
        <OneSheet key={sheet.number} sheet={sheet} kept={kept} wide={wide.value ?? kept} current={current.value}
          proof={proof.value?.sheets.find((one) => one.sheet === sheet.number) ?? null} again={() => void lay()} />
      ))}
      <Files kept={kept} />
      {kept.ready && <StockOf kind="plan" id={kept.id} shop={kept.shop?.name ?? ""} moved={stockMoved} />}
    </div>
  );
}
