// The fitting: what stands in the way, gravest first, each with its place and its ways out.
import { signal, useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { Problem } from "./api";
import { Bar, Wrong } from "./controls";
import { mend, refused, tryFailed, tryOn, tryProgress, trying } from "./following";
import { reckon, reckoned } from "./minutes";
import { cure } from "./remedies";
import { checked, fingerprint, preview, recipe, shop, show, shown, wish, withoutNulls, type Shop } from "./state";
import { apart, tilt, turn } from "./table";
import { showTime } from "./units";
import { breakingLoad, everyday } from "./weights";
import { ofService, say } from "./words";
import type { Finding, Recipe, Result } from "./shapes";

/** The last change by a button: how to take it back, and how things stood. */
const last = signal<{ what: string; recipe: Recipe; shop: Shop; counts: Result["counts"]; size: string; print: string; wish: { shop?: object } } | null>(null);
const mending = signal(false);
const failed = signal("");

const FIRST = 6;

function remember(what: string): void {
  const now = checked.value?.result.counts ?? { blocker: 0, caution: 0, note: 0 };
  last.value = { what, recipe: recipe.value!, shop: shop.value, counts: now, size: sizeNow(), print: fingerprint.value, wish: wish.value };
}

function sizeNow(): string {
  const seen = preview.value;
  return seen && !seen.not_strengthened.length ? `${show(seen.width_mm)} × ${show(seen.height_mm)}` : "";
}

async function mendAll(): Promise<void> {
  mending.value = true;
  failed.value = "";
  try {
    const mended = await mend();
    if (mended) {
      remember(say.repairAll);
      recipe.value = withoutNulls(mended) as Recipe;
      setTimeout(() => void tryOn());
    }
  } catch (error) {
    failed.value = error instanceof Problem ? error.message : String(error);
  }
  mending.value = false;
}

/** Whether the page has just been loaded: then what was looked at is looked at again. */
let returning = true;

export function Fitting() {
  const fit = checked.value;
  const current = fit?.of === fingerprint.value;
  const all = useSignal(false);
  const findings = fit?.result.findings ?? [];
  useEffect(() => {
    if (!returning || !current) return;
    returning = false;
    const place = findings.findIndex((finding) => finding.number === shown.value);
    if (place >= FIRST) all.value = true;
    if (place >= 0) lookAt(findings[place]!);
  }, [current]);
  const listed = all.value ? findings : findings.slice(0, FIRST);
  return (
    <section class="fitting" aria-labelledby="fitting-title" aria-busy={trying.value}>
      <h2 id="fitting-title">{say.fitting}</h2>
      <div role="status">
        {!fit && !trying.value && <p>{say.notFitted}</p>}
        {fit && <p class={current ? "verdict" : "verdict stale"}>{findings.length ? ofService(fit.result.summary_words, fit.result.summary) : say.fitted}</p>}
        {fit && !current && !refused.value && <p class="quiet">{say.stale}</p>}
      </div>
      {trying.value && <Bar share={tryProgress.value?.share ?? null} words={say.tryingOn} />}
      {!trying.value && !current && !refused.value && <button type="button" onClick={() => void tryOn()}>{say.tryOn}</button>}
      {tryFailed.value && <Wrong>{tryFailed.value.message}</Wrong>}
      {failed.value && <Wrong>{failed.value}</Wrong>}
      <LastChange current={current} />
      {current && fit.result.counts.blocker > 0 && (mending.value
        ? <Bar share={null} words={say.repairing} />
        : <button type="button" class="strong" onClick={() => void mendAll()}>{say.repairAll}</button>)}
      {fit && <ol class={current ? "doubts" : "doubts stale"}>
        {listed.map((finding) => <Doubt key={finding.number} finding={finding} current={current} />)}
      </ol>}
      {findings.length > FIRST && <button type="button" onClick={() => { all.value = !all.value; }}>{all.value ? say.fewer : say.moreNotes(findings.length - FIRST)}</button>}
    </section>
  );
}

function LastChange({ current }: { current: boolean }) {
  const done = last.value, now = checked.value?.result.counts, print = fingerprint.value;
  useEffect(() => {
    if (!done || !current || !recipe.value) return;
    reckon(done.print, done.recipe, done.wish);
    reckon(print, recipe.value, wish.value);
  }, [done, current, print]);
  if (!done) return null;
  const told = (counts: Result["counts"], size: string, of: string) => {
    const seconds = reckoned.value.get(of);
    return [say.counts(counts.blocker, counts.caution), size, typeof seconds === "number" ? say.onMachine(showTime(seconds)) : ""].filter(Boolean).join(", ");
  };
  return (
    <p class="changed" role="status">
      {say.changed(done.what)} {say.beforeAfter(told(done.counts, done.size, done.print), current && now ? told(now, sizeNow(), print) : "…")}{" "}
      <button type="button" onClick={() => { recipe.value = done.recipe; shop.value = done.shop; last.value = null; }}>{say.takeBack}</button>
    </p>
  );
}

/** Look at a place: from above, with the layers apart as far as it is not on top. */
function lookAt(finding: Finding): void {
  shown.value = finding.number;
  turn.value = 0;
  tilt.value = Math.PI / 2;
  apart.value = 0;
  const layers = preview.value?.layers ?? [];
  if (finding.layer !== null && layers[layers.length - 1]?.name !== finding.layer) {
    tilt.value = 0.7;
    apart.value = 0.8;
  }
  const reduced = matchMedia("(prefers-reduced-motion: reduce)").matches;
  document.querySelector(".table")?.scrollIntoView({ block: "start", behavior: reduced ? "auto" : "smooth" });
}

function Doubt({ finding, current }: { finding: Finding; current: boolean }) {
  const load = breakingLoad(finding);
  return (
    <li class={finding.severity} id={`doubt-${finding.number}`} tabIndex={-1} data-shown={finding.number === shown.value}>
      <p class="grade"><b>{finding.number}</b> {say.severity[finding.severity]}</p>
      <p>{ofService(finding.words, finding.why)}{load !== null && ` ${say.breaksUnder(everyday(load))}`}</p>
      <p class="moves">
        {finding.where && current && <button type="button" onClick={() => lookAt(finding)}>{say.place(finding.number)}</button>}
        {finding.remedies.map((remedy, k) => {
          const carry = current ? cure(finding, remedy) : null;
          const words = ofService(remedy.words, remedy.text);
          return carry
            ? <button type="button" class="strong" key={k} onClick={() => { remember(words); carry(); setTimeout(() => void tryOn()); }}>{words}</button>
            : <span class="way" key={k}>{words}</span>;
        })}
      </p>
    </li>
  );
}
