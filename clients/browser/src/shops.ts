// The shops that are stored, and what is in the one that is worked in: machines, cutters, sheets.
import { computed, signal } from "@preact/signals";
import { again, ask, getAll, getJson } from "./api";
import { shop, shopUnits, shopVersion, unit, type OwnSheet, type Shop } from "./state";
import { inLanguage } from "./words";
import type { Cutter, Machine, Material, ShopEntry, ShopFile, Stock, StoredShop } from "./shapes";

/** The name of what is there without any shop being stored. */
export const SHIPPED = "shipped";

export const shops = signal<ShopEntry[]>([]);
/** The one that is worked in; null where it is what is shipped. */
export const here = signal<StoredShop | null>(null);
export const rack = signal<Stock[]>([]);
export const machines = signal<Machine[]>([]);
export const cutters = signal<Cutter[]>([]);
const listed = signal<Material[]>([]);
export const materials = computed(() => new Map(listed.value.map((material) => [material.key, material])));

/** The name of the shop of all requests that name none. */
export const usual = computed(() => shops.value.find((one) => one.default)?.key ?? SHIPPED);
/** The name of the shop that is worked in. */
export const hereName = computed(() => shop.value.name ?? usual.value);

/** The cutters that are in the rack, of all that the shop knows. */
export const inRack = computed(() => {
  const only = here.value?.shop.cutters;
  return only ? cutters.value.filter((one) => only.includes(one.key)) : cutters.value;
});

export const shopName = (key: string) => shops.value.find((one) => one.key === key)?.name ?? key;
export const cutterName = (key: string) => cutters.value.find((one) => one.key === key)?.name ?? key;
export const keyOf = (sheet: string | OwnSheet) => (typeof sheet === "string" ? sheet : sheet.key);

/** Look at all shops, and at what is in the one that is worked in. */
export async function fetchShops(): Promise<void> {
  shops.value = await again(() => getAll<ShopEntry>("/v1/shops"));
  const name = hereName.value;
  if (name !== SHIPPED && !shops.value.some((one) => one.key === name)) shop.value = {};
  await enter();
}

async function enter(): Promise<void> {
  const name = hereName.value, stored = name !== SHIPPED;
  const of = String(new URLSearchParams({ shop: name, ...inLanguage }));
  const [found, sheets, kinds, cutting, sorts] = await Promise.all([
    stored ? again(() => getJson<StoredShop>(`/v1/shops/${encodeURIComponent(name)}`)) : null,
    again(() => getAll<Stock>("/v1/stock", of)), again(() => getAll<Machine>("/v1/machines", of)),
    again(() => getAll<Cutter>("/v1/cutters", of)), again(() => getAll<Material>("/v1/materials", of)),
  ]);
  if (hereName.value !== name) return;
  const units = found?.shop.units === "inch" ? "in" : "mm";
  // The page goes over to what the shop speaks in, unless somebody wished for the other here.
  if (units !== shopUnits.value) { shopUnits.value = units; unit.value = units; }
  here.value = found;
  shopVersion.value = found?.version ?? "";
  machines.value = kinds;
  cutters.value = cutting;
  listed.value = sorts;
  takeRack(sheets);
}

/** Take what is on the rack now; what was chosen of it stays chosen, what is new joins it. */
function takeRack(sheets: Stock[]): void {
  const before = new Set(rack.value.map((sheet) => sheet.key)), chosen = shop.value.stock;
  rack.value = sheets;
  if (!chosen) return;
  const kept = chosen.filter((one) => sheets.some((sheet) => sheet.key === keyOf(one)));
  const fresh = before.size ? sheets.filter((sheet) => !before.has(sheet.key)).map((sheet) => sheet.key) : [];
  if (fresh.length || kept.length !== chosen.length) chooseStock([...kept, ...fresh]);
}

/** Let these sheets be taken; all of them as they are need no word. */
export function chooseStock(sheets: (string | OwnSheet)[]): void {
  const next: Shop = { ...shop.value, stock: sheets };
  const all = sheets.length === rack.value.length && sheets.every((one) => typeof one === "string");
  if (all || !sheets.length) delete next.stock;
  shop.value = next;
}

/** Work in another shop: what was said of the one before does not go along. */
export async function chooseShop(name: string): Promise<void> {
  shop.value = name === usual.value ? {} : { name };
  await enter();
}

/** Store a shop that is new, or changed since it was looked at; mistakes are the service's to tell. */
export async function putShop(name: string, file: ShopFile, version?: string): Promise<void> {
  const guard: Record<string, string> = version ? { "If-Match": `"${version}"` } : { "If-None-Match": "*" };
  await again(() => ask(`/v1/shops/${encodeURIComponent(name)}`, {
    method: "PUT", headers: { "Content-Type": "application/json", ...guard }, body: JSON.stringify(file),
  }));
  shops.value = await again(() => getAll<ShopEntry>("/v1/shops"));
  if (name === hereName.value) await enter(); else await chooseShop(name);
}

/** Let the shop be that of all requests which name none, or no longer. */
export async function setUsual(name: string, on: boolean): Promise<void> {
  const kept = hereName.value;
  await again(() => ask(`/v1/shops/${encodeURIComponent(name)}/default`, { method: on ? "PUT" : "DELETE" }));
  shops.value = await again(() => getAll<ShopEntry>("/v1/shops"));
  const { name: _, ...rest } = shop.value;
  shop.value = kept === usual.value ? rest : { ...rest, name: kept };
}
