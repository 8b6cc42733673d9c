// How long a piece takes on the machine, reckoned by the service when somebody wants to know.
import { signal } from "@preact/signals";
import { again, postJson } from "./api";
import type { Estimate, Recipe } from "./shapes";

/** Seconds on the machine by the print of recipe and shop; null where they cannot be reckoned. */
export const reckoned = signal<ReadonlyMap<string, number | null>>(new Map());
let last: Promise<unknown> = Promise.resolve();
const asked = new Set<string>();

/** Have it reckoned once, after what was asked for before: an order of this one piece, not made. */
export function reckon(print: string, recipe: Recipe, wish: { shop?: object }): void {
  const text = recipe.lettering?.text.trim();
  if (!text || asked.has(print)) return;
  asked.add(print);
  const order = { title: "Order", recipe: "piece", recipes: { piece: recipe }, lines: [{ text }], ...wish };
  last = last.then(() => again(() => postJson<Estimate>("/v1/orders?dry_run=true", order)))
    .then((found) => (found.not_made.length ? null : found.quote.machine_minutes * 60), () => null)
    .then((seconds) => { reckoned.value = new Map([...reckoned.value, [print, seconds]]); });
}
