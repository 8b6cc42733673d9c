// The bench page: puts the piece on the bench, and everything round it.
import { effect, signal } from "@preact/signals";
import { render } from "preact";
import { useState } from "preact/hooks";
import { apiKey, away, giveKey, keyWanted } from "./api";
import { Either } from "./controls";
import { Drawings, takeDrops } from "./drawings";
import { fetchFonts } from "./fonts";
import { EarlierPieces, fetchEarlier } from "./earlier";
import { Fitting } from "./fitting";
import { follow } from "./following";
import { Layers } from "./layers";
import { List, followOrder } from "./list";
import { MachineRoom, takeUpPlan } from "./machine";
import { PieceOffers, rememberOffers } from "./offers";
import { rememberPiece } from "./pieces";
import { Shop } from "./shop";
import { rememberShopForm } from "./shop-form";
import { fetchShops } from "./shops";
import { Slip, begin, fetchTemplates } from "./slip";
import { keep, light, linkToPiece, order, recipe, remember, unit, view, type View } from "./state";
import { Table } from "./table";
import { say, speak } from "./words";

const copied = signal(false);

async function share(): Promise<void> {
  await navigator.clipboard?.writeText(linkToPiece()).catch(() => undefined);
  copied.value = true;
  setTimeout(() => { copied.value = false; }, 3000);
}

function Head() {
  const first = keyWanted.value ? "key" : { one: "words", many: "paste", shop: "shop-title" }[view.value];
  return (
    <header>
      <a class="skip" href={`#${first}`} onClick={(event) => { event.preventDefault(); document.getElementById(first)?.focus(); }}>{say.skip}</a>
      <h1>letterply</h1>
      <Either label={say.views} value={view.value} choices={[["one", say.one], ["many", say.many], ["shop", say.theShop]]} onChange={(v) => { view.value = v as View; }} />
      <Either label={say.units} value={unit.value} choices={[["mm", say.millimetres], ["in", say.inches]]} onChange={(v) => { unit.value = v === "in" ? "in" : "mm"; }} />
      <Either label={say.light} value={light.value} choices={[["auto", say.lightAuto], ["day", say.lightDay], ["night", say.lightNight]]}
        onChange={(v) => { light.value = v as "auto" | "day" | "night"; }} />
    </header>
  );
}

function Key() {
  const [typed, setTyped] = useState("");
  return (
    <main class="key">
      <p>{say.keyAsked}</p>
      <label for="key">{say.key}</label>{" "}
      <input id="key" type="password" autocomplete="off" value={typed} onInput={(event) => setTyped(event.currentTarget.value)}
        onKeyDown={(event) => { if (event.key === "Enter") give(typed); }} />{" "}
      <button type="button" onClick={() => give(typed)}>{say.keyGive}</button>
    </main>
  );
}

function give(secret: string): void {
  giveKey(secret);
  void load();
}

function Bench() {
  if (keyWanted.value) return <><Head /><Key /></>;
  return (
    <>
      <Head />
      <div role="status" class="away" hidden={!away.value}>{away.value && say.away}</div>
      <main>
        {view.value === "shop" ? <Shop /> : view.value === "many" ? <List /> : recipe.value && <>
          <Slip />
          <Table />
          <Layers />
          <Drawings />
          <Fitting />
          <MachineRoom />
          <PieceOffers />
          <EarlierPieces />
          <p class="share"><button type="button" onClick={() => void share()}>{say.shareLink}</button> <span role="status">{copied.value && say.shared}</span></p>
        </>}
      </main>
    </>
  );
}

async function load(): Promise<void> {
  const all = [fetchTemplates(), fetchFonts(), fetchShops(), fetchEarlier()];
  if (!recipe.value) all.push(begin("sign", null));
  await Promise.all(all).catch((error: unknown) => { if (!keyWanted.value) console.error(error); });
  takeUpPlan();
  if (order.value) followOrder(order.value);
}

await speak();
document.title = say.title;
remember();
rememberOffers();
rememberShopForm();
rememberPiece();
keep();
effect(() => {
  if (light.value === "auto") delete document.documentElement.dataset.light;
  else document.documentElement.dataset.light = light.value;
});
takeDrops();
follow();
render(<Bench />, document.getElementById("bench")!);
void load();
if (apiKey.value) keyWanted.value = false;
