// The shop: its machine, its rack of cutters, its sheets and prices, each to be made one's own.
import { signal } from "@preact/signals";
import { Problem } from "./api";
import { Choice, Tick, Wrong } from "./controls";
import { ShopChoice } from "./machine";
import { TestPieces } from "./pieces";
import { machineValues } from "./habits";
import { ShopForm, cutterValues, form, openForm, sheetValues, stored } from "./shop-form";
import { here, inRack, machines, materials, putShop, rack, setUsual, usual } from "./shops";
import { show, unit } from "./state";
import { showFeed } from "./units";
import { say } from "./words";
import type { ComponentChildren } from "preact";
import type { Cutter, ShopFile, Stock } from "./shapes";

const failed = signal("");

async function doing(what: () => Promise<void>): Promise<void> {
  failed.value = stored.value = "";
  try { await what(); } catch (error) { failed.value = error instanceof Problem ? error.message : String(error); }
}

const change = (how: (file: ShopFile) => ShopFile) => doing(async () => {
  const now = here.value!;
  await putShop(now.name, how(structuredClone(now.shop)), now.version);
  stored.value = say.shopStored;
});

export function Shop() {
  const own = here.value;
  return (
    <>
      <section class="shop" aria-labelledby="shop-title">
        <h2 id="shop-title" tabIndex={-1}>{say.theShop}</h2>
        <div class="rack">
          <ShopChoice />
          {own && <Tick label={say.usualShop} value={usual.value === own.key} onChange={(on) => void doing(() => setUsual(own.key, on))} />}
        </div>
        {own && <p class="verdict">{own.title || own.name}</p>}
        <p>{own ? own.summary : say.shippedAbout}</p>
        <p role="status">{stored.value}</p>
        {failed.value && <Wrong>{failed.value}</Wrong>}
        {form.value?.kind === "new" ? <ShopForm label={say.newShop} />
          : <p><button type="button" class={own ? undefined : "strong"} onClick={() => openForm("new", "", { units: unit.value === "in" ? "inch" : "mm" })}>{say.newShop}</button></p>}
      </section>
      <TheMachine />
      <Shelf title={say.theCutters} add={say.addCutter} kind="cutter">
        {inRack.value.map((one) => (
          <Item key={one.key} kind="cutter" id={one.key} name={one.name} facts={cutterFacts(one)} values={() => cutterValues(one)}
            picture={<Silhouette cutter={one} />} off={() => change((file) => ({ ...file, cutters: inRack.value.map((c) => c.key).filter((key) => key !== one.key) }))} />
        ))}
      </Shelf>
      <Shelf title={say.theSheets} add={say.addSheet} kind="sheet">
        {rack.value.map((one) => (
          <Item key={one.key} kind="sheet" id={one.key} name={`${materialName(one)}, ${show(one.thickness_mm)}`} facts={sheetFacts(one)} values={() => sheetValues(one)}
            picture={<i class="swatch" style={{ backgroundColor: materials.value.get(one.material)?.colour ?? "#999", aspectRatio: `${one.width_mm} / ${one.height_mm}` }} />}
            off={() => change((file) => ({ ...file, stock: (file.stock ?? rack.value.map((s) => s.key)).filter((s) => (typeof s === "string" ? s : s.key) !== one.key) }))} />
        ))}
      </Shelf>
      <Prices />
      <TestPieces />
    </>
  );
}

const materialName = (one: Stock) => materials.value.get(one.material)?.name ?? one.material;

function sheetFacts(one: Stock): string {
  const currency = String(here.value?.shop.prices?.currency ?? "EUR");
  return [`${show(one.width_mm)} × ${show(one.height_mm)}`, say.onRack(one.count), one.price ? `${one.price.toFixed(2)} ${currency}` : "", one.offcut ? say.offcut : "", one.keep_clear?.length ? say.clampsHeld(one.keep_clear.length) : ""].filter(Boolean).join(", ");
}

function cutterFacts(one: Cutter): string {
  return [
    say.across_(show(one.diameter_mm)), one.kind === "beam" ? "" : say.reaches(show(one.cutting_length_mm)),
    one.flutes ? say.flutes(one.flutes) : "", one.included_angle_deg ? `${one.included_angle_deg}°` : "",
  ].filter(Boolean).join(", ");
}

function TheMachine() {
  const key = here.value?.shop.machine ?? "bench-router";
  const found = machines.value.find((one) => one.key === key);
  return (
    <section class="shop" aria-labelledby="shop-machine">
      <h2 id="shop-machine">{say.machine}</h2>
      {here.value && (
        <div class="rack"><Choice label={say.machine} value={key} choices={machines.value.map((one) => [one.key, one.name])}
          onChange={(machine) => void change((file) => ({ ...file, machine }))} /></div>
      )}
      {found && <p>{here.value ? "" : `${found.name}: `}{say.machineFacts(`${show(found.bed_mm[0])} × ${show(found.bed_mm[1])}`, showFeed(found.max_feed_mm_per_min, unit.value), say.shopUnits[found.units] ?? found.units)}{" "}
        {say.habits.zeroIs(say.habits.choices.zero_xy?.[found.zero_xy] ?? found.zero_xy, say.habits.choices.zero?.[found.zero] ?? found.zero)}</p>}
      {here.value && found && (form.value?.kind === "machine" ? <ShopForm label={say.habits.change} />
        : <p><button type="button" onClick={() => openForm("machine", key, machineValues(found))}>{say.habits.change}</button></p>)}
    </section>
  );
}

