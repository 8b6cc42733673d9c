// What is on the bench: kept in the address bar (to be shared) and in the browser (for the rest).
import { computed, effect, signal } from "@preact/signals";
import { readLength, showLength, type Unit, type Written } from "./units";
import type { Facts, Kept as KeptClear, Preview, Recipe, Result, Template } from "./shapes";

/** A sheet written out in a request: one of the rack, with what it is held by. */
export interface OwnSheet {
  key: string; material: string; thickness: number; width: number; height: number; count: number;
  margin: number; price: number; offcut: boolean; keep_clear: KeptClear[];
}
/** What a request says of the shop: its name, and what differs from it. */
export interface Shop {
  name?: string; machine?: string; hold_down?: string; stock?: (string | OwnSheet)[];
  cutters?: string[]; detail?: Written;
}
export type View = "one" | "many" | "shop";
export interface Row { text: string; quantity: string; size: string; font: string; reference: string }

interface Kept {
  recipe: Recipe | null; kind: string; titled: string; ownFont: boolean; unit: Unit;
  view: View; shop: Shop; shopVersion: string; shopUnits: Unit; plan: string; planOf: string;
  planUnit: string; compared: string; order: string; orderShop: string; shown: number;
}

export const recipe = signal<Recipe | null>(null);
export const kind = signal("sign");
/** How the title follows from the words. */
export const titled = signal("{text}");
/** The maker chose the font, so another kind keeps it. */
export const ownFont = signal(false);
export const unit = signal<Unit>("mm");
export const view = signal<View>("one");
export const shop = signal<Shop>({});
/** At which version the shop was seen last, and what it speaks in. */
export const shopVersion = signal("");
export const shopUnits = signal<Unit>("mm");
export const plan = signal("");
/** What the plan was made of: to see that the piece was changed since; and what it speaks in. */
export const planOf = signal("");
export const planUnit = signal("");
/** The plan whose cutters are compared, which had the whole rack to choose from; and of what it is. */
export const compared = signal("");
export const order = signal("");
/** The shop that the order was placed in. */
export const orderShop = signal("");

export const rows = signal<Row[]>([]);
export const orderTitle = signal("");
export const orderRecipe = signal("this-piece");
export const light = signal<"auto" | "day" | "night">("auto");

export const preview = signal<Preview | null>(null);
export const templates = signal<Template[]>([]);
/** The finding that is looked at, by its number. */
export const shown = signal(0);
export const checked = signal<{ of: string; result: Result } | null>(null);

export const text = computed(() => recipe.value?.lettering?.text ?? "");
/** The shop as a request has it: it speaks in what the page speaks in. */
export const wish = computed(() => {
  const units = unit.value === shopUnits.value ? {} : { units: unit.value === "in" ? "inch" : "mm" };
  const said = { ...shop.value, ...units };
  return Object.keys(said).length ? { shop: said } : {};
});
/** A short print of all that a piece is made of, whatever it is told in. */
export const pieceprint = computed(() => brief(JSON.stringify([recipe.value, shop.value, shopVersion.value])));
/** The same whichever cutters of the rack are taken. */
export const wideprint = computed(() => brief(JSON.stringify([recipe.value, { ...shop.value, cutters: undefined }, shopVersion.value])));
/** The same with what it is told in: what checks depend on. */
export const fingerprint = computed(() => brief(JSON.stringify([recipe.value, shop.value, shopVersion.value, unit.value])));
export const show = (mm: number) => showLength(mm, unit.value);

/** Return 64 bits of a text: two FNV-1a sums (public domain), from either end. */
function brief(text: string): string {
  let a = 0x811c9dc5, b = 0x811c9dc5;
  for (let i = 0; i < text.length; i += 1) {
    a = Math.imul(a ^ text.charCodeAt(i), 0x01000193);
    b = Math.imul(b ^ text.charCodeAt(text.length - 1 - i), 0x01000193);
  }
  return [a, b].map((sum) => (sum >>> 0).toString(16).padStart(8, "0")).join("");
}

const SHELF = "letterply-bench";
const TRAY = "letterply-list";

function packed(value: unknown): string {
  const bytes = new TextEncoder().encode(JSON.stringify(value));
  let binary = "";
  for (const byte of bytes) binary += String.fromCharCode(byte);
  return btoa(binary).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
}

function unpacked(text: string): unknown {
  const binary = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return JSON.parse(new TextDecoder().decode(Uint8Array.from(binary, (c) => c.charCodeAt(0))));
}

function kept(): Kept {
  return {
    recipe: recipe.value, kind: kind.value, titled: titled.value, ownFont: ownFont.value,
    unit: unit.value, view: view.value, shop: shop.value, shopVersion: shopVersion.value,
    shopUnits: shopUnits.value, plan: plan.value, planOf: planOf.value, planUnit: planUnit.value,
    compared: compared.value, order: order.value, orderShop: orderShop.value, shown: shown.value,
  };
}

function looksLikeRecipe(value: unknown): value is Recipe {
  const found = value as Recipe | null;
  return typeof found === "object" && found !== null && Array.isArray(found.layers) &&
    found.layers.every((layer) => typeof layer?.outline === "object" && typeof layer.name === "string") &&
    (found.lettering === undefined || typeof found.lettering.text === "string");
}

/** Leave out what is null: the service writes every field of a recipe, also those that say nothing. */
export function withoutNulls(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(withoutNulls);
  if (typeof value !== "object" || value === null) return value;
  return Object.fromEntries(Object.entries(value).filter(([, inner]) => inner !== null).map(([name, inner]) => [name, withoutNulls(inner)]));
}

