// Clamps and screws on a sheet: put where the cross is, or typed in; cutters keep out of them.
import { signal, useSignal } from "@preact/signals";
import { useId, useRef } from "preact/hooks";
import { Problem } from "./api";
import { Choice, Either, LengthField, Wrong } from "./controls";
import { SheetPicture } from "./sheet-picture";
import { withSheet } from "./shop-form";
import { chooseStock, fetchShops, here, keyOf, materials, putShop, rack, shopName } from "./shops";
import { shop, show, unit, type OwnSheet } from "./state";
import { readLength } from "./units";
import { say } from "./words";
import type { Json, Kept, KeptMm, Stock } from "./shapes";

const open = signal("");
const MOST = 100; // as the service takes them

/** What keeps cutters out of a sheet in the next plan. */
export function keptOf(sheet: Stock): Kept[] {
  const said = shop.value.stock?.find((one): one is OwnSheet => typeof one !== "string" && one.key === sheet.key);
  return said?.keep_clear ?? (sheet.keep_clear ?? []).map(written);
}

const written = (place: KeptMm): Kept => ({
  kind: place.kind, x: place.x_mm, y: place.y_mm,
  ...(place.diameter_mm ? { diameter: place.diameter_mm } : { width: place.width_mm, height: place.height_mm }),
});

const measured = (place: Kept): KeptMm => {
  const mm = (value: Kept["x"] | undefined) => readLength(value ?? 0) ?? 0;
  return { kind: place.kind, x_mm: mm(place.x), y_mm: mm(place.y), width_mm: mm(place.width), height_mm: mm(place.height), diameter_mm: mm(place.diameter) };
};

function keep(sheet: Stock, places: Kept[]): void {
  const own: OwnSheet = {
    key: sheet.key, material: sheet.material, thickness: sheet.thickness_mm, width: sheet.width_mm, height: sheet.height_mm,
    count: sheet.count, margin: sheet.margin_mm, price: sheet.price, offcut: sheet.offcut, keep_clear: places,
  };
  const plain = !places.length && !(sheet.keep_clear ?? []).length;
  chooseStock((shop.value.stock ?? rack.value.map((one) => one.key)).map((one) => (keyOf(one) === sheet.key ? (plain ? sheet.key : own) : one)));
}

/** The sheets that the piece may be cut from, each with what holds it. */
export function ClampsOf({ among }: { among: Stock[] }) {
  const chosen = shop.value.stock;
  const sheets = chosen ? among.filter((sheet) => chosen.some((one) => keyOf(one) === sheet.key)) : among;
  if (!sheets.length) return null;
  const sheet = sheets.find((one) => one.key === open.value);
  const count = sheets.reduce((sum, one) => sum + keptOf(one).length, 0);
  return (
    <div class="clamps">
      <Choice label={say.clamps} value={sheet?.key ?? ""} onChange={(key) => { open.value = key; }}
        choices={[["", count ? say.clampsCount(count) : say.clampsNone], ...sheets.map((one): [string, string] => [one.key, named(one)])]} />
      {sheet && <OnSheet sheet={sheet} />}
    </div>
  );
}

function named(sheet: Stock): string {
  const count = keptOf(sheet).length;
  return `${materials.value.get(sheet.material)?.name ?? sheet.material}, ${show(sheet.thickness_mm)}, ${show(sheet.width_mm)} × ${show(sheet.height_mm)}${count ? ` (${count})` : ""}`;
}

/** Usual sizes, in the units that they are sold in. */
const USUAL: Record<Kept["kind"], () => Pick<Kept, "width" | "height" | "diameter">> = {
  clamp: () => (unit.value === "mm" ? { width: 40, height: 20 } : { width: "1 1/2 in", height: "3/4 in" }),
  screw: () => ({ diameter: unit.value === "mm" ? 10 : "3/8 in" }),
  cut: () => (unit.value === "mm" ? { width: 60, height: 40 } : { width: "2 1/2 in", height: "1 1/2 in" }),
};
const KINDS = Object.keys(USUAL) as Kept["kind"][];

/** Return a place of the usual size with its middle here, on the sheet as far as it goes. */
function placeAt(kind: Kept["kind"], x: number, y: number, sheet: Stock): Kept {
  const size = USUAL[kind](), w = readLength(size.width ?? 0)!, h = readLength(size.height ?? 0)!;
  const within = (value: number, most: number) => lengthOf(Math.max(0, Math.min(most, value)));
  return { kind, x: within(x - w / 2, sheet.width_mm - w), y: within(y - h / 2, sheet.height_mm - h), ...size };
}

const STEP_IN = 16; // parts of an inch that a place is put on

/** A length as somebody would write it: whole mm, or sixteenths of an inch. */
function lengthOf(mm: number): Kept["x"] {
  if (unit.value === "mm") return Math.round(mm);
  return `${Math.round((mm / 25.4) * STEP_IN)}/${STEP_IN} in`;
}

/** Whether the shop knows what holds a sheet otherwise than it is told here. */
const differs = (sheet: Stock, places: Kept[]) => JSON.stringify(places.map(measured)) !== JSON.stringify((sheet.keep_clear ?? []).map(written).map(measured));

/** Write what holds a sheet into the shop; from then on the sheet needs no word. */
async function keepInShop(sheet: Stock, places: Kept[]): Promise<void> {
  const own = here.value!;
  await putShop(own.name, withSheet(own.shop, sheet.key, { keep_clear: places as unknown as Json }).next, own.version);
  if (shop.value.stock) chooseStock(shop.value.stock.map((one) => (keyOf(one) === sheet.key ? sheet.key : one)));
}

