// The layers as cards, in the order in which they are glued up.
import { Choice, LengthField, Tick } from "./controls";
import { materials } from "./shops";
import { change, recipe, show, text } from "./state";
import { plainNumber, readLength, type Written } from "./units";
import { say } from "./words";
import type { Feature, Layer, Outline } from "./shapes";

const at = (number: number, how: (layer: Layer) => void) => change((draft) => how(draft.layers[number]!));

export function Layers() {
  const layers = recipe.value?.layers ?? [];
  return (
    <section class="layers" aria-labelledby="layers-title">
      <h2 id="layers-title">{say.gluing}</h2>
      <ol class="cards">
        {layers.map((layer, number) => <Card key={layer.name} layer={layer} number={number} count={layers.length} />)}
      </ol>
      {layers.length < 12 && recipe.value?.lettering && <button type="button" onClick={addLayer}>{say.addLayer}</button>}
    </section>
  );
}

function addLayer(): void {
  change((draft) => {
    const names = new Set(draft.layers.map((layer) => layer.name.toLowerCase()));
    let number = draft.layers.length + 1;
    while (names.has(`layer ${number}`)) number += 1;
    draft.layers.push({ name: `layer ${number}`, material: "acrylic-cast", thickness: "3 mm", outline: { kind: "lettering" } });
  });
}

function Card({ layer, number, count }: { layer: Layer; number: number; count: number }) {
  const material = materials.value.get(layer.material);
  const below = recipe.value?.layers[number - 1]?.name ?? "";
  const move = (by: number) => change((draft) => {
    const [taken] = draft.layers.splice(number, 1);
    draft.layers.splice(number + by, 0, taken!);
  });
  return (
    <li class="card">
      <div class={`cloth ${material?.kind ?? ""}`} style={{ backgroundColor: material?.colour ?? "#999" }} aria-hidden="true"><span>{say.layerNumber(number + 1)}</span></div>
      <h3>{layer.name}</h3>
      <p class="quiet">{number === 0 ? say.lies : say.gluedOn(below)}</p>
      <Choice label={say.material} value={layer.material} onChange={(key) => at(number, (found) => { found.material = key; })}
        choices={choicesOf(layer.material)} />
      <Thickness layer={layer} number={number} />
      <OutlineFields outline={layer.outline} number={number} />
      <Works layer={layer} number={number} />
      {count > 1 && (
        <p class="moves">
          {number < count - 1 && <button type="button" aria-label={`${say.lift}: ${layer.name}`} onClick={() => move(1)}>{say.lift}</button>}
          {number > 0 && <button type="button" aria-label={`${say.lower}: ${layer.name}`} onClick={() => move(-1)}>{say.lower}</button>}
          <button type="button" aria-label={`${say.removeLayer}: ${layer.name}`} onClick={() => change((draft) => { draft.layers.splice(number, 1); })}>{say.removeLayer}</button>
        </p>
      )}
    </li>
  );
}

function choicesOf(key: string): [string, string][] {
  const found = [...materials.value.values()].map((material): [string, string] => [material.key, material.name]);
  return materials.value.has(key) ? found : [[key, key], ...found];
}

function Thickness({ layer, number }: { layer: Layer; number: number }) {
  const mm = readLength(layer.thickness) ?? 0;
  const usual = materials.value.get(layer.material)?.thicknesses_mm ?? [];
  const known = usual.some((thickness) => Math.abs(thickness - mm) < 0.001);
  const set = (value: Written) => at(number, (found) => { found.thickness = value; });
  const choices = usual.map((thickness): [string, string] => [String(thickness), show(thickness)]);
  return (
    <>
      <Choice label={say.thickness} value={known ? String(mm) : "other"} choices={[...choices, ["other", known ? say.otherThickness : show(mm)]]}
        onChange={(value) => set(value === "other" ? Number(plainNumber(mm + 0.1, 2)) : Number(value))} />
      {!known && <LengthField label={say.thickness} hidden value={layer.thickness} least={0.1} onChange={set} />}
    </>
  );
}