/** A list of what hangs or stands there; in a shop of one's own it can be changed. */
function Shelf({ title, add, kind, children }: { title: string; add: string; kind: "cutter" | "sheet"; children: ComponentChildren }) {
  const open = form.value?.kind === kind && !form.value.key;
  return (
    <section class="shop" aria-labelledby={`shop-${kind}`}>
      <h2 id={`shop-${kind}`}>{title}</h2>
      <ul class={`shelf ${kind}s`}>{children}</ul>
      {here.value && (open ? <ShopForm label={add} /> : <p><button type="button" onClick={() => openForm(kind)}>{add}</button></p>)}
    </section>
  );
}

interface ItemProps { kind: "cutter" | "sheet"; id: string; name: string; facts: string; picture: ComponentChildren; values: () => Record<string, string>; off: () => void }

function Item({ kind, id, name, facts, picture, values, off }: ItemProps) {
  if (here.value && form.value?.kind === kind && form.value.key === id) return <li class="open"><ShopForm label={`${say.changeIt}: ${name}`} /></li>;
  return (
    <li>
      {picture}
      <span><b>{name}</b><small>{facts}</small></span>
      {here.value && <span class="moves">
        <button type="button" aria-label={`${say.changeIt}: ${name}, ${facts}`} onClick={() => openForm(kind, id, values())}>{say.changeIt}</button>
        <button type="button" class="small" aria-label={`${say.offRack}: ${name}, ${facts}`} onClick={off}>×</button>
      </span>}
    </li>
  );
}

const TALL = 26; // mm of a cutter that are drawn
const SHANK = 6;

/** A cutter as it hangs in the rack, all to the same scale. */
function Silhouette({ cutter }: { cutter: Cutter }) {
  const r = Math.min(cutter.diameter_mm, 14) / 2, shank = Math.min(Math.max(r, 1.6), SHANK / 2), tip = cutter.tip_diameter_mm / 2;
  const angle = cutter.included_angle_deg || 118, point = Math.min(12, (r - tip) / Math.tan((angle * Math.PI) / 360));
  const low = TALL, neck = Math.max(6, low - Math.min(16, cutter.cutting_length_mm || 4));
  const shapes: Record<string, string> = {
    flat: `M${-r} ${low}V${neck}H${r}V${low}Z`,
    ball: `M${-r} ${low - r}V${neck}H${r}V${low - r}A${r} ${r} 0 0 1 ${-r} ${low - r}Z`,
    vbit: `M${-tip} ${low}L${-r} ${low - point}V${low - point - 2}H${r}V${low - point}L${tip} ${low}Z`,
    drag: `M0 ${low}L-1.6 ${low - 5}V6H1.6V${low - 5}Z`,
    drill: `M0 ${low}L${-r} ${low - point}V6H${r}V${low - point}Z`,
    beam: `M-3 6H3L.3 ${low - 8}V${low}H-.3V${low - 8}Z`,
  };
  const under = cutter.kind === "vbit" ? low - point - 2 : neck;
  const stem = cutter.kind === "drag" || cutter.kind === "drill" || cutter.kind === "beam" ? "" : `M${-shank} 2H${shank}V${under}H${-shank}Z`;
  return <svg class="cutter-picture" viewBox={`-8 0 16 ${TALL + 1}`} aria-hidden="true"><path d={stem} /><path d={shapes[cutter.kind] ?? shapes.flat} /></svg>;
}

function Prices() {
  const given = here.value?.shop.prices ?? {};
  const listed = Object.entries(given).filter(([name]) => Object.hasOwn(say.priceRules, name));
  const values = Object.fromEntries(listed.map(([name, value]) => [name, String(value)]));
  if (!here.value) return null;
  return (
    <section class="shop" aria-labelledby="shop-prices">
      <h2 id="shop-prices">{say.thePrices}</h2>
      {listed.length > 0 && <dl class="facts">{listed.map(([name, value]) => <div key={name}><dt>{say.priceRules[name]}</dt><dd>{String(value)}</dd></div>)}</dl>}
      <p class="quiet">{say.pricesElse}</p>
      {form.value?.kind === "prices" ? <ShopForm label={say.changePrices} /> : <p><button type="button" onClick={() => openForm("prices", "", values)}>{say.changePrices}</button></p>}
    </section>
  );
}

