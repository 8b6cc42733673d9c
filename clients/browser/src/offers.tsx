// What the customer is shown before it is cut, and what the customer said to it.
import { computed, effect, signal, useSignal } from "@preact/signals";
import { useEffect, useId, useRef } from "preact/hooks";
import { Problem, again, getJson, postJson } from "./api";
import { Bar, Choice, Wrong } from "./controls";
import { FileLine } from "./files";
import { checked, fingerprint, pieceprint, plan, planOf } from "./state";
import { dates, inLanguage, say } from "./words";
import type { Offer } from "./shapes";

type Source = { plan: string } | { check: string } | { order: string };
interface Draft { title: string; price: string; currency: string; days: string; maker: string; note: string }

const MOST = 12;
const LOOK_EVERY_MS = 20_000;
const SHELF = "letterply-offer";
const LINKS = "letterply-offer-links";

/** What is being written for the customer: kept, so that a reload loses nothing. */
const draft = signal<Draft>({ title: "", price: "", currency: "EUR", days: "14", maker: "", note: "" });
/** Of what the form is open, as `plan:…`; empty where it is shut. */
const writing = signal("");
const offers = signal<Offer[]>([]);
/** Links of offers made here: the service tells each once, this tab keeps it. */
const links = signal<Record<string, { link: string; reaches: string }>>({});
const wrong = signal("");
const busy = signal(false);
const copied = signal("");
/** Where the focus goes when that appears: what was pressed is gone then. */
let next: "" | "form" | "link" = "";

/** What would be offered of the piece on the bench: its plan where there is one, else its check. */
const ofPiece = computed<Source | null>(() => {
  if (plan.value && planOf.value === pieceprint.value) return { plan: plan.value };
  return checked.value?.of === fingerprint.value ? { check: checked.value.result.id } : null;
});
/** The version of the recipe on the bench, as soon as it has been tried on. */
const version = computed(() => (checked.value?.of === fingerprint.value ? checked.value.result.recipe_version : null));

const words = (error: unknown) => (error instanceof Problem ? [error.message, error.facts.expected && say.wanted(error.facts.expected)].filter(Boolean).join(" ") : String(error));
const keyOf = (source: Source) => Object.entries(source)[0]!.join(":");
const orderOf = (source: Source) => ("order" in source ? source.order : "");

function kept<T>(shelf: Storage | undefined, name: string): Partial<T> {
  try { return (JSON.parse(shelf?.getItem(name) ?? "{}") ?? {}) as Partial<T>; } catch { return {}; }
}

/** Take what was written before the page was loaded, and keep what is written from now on. */
export function rememberOffers(): void {
  const found = kept<Draft & { writing: string }>(localStorage, SHELF);
  const texts = Object.entries(found).filter(([name, value]) => name in draft.value && typeof value === "string");
  draft.value = { ...draft.value, ...Object.fromEntries(texts) };
  if (typeof found.writing === "string") writing.value = found.writing;
  links.value = kept(sessionStorage, LINKS) as Record<string, { link: string; reaches: string }>;
  effect(() => {
    try {
      localStorage.setItem(SHELF, JSON.stringify({ ...draft.value, writing: writing.value }));
      sessionStorage.setItem(LINKS, JSON.stringify(links.value));
    } catch { /* full or shut: kept as long as the page is open */ }
  });
}

async function look(of: string): Promise<void> {
  const where = of ? `/v1/orders/${encodeURIComponent(of)}/offers` : "/v1/offers?limit=50";
  const page = await again(() => getJson<{ items: Offer[] }>(where));
  offers.value = of ? page.items : page.items.filter((one) => one.source.kind !== "order").slice(0, MOST);
}

/** Look for replies: now, when somebody comes back to the page, and now and then. */
function useReplies(of: string): void {
  useEffect(() => {
    offers.value = [];
    const now = () => { if (document.visibilityState === "visible") look(of).catch(() => undefined); };
    now();
    const timer = setInterval(now, LOOK_EVERY_MS);
    document.addEventListener("visibilitychange", now);
    return () => { clearInterval(timer); document.removeEventListener("visibilitychange", now); };
  }, [of]);
}

