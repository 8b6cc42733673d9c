// Files that are brought along: drawings and fonts, chosen or dropped anywhere on the page.
import { signal } from "@preact/signals";
import { Problem, ask } from "./api";
import { Picture, Wrong } from "./controls";
import { takeFont } from "./fonts";
import { takeProgram } from "./proving";
import { setFont } from "./remedies";
import { change, ownFont, recipe, view } from "./state";
import { takeList } from "./rows";
import { say } from "./words";

interface Drawing {
  key: string; name: string; summary: string; links: { png: string; svg: string };
  left_out: { what: string; where: string[]; done: string; remedy: string }[];
  traced?: { doubts: string[] } | null;
}

const brought = signal<Drawing | null>(null);
/** The address of the picture that was traced, as it was brought; empty for a drawing. */
const original = signal("");
const told = signal("");
const wrong = signal("");

/** Take a file by what it is: a drawing, a font or a list. */
export async function takeFile(file: File): Promise<void> {
  told.value = wrong.value = "";
  try {
    if (/\.(ttf|otf|ttc|woff2?)$/i.test(file.name)) {
      const key = await takeFont(file);
      ownFont.value = true;
      change((draft) => setFont(draft, key));
      told.value = say.ownFontTaken(file.name);
    } else if (/\.(nc|ngc|tap|gcode|gc|cnc)$/i.test(file.name)) {
      if (!takeProgram(file)) wrong.value = say.byHandNoPlan;
    } else if (/\.(csv|tsv|txt)$/i.test(file.name)) {
      takeList(await file.text());
      view.value = "many";
    } else {
      const answer = await ask("/v1/artworks", { method: "POST", headers: { "Content-Type": "application/octet-stream" }, body: file });
      brought.value = (await answer.json()) as Drawing;
      if (original.value) URL.revokeObjectURL(original.value);
      original.value = brought.value.traced ? URL.createObjectURL(file) : "";
    }
  } catch (error) {
    wrong.value = `${file.name}: ${error instanceof Problem ? error.message : String(error)}`;
  }
}

/** Let files be dropped anywhere. */
export function takeDrops(): void {
  addEventListener("dragover", (event) => event.preventDefault());
  addEventListener("drop", (event) => {
    event.preventDefault();
    for (const file of event.dataTransfer?.files ?? []) void takeFile(file);
  });
}

export function FileButton({ label, accept, id }: { label: string; accept: string; id: string }) {
  return (
    <span class="file">
      <input id={id} type="file" accept={accept} onChange={(event) => {
        const input = event.currentTarget, file = input.files?.[0];
        if (file) void takeFile(file);
        input.value = "";
      }} />
      <label for={id}>{label}</label>
    </span>
  );
}

/** The same words as the beginning of a sentence. */
const opened = (words: string) => words.charAt(0).toUpperCase() + words.slice(1);

export function Drawings() {
  const drawing = brought.value;
  const size = { height: "40 mm" };
  const side = (where: "left" | "right") => change((draft) => {
    if (!draft.lettering) return;
    const there = Array.isArray(draft.lettering.ornaments) ? draft.lettering.ornaments : [];
    draft.lettering.ornaments = [...there, { artwork: { id: drawing!.key, size }, side: where }];
  });
  const lowest = () => change((draft) => {
    const layer = draft.layers[0]!;
    layer.features = [...(layer.features ?? []), { kind: "artwork", artwork: { id: drawing!.key, size }, work: "scribe" }];
  });
  return (
    <section class="brought" aria-label={say.drop}>
      <p>
        <FileButton id="bring-drawing" label={say.drop} accept=".svg,.png,.jpg,.jpeg,image/svg+xml,image/png,image/jpeg" />{" "}
        <FileButton id="bring-font" label={say.ownFont} accept=".ttf,.otf,.ttc,.woff,.woff2" />{" "}
        <span class="quiet">{say.dropHelp}</span>
      </p>
      {told.value && <p role="status">{told.value}</p>}
      {wrong.value && <Wrong>{wrong.value}</Wrong>}
      {drawing && (
        <div class="drawer">
          {original.value && <figure><img src={original.value} alt={say.pictureFor(drawing.name)} class="drawing" /><figcaption>{say.asBrought}</figcaption></figure>}
          <figure><Picture url={drawing.links.svg} alt={say.drawingFor(drawing.name)} cls="drawing" />{original.value && <figcaption>{say.asTraced}</figcaption>}</figure>
          <div>
            <p>{drawing.summary}</p>
            {drawing.traced?.doubts.map((doubt, k) => <p key={k}>{doubt}</p>)}
            {drawing.left_out.length > 0 && <>
              <p><b>{say.leftOut}</b></p>
              <ul>{drawing.left_out.map((note, k) => <li key={k}>{note.what}: {note.done}. {opened(note.remedy)}</li>)}</ul>
            </>}
            <p class="moves">
              {recipe.value?.lettering && <>
                <button type="button" onClick={() => side("left")}>{say.besideLeft}</button>
                <button type="button" onClick={() => side("right")}>{say.besideRight}</button>
              </>}
              <button type="button" onClick={lowest}>{say.onTop}</button>
            </p>
          </div>
        </div>
      )}
    </section>
  );
}
