// Remedies as the service names them -> changes of the recipe or of the shop.
import { change, recipe, setSize, shop, size } from "./state";
import { plainNumber, readLength, type Written } from "./units";
import type { Finding, Layer, Recipe, Remedy } from "./shapes";

const SPARE = 1.002; // rounding must not leave a remedy a hair short

/** Return what carries a remedy out, or null where it takes hands or a choice. */
export function cure(finding: Finding, remedy: Remedy): (() => void) | null {
  const { action, value, unit } = remedy;
  const layer = recipe.value?.layers.find((found) => found.name === finding.layer);
  switch (action) {
    case "raise_size_to":
    case "lower_size_to": {
      const now = size.value;
      if (typeof value !== "number" || !now) return null;
      const mm = unit === "times" ? now.mm * value * (action === "raise_size_to" ? SPARE : 1) : value;
      return () => setSize(Number(plainNumber(mm, 2)));
    }
    case "grow_by":
      if (typeof value !== "number" || !layer || !canGrow(layer)) return null;
      return on(layer, (found) => growBy(found, value));
    case "bridge":
      if (!layer?.features?.some((f) => f.kind === "through_lettering" && !f.bridges)) return null;
      return on(layer, (found) => {
        for (const feature of found.features ?? []) if (feature.kind === "through_lettering") feature.bridges = true;
      });
    case "join":
      if (value === "bridge" || value === "close") {
        return () => change((draft) => { if (draft.lettering) draft.lettering.joins = value; });
      }
      if (layer?.outline.kind !== "lettering" || layer.outline.join === true) return null;
      return on(layer, (found) => { found.outline.join = found.outline.join === "letters" ? true : "letters"; });
    case "change_font":
      if (typeof value !== "string" || !recipe.value?.lettering) return null;
      return () => change((draft) => setFont(draft, value));
    case "change_material":
      if (typeof value !== "string" || !layer) return null;
      return on(layer, (found) => { found.material = value; });
    case "change_hold_down":
      if (value !== "tabs" && value !== "tape" && value !== "skin") return null;
      return () => { shop.value = { ...shop.value, hold_down: value }; };
    case "add_mark":
      if (value !== "placement_lines") return null;
      return () => change((draft) => { draft.align = { kind: "placement_lines" }; });
    default:
      return null;
  }
}

/** Set the font; axes and features of the other one do not go along. */
export function setFont(draft: Recipe, font: string): void {
  if (!draft.lettering) return;
  for (const name of ["features", "instance", "face"]) delete draft.lettering[name];
  draft.lettering.font = font;
}

function on(layer: Layer, how: (found: Layer) => void): () => void {
  return () => change((draft) => {
    const found = draft.layers.find((other) => other.name === layer.name);
    if (found) how(found);
  });
}

function canGrow(layer: Layer): boolean {
  return layer.outline.kind === "lettering" || layer.outline.kind === "plate";
}

const more = (written: Written | undefined, mm: number) =>
  Number(plainNumber((readLength(written ?? 0) ?? 0) + mm, 3));

function growBy(layer: Layer, mm: number): void {
  const outline = layer.outline;
  if (outline.kind === "lettering") {
    outline.grow = more(outline.grow, mm);
  } else if (outline.diameter !== undefined) {
    outline.diameter = more(outline.diameter, 2 * mm);
  } else if (outline.width !== undefined && outline.height !== undefined) {
    outline.width = more(outline.width, 2 * mm);
    outline.height = more(outline.height, 2 * mm);
  } else if (typeof outline.margin === "object" && outline.margin !== null) {
    for (const side of ["left", "right", "top", "bottom"]) {
      outline.margin[side] = more(outline.margin[side] as Written | undefined, mm);
    }
  } else {
    outline.margin = more(outline.margin as Written | undefined, mm);
  }
}