/** The way to keep it, where a shop of one's own is worked in. */
function Keeping({ sheet, places }: { sheet: Stock; places: Kept[] }) {
  const busy = useSignal(false), said = useSignal(""), wrong = useSignal("");
  const keepIt = async () => {
    busy.value = true;
    said.value = wrong.value = "";
    try {
      await keepInShop(sheet, places);
      said.value = say.clampsStored;
    } catch (error) {
      if (!(error instanceof Problem)) throw error;
      wrong.value = error.facts.mistakes?.map((one) => one.message).join(" ") || error.message;
      if (error.facts.status === 412) await fetchShops();
    } finally { busy.value = false; }
  };
  const open = differs(sheet, places);
  if (!here.value || !(open || said.value)) return null;
  return (
    <div>
      {wrong.value && <Wrong>{wrong.value}</Wrong>}
      <p role="status">{open ? "" : said.value}</p>
      {open && <button type="button" disabled={busy.value} onClick={() => void keepIt()}>{say.clampsKeep(shopName(here.value.name))}</button>}
    </div>
  );
}

function OnSheet({ sheet }: { sheet: Stock }) {
  const id = useId();
  const kind = useSignal<Kept["kind"]>("clamp");
  const cross = useSignal<[number, number]>([sheet.width_mm / 2, sheet.height_mm / 2]);
  const told = useSignal("");
  const picture = useRef<HTMLDivElement>(null);
  const places = keptOf(sheet);
  const where = (x: number, y: number) => say.fromCorner(show(x), show(y));
  const put = (x: number, y: number) => {
    if (places.length >= MOST) return;
    const made = placeAt(kind.value, x, y, sheet), { x_mm, y_mm } = measured(made);
    keep(sheet, [...places, made]);
    told.value = `${say.keptKinds[kind.value]}: ${where(x_mm, y_mm)}`;
  };
  const keys = (event: KeyboardEvent) => {
    const step = (unit.value === "mm" ? 5 : 25.4 / 4) / (event.shiftKey ? (unit.value === "mm" ? 5 : 4) : 1);
    const moves: Record<string, [number, number]> = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowDown: [0, -step], ArrowUp: [0, step] };
    const move = moves[event.key];
    if (move) {
      const [x, y] = [cross.value[0] + move[0], cross.value[1] + move[1]];
      cross.value = [Math.max(0, Math.min(sheet.width_mm, x)), Math.max(0, Math.min(sheet.height_mm, y))];
      told.value = where(...cross.value);
    } else if (event.key === "Enter" || event.key === " ") put(...cross.value);
    else return;
    event.preventDefault();
  };
  const click = (event: MouseEvent) => {
    const svg = picture.current?.querySelector("svg"), group = svg?.querySelector("g");
    const matrix = group?.getScreenCTM();
    if (!matrix) return;
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    if (at.x < 0 || at.y < 0 || at.x > sheet.width_mm || at.y > sheet.height_mm) return;
    cross.value = [at.x, at.y];
    put(at.x, at.y);
  };
  const [x, y] = cross.value;
  return (
    <div class="drawer" role="group" aria-label={named(sheet)}>
      <p id={`${id}-how`}>{say.clampsHow} {sheet.count > 1 && say.clampsEach(sheet.count)}</p>
      <Either label={say.clampsKind} value={kind.value} choices={KINDS.map((one) => [one, say.keptKinds[one]!])} onChange={(v) => { kind.value = v as Kept["kind"]; }} />
      <div ref={picture} class="pick" role="application" tabIndex={0} aria-label={say.clampsPicture} aria-describedby={`${id}-how`} onKeyDown={keys} onClick={click}>
        <SheetPicture stock={sheet} kept={places.map(measured)} label={say.clampsPicture}>
          <path class="cross" d={`M${x} 0V${sheet.height_mm}M0 ${y}H${sheet.width_mm}`} />
        </SheetPicture>
      </div>
      <p class="quiet" role="status">{told.value || where(x, y)}</p>
      {places.length > 0 && (
        <ol class="kept">{places.map((place, number) => (
          <Row key={number} place={place} number={number + 1}
            change={(next) => keep(sheet, places.map((one, k) => (k === number ? next : one)))}
            remove={() => keep(sheet, places.filter((_, k) => k !== number))} />
        ))}</ol>
      )}
      <p><button type="button" onClick={() => put(x, y)}>{say.clampAdd(say.keptKinds[kind.value]!)}</button></p>
      <Keeping sheet={sheet} places={places} />
    </div>
  );
}

const SIDES = ["x", "y", "width", "height", "diameter"] as const;

function Row({ place, number, change, remove }: { place: Kept; number: number; change: (place: Kept) => void; remove: () => void }) {
  const name = `${say.keptKinds[place.kind]} ${number}`;
  return (
    <li>
      <b>{name}</b>
      {SIDES.filter((side) => place[side] !== undefined).map((side) => (
        <LengthField key={side} label={place.diameter !== undefined && (side === "x" || side === "y") ? say.keptMiddle[side]! : say.keptSides[side]!} of={name}
          value={place[side]} least={side === "x" || side === "y" ? 0 : 0.5} onChange={(value) => change({ ...place, [side]: value })} />
      ))}
      <button type="button" class="small" aria-label={`${say.takeOff}: ${name}`} onClick={remove}>×</button>
    </li>
  );
}