/** Put a recipe from elsewhere on the bench; its title tells how titles follow from the words. */
export function takeRecipe(found: Recipe): void {
  const taken = withoutNulls(found) as Recipe;
  const words = taken.lettering?.text ?? "";
  kind.value = "";
  titled.value = words && taken.title.includes(words) ? taken.title.replace(words, "{text}") : taken.title || "{text}";
  recipe.value = taken;
}

/** Take what was kept; what does not look right is left alone. */
export function remember(): void {
  const hash = /^#bench=([\w-]+)$/.exec(location.hash)?.[1];
  const shelf = () => JSON.parse(localStorage.getItem(SHELF) ?? "null") as { left?: string } | null;
  // What was changed just before the page was left is on the shelf, and too late for the address.
  const later = () => { const found = shelf(); return found?.left === location.hash ? found : null; };
  for (const read of [later, () => hash && unpacked(hash), shelf]) {
    try {
      const found = withoutNulls(read()) as Partial<Kept> | null;
      if (!found || !looksLikeRecipe(found.recipe)) continue;
      takeRecipe(found.recipe);
      for (const [place, value] of [[kind, found.kind], [titled, found.titled], [plan, found.plan],
        [planOf, found.planOf], [planUnit, found.planUnit], [compared, found.compared], [shopVersion, found.shopVersion],
        [order, found.order], [orderShop, found.orderShop]] as const) if (typeof value === "string") place.value = value;
      ownFont.value = found.ownFont === true;
      if (found.unit === "in") unit.value = "in";
      if (found.shopUnits === "in") shopUnits.value = "in";
      if (found.view === "many" || found.view === "shop") view.value = found.view;
      if (Number.isInteger(found.shown)) shown.value = found.shown!;
      if (found.shop && typeof found.shop === "object") shop.value = found.shop;
      break;
    } catch { /* a link that was cut short, or storage that is shut */ }
  }
  try {
    const tray = JSON.parse(localStorage.getItem(TRAY) ?? "null") as Facts | null;
    if (tray && Array.isArray(tray.rows)) rows.value = (tray.rows as unknown as Row[]).filter((row) => typeof row?.text === "string");
    if (typeof tray?.title === "string") orderTitle.value = tray.title;
    if (typeof tray?.recipe === "string") orderRecipe.value = tray.recipe;
    if (tray?.light === "day" || tray?.light === "night") light.value = tray.light;
  } catch { /* storage that is shut */ }
}

/** Return a link to the piece alone: without what was made of it. */
export function linkToPiece(): string {
  const piece = { ...kept(), plan: "", planOf: "", compared: "", order: "", orderShop: "", shown: 0, view: "one" };
  return `${location.origin}${location.pathname}#bench=${packed(piece)}`;
}

const SHORTLY_MS = 250, AT_LAST_MS = 2000;

/** Keep it from now on, shortly after a change, and while one follows another now and then. */
export function keep(): void {
  let waiting = 0, since = 0;
  // The address that a page is loaded again from is settled when it begins to be left; it may
  // still be written to for as long as the next one takes to come.
  let leaving: string | null = null;
  const write = () => {
    waiting = since = 0;
    const value = kept(), left = leaving !== null ? { left: leaving } : {};
    history.replaceState(null, "", `#bench=${packed(value)}`);
    try {
      localStorage.setItem(SHELF, JSON.stringify({ ...value, ...left }));
      localStorage.setItem(TRAY, JSON.stringify({
        rows: rows.value, title: orderTitle.value, recipe: orderRecipe.value, light: light.value,
      }));
    } catch { /* full or shut: the address bar has it */ }
  };
  let made = "";
  effect(() => {
    const { plan: planned, order: ordered } = kept();
    void [rows.value, orderTitle.value, orderRecipe.value, light.value];
    // What the service is at work on is kept at once: a reload right after would lose it.
    window.clearTimeout(waiting);
    if (made !== planned + ordered) { made = planned + ordered; write(); return; }
    since ||= performance.now();
    waiting = window.setTimeout(write, Math.max(0, Math.min(SHORTLY_MS, since + AT_LAST_MS - performance.now())));
  });
  const leave = () => { leaving ??= location.hash; write(); };
  addEventListener("beforeunload", () => { leave(); window.setTimeout(() => { leaving = null; }, 10_000); });
  addEventListener("pagehide", leave);
  addEventListener("hashchange", () => { removeEventListener("pagehide", leave); location.reload(); });
}

/** Change the recipe on a copy. */
export function change(how: (draft: Recipe) => void): void {
  if (!recipe.value) return;
  const draft = structuredClone(recipe.value);
  how(draft);
  recipe.value = draft;
}

export function setWords(words: string): void {
  change((draft) => {
    if (draft.lettering) draft.lettering.text = words;
    const title = titled.value.replace("{text}", words).split(/\s+/).join(" ").trim();
    draft.title = title.slice(0, 200) || "Sign";
  });
}

export const SIZES = ["cap_height", "x_height", "em", "width", "fit_disc"] as const;

/** The size of the lettering as one length: how the recipe says it, and mm; null where there is none. */
export const size = computed(() => {
  const said = recipe.value?.lettering?.size ?? {};
  for (const name of SIZES) {
    const value = said[name];
    if (typeof value === "number" || typeof value === "string") {
      const mm = readLength(value);
      if (mm !== null) return { name, mm };
    }
  }
  return null;
});

export function setSize(value: number | string): void {
  change((draft) => {
    if (draft.lettering) draft.lettering.size = { [size.value?.name ?? "cap_height"]: value };
  });
}