/** Open the form with the price that the quote says, where there is one. */
async function begin(source: Source): Promise<void> {
  await doing(async () => {
    let title = "", price = "", currency = draft.value.currency;
    try {
      const would = await again(() => postJson<Offer>("/v1/offers?dry_run=true", source));
      ({ title, currency } = would);
      price = would.price.toFixed(2);
    } catch (error) {
      if (!(error instanceof Problem) || error.facts.field !== "price") throw error;
      title = checked.value?.result.title ?? "";
    }
    draft.value = { ...draft.value, title, price, currency, note: "" };
    next = "form";
    writing.value = keyOf(source);
  });
}

async function send(source: Source): Promise<void> {
  await doing(async () => {
    const { title, price, currency, days, maker, note } = draft.value;
    const body = { ...source, title, maker, note, currency, price: Number(price.replace(",", ".")), days: Number(days) };
    const made = await again(() => postJson<Offer & { link: string; link_reaches: string }>("/v1/offers", body));
    links.value = { ...links.value, [made.id]: { link: made.link, reaches: made.link_reaches } };
    writing.value = "";
    next = "link";
    await look(orderOf(source));
  });
}

async function withdraw(offer: Offer): Promise<void> {
  await doing(async () => {
    await again(() => postJson(offer.links.withdraw, {}));
    await look(offer.source.kind === "order" ? offer.source.id : "");
  });
}

async function doing(what: () => Promise<void>): Promise<void> {
  busy.value = true;
  wrong.value = "";
  try { await what(); } catch (error) { wrong.value = words(error); } finally { busy.value = false; }
}

export function PieceOffers() {
  return <Offers source={ofPiece.value} of="" />;
}

export function OrderOffers({ id }: { id: string }) {
  return <Offers source={{ order: id }} of={id} />;
}

function Offers({ source, of }: { source: Source | null; of: string }) {
  const title = useId();
  useReplies(of);
  const open = source !== null && writing.value === keyOf(source);
  return (
    <section class="offers" aria-labelledby={title}>
      <h2 id={title}>{say.offering}</h2>
      {!open && <p><button type="button" disabled={source === null || busy.value} onClick={() => { if (source) void begin(source); }}>{say.offer}</button> <small>{source === null && say.offerWaits}</small></p>}
      {open && <Writing source={source} />}
      {busy.value && <Bar share={null} words={say.offerBusy} />}
      {wrong.value && <Wrong>{wrong.value}</Wrong>}
      <ul class="offered">{offers.value.map((offer) => <One key={offer.id} offer={offer} ofOrder={Boolean(of)} />)}</ul>
    </section>
  );
}

function Writing({ source }: { source: Source }) {
  const id = useId();
  const now = draft.value;
  const set = (name: keyof Draft) => (event: { currentTarget: { value: string } }) => { draft.value = { ...draft.value, [name]: event.currentTarget.value }; };
  const first = useRef<HTMLInputElement>(null);
  useEffect(() => { if (next === "form") { next = ""; first.current?.focus(); } }, []);
  const amount = Number(now.price.replace(",", "."));
  const priced = now.price.trim() !== "" && Number.isFinite(amount) && amount >= 0;
  return (
    <form class="drawer" aria-label={say.offer} onSubmit={(event) => { event.preventDefault(); if (priced && !busy.value) void send(source); }}>
      <p>{say.offerAbout}</p>
      <div class="rack">
        <span class="field"><label for={`${id}-title`}>{say.offerTitle}</label><input id={`${id}-title`} ref={first} value={now.title} required maxLength={200} onInput={set("title")} /></span>
        <span class="field"><label for={`${id}-price`}>{say.offerPrice}</label>
          <input id={`${id}-price`} class="length" inputMode="decimal" required value={now.price} aria-describedby={`${id}-reckoned`} aria-invalid={now.price !== "" && !priced} onInput={set("price")} /></span>
        <span class="field"><label for={`${id}-currency`}>{say.offerCurrency}</label><input id={`${id}-currency`} class="length" required maxLength={8} value={now.currency} onInput={set("currency")} /></span>
        <Choice label={say.offerDays} value={now.days} choices={[7, 14, 30, 90].map((n): [string, string] => [String(n), say.days(n)])} onChange={(days) => { draft.value = { ...draft.value, days }; }} />
        <span class="field"><label for={`${id}-maker`}>{say.offerMaker}</label><input id={`${id}-maker`} value={now.maker} maxLength={80} autocomplete="organization" onInput={set("maker")} /></span>
      </div>
      <p id={`${id}-reckoned`}><small>{"check" in source ? say.offerNoQuote : say.offerQuote}</small></p>
      <label for={`${id}-note`}>{say.offerNote}</label>
      <textarea id={`${id}-note`} rows={2} maxLength={1000} value={now.note} onInput={set("note")} />
      <p class="moves">
        <button type="submit" class="strong" disabled={busy.value || !priced}>{say.offerMake}</button>{" "}
        <button type="button" onClick={() => { writing.value = ""; }}>{say.offerLeave}</button>
      </p>
    </form>
  );
}

