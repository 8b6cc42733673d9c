// The order slip: the words, and one sentence that says what they become.
import { signal, useSignal } from "@preact/signals";
import { again, getAll, getJson } from "./api";
import { Picture } from "./controls";
import { Fonts, faceOf, fonts } from "./fonts";
import { Tape } from "./tape";
import { kind, ownFont, recipe, setWords, show, size, templates, text, titled } from "./state";
import { amidst, inLanguage, say } from "./words";
import type { Template } from "./shapes";

const open = signal<"" | "kinds" | "fonts">("");

export async function fetchTemplates(): Promise<void> {
  templates.value = await again(() => getAll<Template>("/v1/templates", String(new URLSearchParams(inLanguage))));
}

/** Put a template on the bench, with the words and, where the maker chose it, the font. */
export async function begin(key: string, words: string | null): Promise<void> {
  const wishes = new URLSearchParams(inLanguage);
  if (words !== null) wishes.set("text", words);
  if (ownFont.value && recipe.value?.lettering) wishes.set("font", recipe.value.lettering.font);
  const found = await again(() => getJson<Template>(`/v1/templates/${encodeURIComponent(key)}?${wishes}`));
  kind.value = key;
  titled.value = found.titled;
  recipe.value = found.recipe;
}

export function Slip() {
  const lines = text.value.split("\n").length;
  const lettering = recipe.value?.lettering;
  const font = fonts.value.find((found) => found.key === lettering?.font);
  const named = templates.value.find((found) => found.key === kind.value)?.name ?? say.ownKind;
  const drawer = (which: "kinds" | "fonts") => () => { open.value = open.value === which ? "" : which; };
  return (
    <section class="slip" aria-labelledby="words-label">
      <label id="words-label" for="words">{say.words}</label>
      <textarea id="words" style={{ fontFamily: lettering ? faceOf(lettering.font) : "serif" }} rows={lines} spellcheck={false} value={text.value} aria-describedby="words-help"
        disabled={!lettering} placeholder={lettering ? "" : say.noWords}
        onInput={(event) => setWords(event.currentTarget.value)} />
      <p id="words-help" class="unseen">{say.wordsHelp}</p>
      <p class="sentence">
        {say.makeA}{" "}
        <button type="button" class="blank" aria-expanded={open.value === "kinds"} onClick={drawer("kinds")}>{amidst(named)}</button>
        {lettering && <>
          {", "}{say.inFont}{" "}
          <button type="button" class="blank" aria-expanded={open.value === "fonts"} onClick={drawer("fonts")}>{font ? fontName(font) : lettering.font}</button>
          {", "}<Sized />
        </>}
      </p>
      {open.value === "kinds" && <Kinds />}
      {open.value === "fonts" && <Fonts onClose={() => { open.value = ""; }} />}
      {lettering && <Tape />}
    </section>
  );
}

function Sized() {
  const now = size.value;
  if (!now) return <span><b>{say.asLarge}</b>.</span>;
  const [before, after] = say.sizedBy[now.name]!;
  return <span>{before} <b>{show(now.mm)}</b> {after}.</span>;
}

export function fontName(font: { family: string; style: string; key: string }): string {
  const family = font.family.includes("-") || font.family === font.family.toLowerCase()
    ? font.family.split("-").map((word) => word.charAt(0).toUpperCase() + word.slice(1)).join(" ") : font.family;
  return !font.style || /^regular$/i.test(font.style) ? family : `${family} ${font.style.replaceAll("-", " ").toLowerCase()}`;
}

function Kinds() {
  const busy = useSignal("");
  const choose = async (key: string) => {
    busy.value = key;
    await begin(key, text.value || null);
    busy.value = "";
    open.value = "";
  };
  return (
    <div class="drawer" role="group" aria-label={say.kinds}>
      <h2>{say.kinds}</h2>
      <ul class="swatches">
        {templates.value.map((found) => (
          <li key={found.key}>
            <button type="button" aria-pressed={found.key === kind.value} aria-busy={busy.value === found.key} onClick={() => void choose(found.key)}>
              <Picture url={found.links.svg} alt="" />
              <b>{found.name}</b>
              <span>{found.about}</span>
            </button>
          </li>
        ))}
      </ul>
      <button type="button" onClick={() => { open.value = ""; }}>{say.close}</button>
    </div>
  );
}
