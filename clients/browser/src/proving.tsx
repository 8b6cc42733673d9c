// A program that somebody changed by hand, proved as it is now: nothing is rewritten, nothing kept.
import { signal, useSignal } from "@preact/signals";
import { useId } from "preact/hooks";
import { Problem, again, ask, post, postJson } from "./api";
import { Bar, Choice, Wrong } from "./controls";
import { addressOf } from "./files";
import { Watch, type Chalked } from "./player";
import { Faults } from "./sheets";
import { SHIPPED, shopName, shops } from "./shops";
import { unit } from "./state";
import { say } from "./words";
import type { ComponentChildren } from "preact";
import type { Fault, Plan, Proof, Sheet } from "./shapes";

/** What was brought for a plan, by the name of the program that it stands in for, and the verdict of a shop. */
interface Brought { plan: string; texts: ReadonlyMap<string, string>; changed: boolean; answer: Proof | null; number: number; shop: string }

export const proved = signal<Brought | null>(null);
let count = 0;
const busy = signal(false);
const wrong = signal("");
/** A file whose name tells nothing: somebody says which program it is. */
const unnamed = signal<{ sheet: number; name: string; text: string } | null>(null);
const onBench = signal<Plan | null>(null);
/** The shop whose machine and cutters count; empty for that of the plan as it was then. */
const elsewhere = signal({ plan: "", shop: "" });

const shopOf = (plan: Plan) => (elsewhere.value.plan === plan.id ? elsewhere.value.shop : "");
const inShop = (shop: string) => (shop ? { shop: { name: shop, units: unit.value === "in" ? "inch" : "mm" } } : {});

/** The programs of a plan as they were made, fetched once. */
let made: { plan: string; texts: Map<string, string> } = { plan: "", texts: new Map() };

async function programsOf(plan: Plan): Promise<Map<string, string>> {
  if (made.plan !== plan.id) {
    const files = plan.files.filter((file) => file.path.startsWith("programs/"));
    const texts = await Promise.all(files.map(async (file) => [file.path.slice("programs/".length), await (await again(() => ask(addressOf(file)))).text()] as const));
    made = { plan: plan.id, texts: new Map(texts) };
  }
  return made.texts;
}

async function prove(plan: Plan, brought: Map<string, string>): Promise<void> {
  busy.value = true;
  wrong.value = "";
  const before = proved.value?.plan === plan.id ? proved.value.texts : new Map<string, string>();
  const texts = new Map([...before, ...brought]);
  const number = count += 1, shop = shopOf(plan);
  proved.value = { plan: plan.id, texts, changed: true, answer: null, number, shop };
  try {
    const all = await programsOf(plan);
    const programs = Object.fromEntries([...all, ...texts]);
    const answer = await again(() => postJson<Proof>("/v1/proofs", { plan: plan.id, programs, ...inShop(shop) }));
    proved.value = { plan: plan.id, texts, changed: [...texts].some(([name, text]) => all.get(name) !== text), answer, number, shop };
  } catch (error) {
    // What was brought stays: another shop may have what this one lacks.
    proved.value = { plan: plan.id, texts, changed: true, answer: null, number, shop };
    wrong.value = error instanceof Problem ? [error.message, error.facts.expected && say.wanted(error.facts.expected)].filter(Boolean).join(" ") : String(error);
  } finally {
    busy.value = false;
  }
}

/** Have what was brought, or else the programs of a sheet as they are, judged by another shop. */
async function proveIn(plan: Plan, sheet: Sheet, shop: string): Promise<void> {
  elsewhere.value = { plan: plan.id, shop };
  if (proved.value?.plan === plan.id) return prove(plan, new Map());
  const own = new Set(sheet.programs.map((program) => program.file));
  return prove(plan, new Map([...await programsOf(plan)].filter(([name]) => own.has(name))));
}

/** Take files that were dropped or chosen: their names say which programs they are. */
async function take(plan: Plan, sheet: number, files: Iterable<File>): Promise<void> {
  wrong.value = "";
  unnamed.value = null;
  const names = plan.sheets.flatMap((one) => one.programs.map((program) => ({ sheet: one.number, file: program.file })));
  const brought = new Map<string, string>();
  for (const file of files) {
    const text = await file.text();
    const own = names.filter((one) => one.sheet === sheet);
    const named = names.find((one) => file.name.endsWith(one.file)) ?? (own.length === 1 ? own[0] : undefined);
    if (named) brought.set(named.file, text);
    else unnamed.value = { sheet, name: file.name, text };
  }
  if (brought.size) await prove(plan, brought);
}