function OutlineFields({ outline, number }: { outline: Outline; number: number }) {
  const set = (name: string) => (value: unknown) => at(number, (found) => { found.outline[name] = value; });
  if (outline.kind === "lettering") {
    return (
      <>
        <p class="quiet">{say.ofWords}</p>
        <LengthField label={say.grow} value={outline.grow ?? 0} onChange={set("grow")} />
        <Tick label={say.joinPieces} value={outline.join === true} onChange={set("join")} />
        <Tick label={say.strengthen} value={Boolean(outline.strengthen)} onChange={set("strengthen")} />
        <Tick label={say.fillHoles} value={Boolean(outline.fill_counters)} onChange={set("fill_counters")} />
      </>
    );
  }
  if (outline.kind !== "plate") {
    return (
      <>
        <p class="quiet">{outline.kind === "blank" ? say.ofBlank : say.ofDrawing}</p>
        {outline.diameter !== undefined && <LengthField label={say.across} value={outline.diameter} least={1} onChange={set("diameter")} />}
      </>
    );
  }
  const margin = typeof outline.margin === "object" && outline.margin ? (outline.margin.bottom as Written) : (outline.margin as Written | undefined);
  return (
    <>
      <p class="quiet">{text.value ? say.ofPlate : say.plateAlone}</p>
      <Choice label={say.plateShape} value={outline.shape ?? "rectangle"} choices={shapesFor(outline)} onChange={set("shape")} />
      {margin !== undefined && <LengthField label={say.margin} value={margin} least={0} onChange={set("margin")} />}
      {outline.width !== undefined && <LengthField label={say.width} value={outline.width} least={1} onChange={set("width")} />}
      {outline.height !== undefined && <LengthField label={say.height} value={outline.height} least={1} onChange={set("height")} />}
      {outline.diameter !== undefined && <LengthField label={say.across} value={outline.diameter} least={1} onChange={set("diameter")} />}
    </>
  );
}

/** The shapes that a plate may take with the measures that it has. */
function shapesFor(outline: Outline): [string, string][] {
  const all = Object.entries(say.shapes);
  if (outline.diameter !== undefined) return all.filter(([key]) => key === "circle" || key === "polygon");
  if (outline.width !== undefined) return all.filter(([key]) => !["circle", "polygon", "follow"].includes(key));
  return all;
}

const ADDED: Record<string, () => Feature> = {
  holes: () => ({ kind: "holes", diameter: "5 mm", at: "top-corners", inset: "12 mm" }),
  groove_lettering: () => ({ kind: "groove_lettering" }),
  scribe_lettering: () => ({ kind: "scribe_lettering", style: "outline" }),
  through_lettering: () => ({ kind: "through_lettering", bridges: true }),
  border: () => ({ kind: "border", work: "groove", inset: "8 mm", width: "2 mm", depth: "1 mm" }),
};

function Works({ layer, number }: { layer: Layer; number: number }) {
  const features = layer.features ?? [];
  const choices = Object.keys(ADDED).map((key): [string, string] => [key, say.work[key] ?? key]);
  return (
    <div class="works">
      {features.length > 0 && <ul aria-label={say.worked}>
        {features.map((feature, place) => (
          <li key={place}>
            <span>{named(feature)}</span>{" "}
            <button type="button" aria-label={`${say.takeOff}: ${named(feature)}, ${layer.name}`}
              onClick={() => at(number, (found) => { found.features?.splice(place, 1); })}>{say.takeOff}</button>
          </li>
        ))}
      </ul>}
      <Choice label={say.addWork} value="" choices={[["", "—"], ...choices]} onChange={(key) => {
        const made = ADDED[key];
        if (made) at(number, (found) => { found.features = [...(found.features ?? []), made()]; });
      }} />
    </div>
  );
}

function named(feature: Feature): string {
  const words = (feature.lettering as { text?: string } | undefined)?.text;
  const work = say.work[feature.kind] ?? feature.kind;
  const wide = readLength((feature.diameter as Written | undefined) ?? "");
  return [words ? `“${words}”, ${work}` : work, wide === null ? "" : show(wide)].filter(Boolean).join(", ");
}