function One({ offer, ofOrder }: { offer: Offer; ofOrder: boolean }) {
  const told = links.value[offer.id];
  const sure = useSignal(false);
  const same = version.value === null || ofOrder ? null : version.value === offer.version;
  const price = `${offer.price.toFixed(2)} ${offer.currency}`;
  return (
    <li class={offer.state}>
      <p><b>{offer.title}, {price}:</b> <span class={offer.state === "agreed" ? "yes" : "quiet"}>{say.offerStates[offer.state] ?? offer.state}</span>{" "}
        <small>{offer.state === "open" && say.offerUntil(new Date(Date.parse(offer.ends_at) - 1).toLocaleDateString(dates(), { timeZone: "UTC" }))} {say.offerVersion(offer.version.slice(0, 8))}</small></p>
      {same !== null && <p class={same ? "quiet" : "wrong"}>{same ? say.offerSame : say.offerChanged}</p>}
      {offer.changed && offer.changed.length > 0 && <p class="wrong">{say.offerStale(offer.changed.join(", "))}</p>}
      {told && offer.state === "open" && <Link id={offer.id} link={told.link} reaches={told.reaches} />}
      {offer.replies.map((reply) => (
        <blockquote key={reply.number}>
          <p>{(reply.kind === "yes" ? say.saidYes : say.saidWish)(reply.name, new Date(reply.given_at).toLocaleString(dates()))}</p>
          {reply.text && <p class="said">{reply.text}</p>}
        </blockquote>
      ))}
      <p class="moves">
        <FileLine url={`${offer.links.pdf}?${new URLSearchParams(inLanguage)}`} name={`${offer.title}.pdf`} words={say.offerPaper} held={false} />{" "}
        {offer.state === "open" && !sure.value && <button type="button" onClick={() => { sure.value = true; }}>{say.offerWithdraw}</button>}
        {offer.state === "open" && sure.value && <>
          <button type="button" onClick={() => void withdraw(offer)}>{say.offerWithdrawSure}</button>{" "}
          <button type="button" onClick={() => { sure.value = false; }}>{say.offerKeep}</button>
        </>}
      </p>
    </li>
  );
}

function Link({ id, link, reaches }: { id: string; link: string; reaches: string }) {
  const field = useRef<HTMLInputElement>(null);
  useEffect(() => { if (next === "link") { next = ""; field.current?.focus(); } }, []);
  const copy = async () => {
    await navigator.clipboard?.writeText(link).catch(() => undefined);
    copied.value = id;
    setTimeout(() => { copied.value = ""; }, 3000);
  };
  return (
    <div class="linked">
      <label for={`link-${id}`}>{say.offerLink}</label>
      <input id={`link-${id}`} ref={field} class="wide" readOnly value={link} onFocus={(event) => event.currentTarget.select()} />
      <p class="moves">
        <button type="button" onClick={() => void copy()}>{say.offerCopy}</button>{" "}
        <a href={link} target="_blank" rel="noopener noreferrer">{say.offerOpen}</a>{" "}
        <span role="status">{copied.value === id && say.shared}</span>
      </p>
      <p><small>{reaches === "machine" ? say.offerReach : say.offerOnce}</small></p>
    </div>
  );
}
