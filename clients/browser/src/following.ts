// What follows from the recipe by itself: its picture at once, its fitting after a pause.
import { effect, signal, untracked } from "@preact/signals";
import { Away, Problem, again, getJson, make, postJson, whenBack } from "./api";
import { checked, fingerprint, preview, recipe, shop, view } from "./state";
import type { Preview, Progress, Recipe, Result } from "./shapes";

const QUIET_MS = 1500;

/** What is wrong with the recipe as it stands, from the service. */
export const refused = signal<Problem | null>(null);
export const drawing = signal(false);
export const trying = signal(false);
export const tryProgress = signal<Progress | null>(null);
export const tryFailed = signal<Problem | null>(null);

const tab = crypto.randomUUID?.() ?? String(Math.random());
let wanted: Recipe | null = null;

/** Draw what is on the bench: one question at a time, the newest next. */
function followPicture(): void {
  effect(() => {
    if (!recipe.value) return;
    const first = wanted === null && !drawing.peek();
    wanted = recipe.value;
    if (first) void untracked(drawUntilSame);
  });
}

async function drawUntilSame(): Promise<void> {
  drawing.value = true;
  while (wanted) {
    const asked: Recipe = wanted;
    wanted = null;
    try {
      preview.value = await postJson<Preview>("/v1/previews", { recipe: asked, client: tab });
      refused.value = null;
    } catch (error) {
      if (error instanceof Away) {
        wanted ??= asked;
        await whenBack();
      } else if (error instanceof Problem && (error.facts.code === "overtaken" || error.facts.status === 503)) {
        wanted ??= asked;
        await new Promise((done) => setTimeout(done, 200));
      } else if (error instanceof Problem) {
        refused.value = error;
      } else throw error;
    }
  }
  drawing.value = false;
}

let stopTrying = new AbortController();

/** Check what is on the bench once nothing has changed for a while. */
function followFit(): void {
  let waiting = 0;
  effect(() => {
    void fingerprint.value;
    clearTimeout(waiting);
    if (view.value === "one" && recipe.value) waiting = window.setTimeout(() => void tryOn(), QUIET_MS);
  });
}

export function checkRequest(extra: object = {}): object {
  const wish = Object.keys(shop.value).length ? { shop: shop.value } : {};
  return { recipe: recipe.value, ...wish, ...extra };
}

/** Check it now, unless this very piece has been. */
export async function tryOn(): Promise<void> {
  const of = fingerprint.value;
  if (trying.value || refused.value || checked.value?.of === of) return;
  trying.value = true;
  tryFailed.value = null;
  stopTrying = new AbortController();
  try {
    const result = await make<Result>("/v1/checks", checkRequest(), (p) => { tryProgress.value = p; }, stopTrying.signal);
    checked.value = { of, result };
  } catch (error) {
    if (error instanceof Problem) tryFailed.value = error;
  } finally {
    trying.value = false;
    tryProgress.value = null;
  }
  if (fingerprint.value !== of) setTimeout(() => void tryOn(), QUIET_MS);
}

/** Have everything that must change mended by the service; returns the mended recipe. */
export async function mend(): Promise<Recipe | null> {
  const result = await make<Result>("/v1/checks", checkRequest({ repair: true }), () => undefined, new AbortController().signal);
  const file = result.files.find((found) => found.path === "repaired_recipe.json");
  return file ? again(() => getJson<Recipe>(file.url)) : null;
}

export function follow(): void {
  followPicture();
  followFit();
}
