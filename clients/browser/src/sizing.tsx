// Questions of size: how large in a box, on sheets, how wide, how small; the answer is taken by a button.
import { computed, signal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { Problem, make } from "./api";
import { Bar, Choice, LengthField, Wrong } from "./controls";
import { checkRequest, refused } from "./following";
import { holds, holdsOf } from "./fonts";
import { recipe, show, shop, shopVersion, size, unit } from "./state";
import { plainNumber, type Written } from "./units";
import { say } from "./words";
import type { Progress } from "./shapes";

type Question = "smallest" | "sheets" | "fit" | "width";
interface Answer { summary: string; answer: { cap_height_mm: number | null; width_mm: number | null; holds: boolean } | null }

const open = signal(false);
const question = signal<Question>("smallest");
const box = signal<[Written, Written]>(["100 mm", "100 mm"]);
const wide = signal<Written>("300 mm");
const sheets = signal(1);
const going = signal<Progress | null | "asked">(null);
const failed = signal("");
const found = signal<{ of: string; told: Answer } | null>(null);
let stop = new AbortController();

/** What an answer depends on: the piece but for its size, where it is made, what it is told in. */
const print = computed(() => {
  const { lettering, ...rest } = recipe.value ?? {};
  return JSON.stringify([rest, { ...lettering, size: null }, shop.value, shopVersion.value, unit.value]);
});

const asks = (): object => ({
  smallest: { smallest: true }, sheets: { sheets: sheets.value }, width: { width: wide.value },
  fit: { fit: { width: box.value[0], height: box.value[1] } },
})[question.value];

async function ask(): Promise<void> {
  const of = print.value, words = holdsOf(), asked = question.value, font = recipe.value?.lettering?.font ?? "";
  going.value = "asked";
  failed.value = "";
  found.value = null;
  const mine = stop = new AbortController();
  try {
    const told = await make<Answer>("/v1/sizes", checkRequest(asks()), (p) => { going.value = p ?? "asked"; }, mine.signal);
    found.value = { of, told };
    const mm = told.answer?.cap_height_mm;
    if (asked === "smallest" && mm) holds.value = { of: words, from: new Map(holds.value.of === words ? holds.value.from : []).set(font, mm) };
  } catch (error) {
    if (!mine.signal.aborted) failed.value = error instanceof Problem ? error.message : String(error);
  } finally {
    going.value = null;
  }
}

const forget = () => { stop.abort(); found.value = null; failed.value = ""; };

/** Take a height of the capitals, whatever the size was told by before. */
function take(mm: number): void {
  const draft = structuredClone(recipe.value!);
  draft.lettering!.size = { cap_height: Number(plainNumber(mm, 3)) };
  recipe.value = draft;
}

export function AskSize() {
  return <button type="button" aria-expanded={open.value} onClick={() => { open.value = !open.value; if (!open.value) forget(); }}>{say.askSize}</button>;
}

export function Sizing() {
  const first = useRef<HTMLDivElement>(null);
  useEffect(() => { if (open.value) first.current?.querySelector("select")?.focus(); }, [open.value]);
  if (!open.value) return null;
  const now = going.value, told = found.value?.of === print.value ? found.value.told : null;
  const mm = told?.answer?.cap_height_mm ?? null;
  const taken = mm !== null && size.value?.name === "cap_height" && Math.abs(size.value.mm - mm) < 0.01;
  return (
    <div class="drawer" role="group" aria-label={say.askSize} ref={first}>
      <h2>{say.askSize}</h2>
      <div class="rack">
        <Choice label={say.sizeWhich} value={question.value} choices={Object.entries(say.sizeQuestions)} onChange={(v) => { forget(); question.value = v as Question; }} />
        {question.value === "fit" && <>
          <LengthField label={say.width} value={box.value[0]} least={1} onChange={(v) => { box.value = [v, box.value[1]]; }} />
          <LengthField label={say.height} value={box.value[1]} least={1} onChange={(v) => { box.value = [box.value[0], v]; }} />
        </>}
        {question.value === "width" && <LengthField label={say.width} value={wide.value} least={1} onChange={(v) => { wide.value = v; }} />}
        {question.value === "sheets" && <Choice label={say.sheets} value={String(sheets.value)} onChange={(v) => { sheets.value = Number(v); }}
          choices={Array.from({ length: 10 }, (_, n): [string, string] => [String(n + 1), say.sizeSheets(n + 1)])} />}
      </div>
      {now === null
        ? <p><button type="button" class="strong" disabled={refused.value !== null} onClick={() => void ask()}>{say.sizeAsk}</button></p>
        : <div class="moves"><Bar share={now === "asked" ? null : now.share} words={say.sizeAsking} /> <button type="button" onClick={forget}>{say.stop}</button></div>}
      {failed.value && <Wrong>{failed.value}</Wrong>}
      <div role="status">
        {told && <p class="verdict">{told.summary}</p>}
        {taken && <p class="quiet">{say.sizeTaken}</p>}
      </div>
      {mm !== null && !taken && <p><button type="button" class={told?.answer?.holds ? "strong" : undefined} onClick={() => take(mm)}>{say.sizeTake(show(mm))}</button></p>}
    </div>
  );
}
