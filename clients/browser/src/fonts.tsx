// Fonts, each shown in the maker's own words, grouped by what they are good for.
import { signal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { Problem, again, ask, getAll, make } from "./api";
import { Bar, Wrong } from "./controls";
import { named } from "./following";
import { fontName } from "./slip";
import { change, ownFont, recipe, show, text } from "./state";
import { setFont } from "./remedies";
import { readLength } from "./units";
import { say } from "./words";
import type { Font, Progress } from "./shapes";

export const fonts = signal<Font[]>([]);
const loaded = signal<ReadonlySet<string>>(new Set());
const asked = new Set<string>();

/** From which capital height the words hold, by font; null where they never do; of which words. */
export const holds = signal<{ of: string; from: Map<string, number | null> }>({ of: "", from: new Map() });
const looking = signal<Progress | null | "asked">(null);
const failed = signal("");

export async function fetchFonts(): Promise<void> {
  fonts.value = await again(() => getAll<Font>("/v1/fonts"));
}

/** Return what CSS calls a font of the service; it is fetched when it is first asked for. */
export function faceOf(key: string): string {
  if (!asked.has(key)) {
    asked.add(key);
    void load(key);
  }
  return loaded.value.has(key) ? `"bench ${key}", serif` : "serif";
}

async function load(key: string): Promise<void> {
  try {
    const data = await (await ask(`/v1/fonts/${encodeURIComponent(key)}/file`)).arrayBuffer();
    const face = new FontFace(`bench ${key}`, data);
    await face.load();
    document.fonts.add(face);
    loaded.value = new Set([...loaded.value, key]);
  } catch { /* shown in another hand: the picture on the table is right all the same */ }
}

/** What the words must hold in: the top layer that is the words themselves, or the top one. */
export function terms(): { material: string; thickness: number } | null {
  const layers = recipe.value?.layers ?? [];
  const top = [...layers].reverse().find((layer) => layer.outline.kind === "lettering") ?? layers[layers.length - 1];
  const thickness = top ? readLength(top.thickness) : null;
  return top && thickness ? { material: top.material, thickness } : null;
}

export const holdsOf = () => JSON.stringify([text.value, terms()]);

interface Row { font: string; smallest_cap_height_mm: number | null; problem: unknown }

/** Have fonts looked at for these words; the answer goes to `holds`. */
export async function lookAt(keys: string[]): Promise<void> {
  const found = terms(), of = holdsOf(), own = recipe.value?.lettering?.font;
  if (!found || !own || !text.value.trim() || looking.value) return;
  looking.value = "asked";
  failed.value = "";
  const compare = keys.filter((key) => key !== own);
  try {
    const body = { font: own, text: text.value, ...found, ...named(), ...(compare.length ? { compare } : {}) };
    const made = await make<{ text: Row | null; comparison?: Row[] | null }>("/v1/surveys", body, (p) => { looking.value = p ?? "asked"; }, new AbortController().signal);
    const from = new Map(holds.value.of === of ? holds.value.from : []);
    if (made.text) from.set(own, made.text.smallest_cap_height_mm);
    for (const row of made.comparison ?? []) from.set(row.font, row.problem ? null : row.smallest_cap_height_mm);
    holds.value = { of, from };
  } catch (error) {
    failed.value = error instanceof Problem ? error.message : String(error);
  } finally {
    looking.value = null;
  }
}

export function Looking() {
  const now = looking.value;
  if (failed.value) return <Wrong>{failed.value}</Wrong>;
  return now ? <Bar share={now === "asked" ? null : now.share} words={say.lookingFonts} /> : null;
}

export async function takeFont(file: File): Promise<string> {
  const answer = await ask("/v1/fonts", { method: "POST", headers: { "Content-Type": "application/octet-stream" }, body: file });
  const font = (await answer.json()) as Font;
  await fetchFonts();
  return font.key;
}

function choose(key: string): void {
  ownFont.value = true;
  change((draft) => setFont(draft, key));
}

export function Fonts({ onClose }: { onClose: () => void }) {
  const groups = new Map<string, Font[]>();
  for (const font of fonts.value) groups.set(font.kind, [...(groups.get(font.kind) ?? []), font]);
  const fresh = holds.value.of === holdsOf();
  return (
    <div class="drawer tall" role="group" aria-label={say.fonts}>
      <h2>{say.fonts}</h2>
      <p><button type="button" onClick={() => void lookAt(fonts.value.filter((f) => /^(regular)?$/i.test(f.style)).map((f) => f.key).slice(0, 12))}>{say.findHolds}</button></p>
      <Looking />
      {[...groups].map(([group, members]) => (
        <div key={group}>
          <h3>{group}</h3>
          <ul class="hands">
            {members.map((font) => <Hand key={font.key} font={font} from={fresh ? holds.value.from.get(font.key) : undefined} />)}
          </ul>
        </div>
      ))}
      <button type="button" onClick={onClose}>{say.close}</button>
    </div>
  );
}

function Hand({ font, from }: { font: Font; from: number | null | undefined }) {
  useEffect(() => void faceOf(font.key), [font.key]);
  return (
    <li>
      <button type="button" aria-pressed={recipe.value?.lettering?.font === font.key} onClick={() => choose(font.key)}>
        <span class="shown" style={{ fontFamily: faceOf(font.key) }}>{text.value || fontName(font)}</span>
        <small><b>{fontName(font)}</b>{font.note && ` · ${font.note}`}</small>
        {from !== undefined && <small class="holds">{from === null ? say.neverHolds : say.holdsFrom(show(from))}</small>}
      </button>
    </li>
  );
}
