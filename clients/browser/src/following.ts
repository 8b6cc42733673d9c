// What follows from the recipe by itself: its picture at once, thin strokes made sturdy and its
// fitting after a pause.
import { effect, signal, untracked } from "@preact/signals";
import { Away, Problem, again, getJson, make, makeForNow, postJson, whenBack } from "./api";
import { checked, fingerprint, preview, recipe, shop, shopVersion, view, wish } from "./state";
import type { Preview, Progress, Recipe, Result } from "./shapes";

const QUIET_MS = 1500;
/** How long nothing changes before thin strokes are made sturdy, which takes longest. */
const PAUSE_MS = 300;

/** What is wrong with the recipe as it stands, from the service. */
export const refused = signal<Problem | null>(null);
export const drawing = signal(false);
export const trying = signal(false);
export const tryProgress = signal<Progress | null>(null);
export const tryFailed = signal<Problem | null>(null);

const tab = crypto.randomUUID?.() ?? String(Math.random());
/** Questions that may be overtaken in a row: then one is waited for, so that a picture comes while somebody types. */
const MOST_OVERTAKEN = 3;

interface Wanted { recipe: Recipe; quick: boolean }

let wanted: Wanted | null = null;
let underWay = 0, newest = 0, seen = 0, overtaken = 0, pause = 0;

/** Draw what is on the bench: a newer question ends the one before, down to the service's worker. */
function followPicture(): void {
  effect(() => {
    void [shop.value.name, shopVersion.value];
    clearTimeout(pause);
    wanted = recipe.value && { recipe: recipe.value, quick: true };
    untracked(askNext);
  });
}

/** Ask for the whole, sturdy picture of what is on the bench, unless it has changed. */
function askWhole(asked: Wanted): void {
  if (asked.recipe !== recipe.value) return;
  wanted ??= { ...asked, quick: false };
  askNext();
}

function askNext(): void {
  if (wanted && (underWay === 0 || overtaken < MOST_OVERTAKEN)) {
    if (underWay > 0) overtaken += 1;
    newest += 1;
    void draw(wanted, newest);
    wanted = null;
  }
  drawing.value = underWay > 0;
}

async function draw(asked: Wanted, number: number): Promise<void> {
  underWay += 1;
  let missed = false;
  try {
    const answer = await postJson<Preview>("/v1/previews", { ...asked, client: tab, ...named() });
    if (number > seen) { seen = number; overtaken = 0; preview.value = answer; refused.value = null; }
    if (number === newest && answer.not_strengthened.length) pause = window.setTimeout(askWhole, PAUSE_MS, asked);
  } catch (error) {
    if (error instanceof Away) {
      missed = true;
      await whenBack();
    } else if (error instanceof Problem && (error.facts.code === "overtaken" || error.facts.status === 503)) {
      missed = true;
      if (number === newest) await new Promise((done) => setTimeout(done, 200));
    } else if (error instanceof Problem) {
      // What is wrong with it is said of the whole: what is thin need not be wrong when it is sturdy.
      if (number !== newest) return;
      if (asked.quick) wanted ??= { ...asked, quick: false };
      else refused.value = error;
    } else throw error;
  } finally {
    underWay -= 1;
    if (missed && number === newest) wanted ??= asked;
    askNext();
  }
}

/** The shop whose materials a picture is of. */
export const named = () => (shop.value.name ? { shop: shop.value.name } : {});

/** What is being tried on, and how to stop that. */
let tried = { of: "", stop: new AbortController() };

/** Check what is on the bench once nothing has changed for a while; what is changed is checked no further. */
function followFit(): void {
  let waiting = 0;
  effect(() => {
    if (fingerprint.value !== tried.of) tried.stop.abort();
    clearTimeout(waiting);
    if (view.value === "one" && recipe.value) waiting = window.setTimeout(() => void tryOn(), QUIET_MS);
  });
}

export function checkRequest(extra: object = {}): object {
  return { recipe: recipe.value, ...wish.value, ...extra };
}

/** Check it now, unless this very piece has been, or is being. */
export async function tryOn(): Promise<void> {
  const of = fingerprint.value;
  if (refused.value || checked.value?.of === of || (trying.value && tried.of === of)) return;
  tried.stop.abort();
  const mine = tried = { of, stop: new AbortController() };
  trying.value = true;
  tryFailed.value = null;
  try {
    const result = await makeForNow<Result>("/v1/checks", checkRequest(), (p) => { tryProgress.value = p; }, mine.stop.signal);
    if (tried === mine) checked.value = { of, result };
  } catch (error) {
    if (error instanceof Problem && tried === mine) {
      // Another page of the same maker was at the same piece, and left it.
      if (error.facts.status === 404) setTimeout(() => void tryOn(), QUIET_MS);
      else tryFailed.value = error;
    }
  } finally {
    if (tried === mine) {
      trying.value = false;
      tryProgress.value = null;
      tried = { ...mine, of: "" };
    }
  }
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
