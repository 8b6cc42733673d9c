// Pieces that went to the machine before, to be taken up again.
import { signal } from "@preact/signals";
import { Problem, again, getJson } from "./api";
import { Wrong } from "./controls";
import { takeUpPlan } from "./machine";
import { fingerprint, plan, planOf, shop, takeRecipe, withoutNulls, type Shop } from "./state";
import { say } from "./words";
import type { Recipe } from "./shapes";

interface Earlier { id: string; state: string; title?: string; ready?: boolean; created_at: string }

const MOST = 12;
const found = signal<Earlier[]>([]);
const wrong = signal("");

export async function fetchEarlier(): Promise<void> {
  const page = await again(() => getJson<{ items: Earlier[] }>(`/v1/plans?limit=${MOST}`));
  found.value = page.items.filter((one) => one.state === "done");
}

async function takeUp(id: string): Promise<void> {
  wrong.value = "";
  try {
    const request = await again(() => getJson<{ recipe: Recipe; shop?: Shop | null }>(`/v1/plans/${encodeURIComponent(id)}/files/request.json`));
    shop.value = withoutNulls(request.shop ?? {}) as Shop;
    takeRecipe(request.recipe);
    plan.value = id;
    planOf.value = fingerprint.value;
    takeUpPlan();
    scrollTo({ top: 0 });
    document.getElementById("words")?.focus({ preventScroll: true });
  } catch (error) {
    wrong.value = error instanceof Problem ? error.message : String(error);
  }
}

export function EarlierPieces() {
  if (!found.value.length) return null;
  return (
    <section class="earlier" aria-labelledby="earlier-title">
      <h2 id="earlier-title">{say.earlier}</h2>
      {wrong.value && <Wrong>{wrong.value}</Wrong>}
      <ul class="files">
        {found.value.map((one) => (
          <li key={one.id}>
            <button type="button" class="link" onClick={() => void takeUp(one.id)}>{one.title}</button>{" "}
            <small>{new Date(one.created_at).toLocaleDateString()}{!one.ready && `, ${say.notReady}`}</small>
          </li>
        ))}
      </ul>
    </section>
  );
}
