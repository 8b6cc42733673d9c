// Pieces that went to the machine before, to be taken up again.
import { signal } from "@preact/signals";
import { Problem, again, getJson } from "./api";
import { Wrong } from "./controls";
import { takeUpPlan } from "./machine";
import { fetchShops, usual } from "./shops";
import { compared, pieceprint, plan, planOf, planUnit, shop, shopVersion, takeRecipe, withoutNulls, type Shop } from "./state";
import { dates, say } from "./words";
import type { Facts, Recipe, StoredShop } from "./shapes";

interface Earlier { id: string; state: string; title?: string; ready?: boolean; created_at: string }

const MOST = 12;
const found = signal<Earlier[]>([]);
const wrong = signal("");

export async function fetchEarlier(): Promise<void> {
  const page = await again(() => getJson<{ items: Earlier[] }>(`/v1/plans?limit=${MOST}`));
  found.value = page.items.filter((one) => one.state === "done");
}

/** A shop as a request that is kept has it: all of it written out, where it had a name. */
type Settled = Shop & { version?: string } & Facts;
const SAID = ["machine", "hold_down", "stock", "cutters", "detail"] as const;

/** Return what was said beside the name of a shop: what is as the shop has it needs no word. */
async function differing(settled: Settled): Promise<Shop> {
  const { name, version } = settled;
  const where = `/v1/shops/${encodeURIComponent(name ?? "")}?version=${version ?? ""}`;
  const own = version ? withoutNulls((await again(() => getJson<StoredShop>(where))).shop) as Facts : {};
  const said = SAID.filter((field) => settled[field] !== undefined && JSON.stringify(settled[field]) !== JSON.stringify(own[field]));
  const found = Object.fromEntries(said.map((field) => [field, settled[field]])) as Shop;
  return name && name !== usual.value ? { name, ...found } : found;
}

async function takeUp(id: string): Promise<void> {
  wrong.value = "";
  try {
    const request = await again(() => getJson<{ recipe: Recipe; shop?: Facts | null }>(`/v1/plans/${encodeURIComponent(id)}/files/request.json`));
    const settled = withoutNulls(request.shop ?? {}) as Settled;
    shop.value = await differing(settled);
    takeRecipe(request.recipe);
    await fetchShops();
    plan.value = id;
    compared.value = "";
    planOf.value = (settled.version ?? "") === shopVersion.value ? pieceprint.value : "";
    planUnit.value = settled.units === "inch" ? "in" : "mm";
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
            <small>{new Date(one.created_at).toLocaleDateString(dates())}{!one.ready && `, ${say.notReady}`}</small>
          </li>
        ))}
      </ul>
    </section>
  );
}
