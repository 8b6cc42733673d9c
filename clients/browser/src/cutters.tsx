// Which cutters: sets of them side by side, what each takes and what it leaves, to choose from.
import { signal } from "@preact/signals";
import { useId } from "preact/hooks";
import { Picture } from "./controls";
import { cutterName, cutters, inRack } from "./shops";
import { shop, show, unit } from "./state";
import { showArea, showTime } from "./units";
import { say } from "./words";
import type { CutterChoice, CutterSet, Plan, Sheet } from "./shapes";

const WORKS = ["cutter_choice", "floor_choice"] as const;
type Work = (typeof WORKS)[number];

/** What somebody picked and has not had laid out yet: by plan, sheet and work. */
const picked = signal<Record<string, string>>({});
const placeOf = (plan: Plan, sheet: number, work: Work) => `${plan.id} ${sheet} ${work}`;

const chosenOf = (choice: CutterChoice | undefined) => choice?.compared.find((one) => one.chosen);
const namesOf = (set: string) => set.split(" + ").map((key) => cutterName(key).replace(/, \d+ flutes?$/, "")).join(" + ");
const kindOf = (key: string) => cutters.value.find((one) => one.key === key)?.kind;

/** The cutters that a request was narrowed to, of those that could be others. */
export function freeChoice(): string {
  const among = shop.value.cutters ?? [];
  const kinds = new Set(inRack.value.filter((one) => !among.includes(one.key)).map((one) => one.kind));
  return among.filter((key) => kinds.has(kindOf(key) ?? "")).map(cutterName).join(", ");
}

/** Ask for the sets that were picked: other cutters that could do the same stay in the rack. */
function take(kept: Plan, wide: Plan): void {
  const wanted = new Set<string>(), kinds = new Set<string | undefined>();
  for (const sheet of kept.sheets) for (const work of WORKS) {
    const choice = comparisonOf(sheet, wide, work);
    if (!choice) continue;
    const set = picked.value[placeOf(kept, sheet.number, work)] ?? chosenOf(sheet[work])?.cutters ?? "";
    for (const key of set.split(" + ")) wanted.add(key);
    for (const one of choice.compared) for (const key of one.cutters.split(" + ")) kinds.add(kindOf(key));
  }
  shop.value = { ...shop.value, cutters: inRack.value.filter((one) => wanted.has(one.key) || !kinds.has(one.kind)).map((one) => one.key) };
}

/** What was compared for a sheet: by the plan that had all cutters, where it has the same sheet. */
function comparisonOf(sheet: Sheet, wide: Plan, work: Work): CutterChoice | undefined {
  const same = wide.sheets.find((one) => one.number === sheet.number && one.stock.key === sheet.stock.key);
  return (sheet[work] && same?.[work]) ?? sheet[work];
}

interface Props { sheet: Sheet; kept: Plan; wide: Plan; current: boolean; again: () => void }

export function CutterSets({ sheet, kept, wide, current, again }: Props) {
  const file = `sheets/sheet-${sheet.number}-cutters.png`;
  const picture = [wide, kept].flatMap((plan) => plan.files).find((one) => one.path === file);
  const several = WORKS.filter((work) => (comparisonOf(sheet, wide, work)?.compared.length ?? 0) > 1);
  // Where the others only take longer, they are there for who asks for them.
  const vain = several.every((work) => comparisonOf(sheet, wide, work)!.compared.every((one) => isVain(one, chosenOf(sheet[work]))));
  const changed = several.some((work) => {
    const pick = picked.value[placeOf(kept, sheet.number, work)];
    return pick !== undefined && pick !== chosenOf(sheet[work])?.cutters;
  });
  const choice = (
    <>
      {several.map((work) => {
        const place = placeOf(kept, sheet.number, work), now = chosenOf(sheet[work]);
        return (
          <Sets key={work} legend={`${say.setsOf[work]}, ${say.sheet(sheet.number)}`} sets={comparisonOf(sheet, wide, work)!.compared} now={now}
            value={picked.value[place] ?? now?.cutters ?? ""} disabled={!current} pick={(set) => { picked.value = { ...picked.value, [place]: set }; }} />
        );
      })}
      {several.length > 0 && current && (
        <p class="moves"><button type="button" class={changed ? "strong" : undefined} disabled={!changed} onClick={() => { take(kept, wide); again(); }}>{say.takeSet}</button>{" "}
          <small>{changed ? say.takeSetNext : say.takeSetPick}</small></p>
      )}
      {several.length > 0 && !vain && picture && <figure class="sets-picture"><Picture url={picture.url} alt={say.setsPicture} /><figcaption>{say.setsPicture}{wide.id !== kept.id && `. ${say.setsPictureWas}`}</figcaption></figure>}
    </>
  );
  return (
    <>
      <h4>{say.cutters}</h4>
      {WORKS.map((work) => sheet[work] && <p key={work}>{sheet[work].reason}.</p>)}
      {several.length > 0 && (vain ? <details><summary>{say.setsVain}</summary>{choice}</details> : choice)}
    </>
  );
}

/** Tell whether a set takes longer, or is what is laid out, and leaves no less. */
const isVain = (one: CutterSet, now: CutterSet | undefined) => now !== undefined && one.time_s >= now.time_s && one.left_round_mm > now.left_round_mm - SEEN_MM;

interface SetsProps { legend: string; sets: CutterSet[]; now: CutterSet | undefined; value: string; disabled: boolean; pick: (set: string) => void }

function Sets({ legend, sets, now, value, disabled, pick }: SetsProps) {
  const name = useId();
  const longest = Math.max(...sets.map((one) => one.time_s)), deepest = Math.max(1e-9, ...sets.map((one) => one.left_round_mm));
  return (
    <fieldset class="sets" disabled={disabled}>
      <legend>{legend}</legend>
      {sets.map((one) => (
        <label key={one.cutters} data-now={one.cutters === now?.cutters}>
          <input type="radio" name={name} value={one.cutters} checked={one.cutters === value} onChange={() => pick(one.cutters)} />
          <b>{namesOf(one.cutters)}</b>
          <span class="scale"><span>{showTime(one.time_s)}</span><i style={{ width: `${(100 * one.time_s) / longest}%` }} /></span>
          <span class="scale round"><span>{leftWords(one)}</span><i style={{ width: `${(100 * one.left_round_mm) / deepest}%` }} /></span>
          <small>{weighed(one, now)}</small>
        </label>
      ))}
    </fieldset>
  );
}

const SEEN_MM = 0.01; // less than that is no difference

const leftWords = (one: CutterSet) => (one.left_round_mm < SEEN_MM ? say.leftSharp : say.leftRound(show(one.left_round_mm), showArea(one.left_area_mm2, unit.value)));

/** Say what a set costs and what it wins, held against the one that is laid out. */
function weighed(one: CutterSet, now: CutterSet | undefined): string {
  if (!now) return "";
  if (one.cutters === now.cutters) return say.setNow;
  const seconds = one.time_s - now.time_s, deeper = one.left_round_mm - now.left_round_mm;
  const time = seconds < 0 ? say.setQuicker(showTime(-seconds)) : say.setSlower(showTime(seconds));
  const left = Math.abs(deeper) < SEEN_MM ? say.setSame : deeper > 0 ? say.setRounder(show(deeper)) : say.setSharper(show(-deeper));
  const vain = isVain(one, now) ? ` ${say.setVain}` : "";
  return `${time}, ${left}.${vain}`;
}
