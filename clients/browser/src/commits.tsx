// The stock kept true: the sheets of what is proved go out of the shop, what is left of them comes back.
import { signal, useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { Problem, again, ask, getAll } from "./api";
import { Picture, Wrong } from "./controls";
import { SHIPPED, materials, shopName } from "./shops";
import { show } from "./state";
import { say } from "./words";
import type { Commit } from "./shapes";

/** What stands, by kind and id; null where nothing was taken. */
const standing = signal<ReadonlyMap<string, Commit | null>>(new Map());

interface Props { kind: Commit["kind"]; id: string; shop: string; moved: () => Promise<void> }

/** What was taken for a plan or an order, or the way to take it; nothing where no shop is stored. */
export function StockOf({ kind, id, shop, moved }: Props) {
  const busy = useSignal(false), wrong = useSignal("");
  const key = `${kind} ${id}`, found = standing.value.get(key);
  const keep = (commit: Commit | null) => { standing.value = new Map([...standing.value, [key, commit]]); };
  const stored = shop !== "" && shop !== SHIPPED;
  useEffect(() => {
    if (stored && found === undefined) void look(shop, kind, id).then(keep, () => undefined);
  }, [key, shop]);
  const act = async (method: "POST" | "DELETE") => {
    busy.value = true;
    wrong.value = "";
    try {
      const answer = await again(() => ask(`/v1/${kind}s/${encodeURIComponent(id)}/commit`, { method }));
      const commit = (await answer.json()) as Commit;
      keep(commit.undone_at ? null : commit);
      await moved();
    } catch (error) {
      wrong.value = error instanceof Problem ? [error.message, error.facts.expected && say.wanted(error.facts.expected)].filter(Boolean).join(" ") : String(error);
    } finally {
      busy.value = false;
    }
  };
  if (!stored || found === undefined) return null;
  return (
    <section class="stock" aria-label={say.stock}>
      <h3>{say.stock}</h3>
      <p class="quiet">{found ? say.stockTaken(shopName(shop)) : say.stockAbout(shopName(shop))}</p>
      {found && <Moved commit={found} />}
      {wrong.value && <Wrong>{wrong.value}</Wrong>}
      <button type="button" disabled={busy.value} onClick={() => void act(found ? "DELETE" : "POST")}>{found ? say.stockBack : say.stockTake}</button>
    </section>
  );
}

async function look(shop: string, kind: string, id: string): Promise<Commit | null> {
  const all = await again(() => getAll<Commit>(`/v1/shops/${encodeURIComponent(shop)}/commits`));
  return all.find((one) => one.kind === kind && one.id === id && !one.undone_at) ?? null;
}

function Moved({ commit }: { commit: Commit }) {
  return (
    <>
      <div role="status"><ul>{commit.taken.map((one) => <li key={one.key}><b>{one.key}</b>: {say.stockCount(one.count, one.left)}</li>)}</ul></div>
      <p>{commit.added.length ? say.stockKept : say.stockNothing}</p>
      <ul class="offcuts">{commit.added.map((one) => (
        <li key={one.key}>
          <Picture url={one.links.png} alt={say.stockOutline(one.key)} />
          <p><b>{one.key}</b> {materials.value.get(one.material)?.name ?? one.material}, {show(one.thickness_mm)}, {show(one.width_mm)} × {show(one.height_mm)}{one.holes > 0 && `, ${say.stockHoles(one.holes)}`}</p>
        </li>
      ))}</ul>
    </>
  );
}