/** Take a program that was dropped somewhere on the page; returns whether there is a plan to hold it against. */
export function takeProgram(file: File): boolean {
  const plan = onBench.value, sheet = plan?.sheets.find((one) => one.programs.length > 0);
  if (!plan || !sheet) return false;
  const named = plan.sheets.find((one) => one.programs.some((program) => file.name.endsWith(program.file))) ?? sheet;
  void take(plan, named.number, [file]).then(() => document.getElementById(`prove-${named.number}`)?.scrollIntoView({ block: "center" }));
  return true;
}

/** Fetch the film of a sheet as its changed programs cut it. */
async function filmOf(plan: Plan, sheet: number, brought: Brought): Promise<Response> {
  const programs = Object.fromEntries([...await programsOf(plan), ...brought.texts]);
  return post("/v1/proofs", { plan: plan.id, programs, film: sheet, ...inShop(brought.shop) });
}

interface Props { sheet: Sheet; kept: Plan; chalked?: Chalked; draw: (faults: Fault[]) => ComponentChildren }

export function Proving({ sheet, kept, chalked, draw }: Props) {
  onBench.value = kept;
  const id = useId();
  const over = useSignal(false);
  const own = new Set(sheet.programs.map((program) => program.file));
  const now = proved.value?.plan === kept.id ? proved.value : null;
  const mine = now ? [...now.texts.keys()].filter((name) => own.has(name)) : [];
  const asked = unnamed.value?.sheet === sheet.number ? unnamed.value : null;
  const verdict = mine.length ? now?.answer?.sheets.find((one) => one.sheet === sheet.number) : undefined;
  return (
    <div class="prove" id={`prove-${sheet.number}`} data-over={over.value}
      onDragOver={(event) => { event.preventDefault(); over.value = true; }} onDragLeave={() => { over.value = false; }}
      onDrop={(event) => { event.preventDefault(); event.stopPropagation(); over.value = false; void take(kept, sheet.number, event.dataTransfer?.files ?? []); }}>
      <h4>{say.byHand}</h4>
      <p class="quiet">{say.byHandHow}</p>
      <p class="file">
        <input id={id} type="file" multiple onChange={(event) => {
          const input = event.currentTarget, files = [...(input.files ?? [])];
          void take(kept, sheet.number, files).then(() => { input.value = ""; });
        }} />
        <label for={id}>{say.byHandBring} ({say.sheet(sheet.number)})</label>
      </p>
      {shops.value.length > 0 && (
        <p class="rack"><Choice label={`${say.byHandShop} (${say.sheet(sheet.number)})`} value={shopOf(kept)}
          choices={[["", say.byHandOwnShop], ...shops.value.map((one): [string, string] => [one.key, one.name]), [SHIPPED, say.shippedShop]]}
          onChange={(shop) => void proveIn(kept, sheet, shop)} /></p>
      )}
      {asked && (
        <Choice label={say.byHandWhich(asked.name)} value="" choices={[["", "—"], ...sheet.programs.map((one): [string, string] => [one.file, one.file])]}
          onChange={(file) => { if (file) { unnamed.value = null; void prove(kept, new Map([[file, asked.text]])); } }} />
      )}
      {busy.value && (mine.length > 0 || asked) && <Bar share={null} words={say.byHandProving} />}
      {wrong.value && <Wrong>{wrong.value}</Wrong>}
      {verdict && <>
        <p class={verdict.passed ? "stamp good" : "stamp bad"} role="status">{verdict.passed ? say.byHandGood : say.byHandBad}</p>
        <p>{verdict.summary} {now && !now.changed && say.byHandSame}</p>
        <p class="quiet">{say.byHandOf(mine.join(", "))} {now?.shop && say.byHandIn(now.shop === SHIPPED ? say.shippedShop : shopName(now.shop))}</p>
        {verdict.faults.some((fault) => fault.where_mm) && draw(verdict.faults)}
        <Faults faults={verdict.faults} sheet={sheet.number} lineOf={(fault) => lineOf(now!.texts, fault)} />
        <Watch key={now!.number} load={() => filmOf(kept, sheet.number, now!)} label={`${say.sheet(sheet.number)}, ${say.byHand}`} chalked={chalked} />
        <button type="button" onClick={() => { proved.value = null; }}>{say.byHandLeave}</button>
      </>}
    </div>
  );
}

/** The line of a program that a fault names, as it is written. */
function lineOf(texts: ReadonlyMap<string, string>, fault: Fault): string | undefined {
  const text = fault.program ? texts.get(fault.program) ?? made.texts.get(fault.program) : undefined;
  return fault.line ? text?.split(/\r\n|\n|\r/)[fault.line - 1] : undefined;
}
