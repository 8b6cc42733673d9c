// Asking the service: JSON in, JSON or a problem out. Nothing here knows of the page's looks.
import { signal } from "@preact/signals";
import type { components, paths } from "./generated/service";
import type { Job, ProblemFacts, Progress } from "./shapes";

/** Paths of the service as it describes itself, with anything in the place of a name. */
type Filled<P> = P extends `${infer Before}{${string}}${infer After}` ? `${Before}${string}${Filled<After>}` : P;
type Taking<Method extends "get" | "post"> =
  Filled<{ [P in keyof paths]: paths[P] extends Record<Method, object> ? P : never }[keyof paths]>;

/** What the page reads of an answer; that the service says it so is looked at when this is compiled. */
type Described<Read, Said extends Read> = Said;
type Schemas = components["schemas"];
export type SaidOfAJob = Described<Pick<Job, "id" | "kind" | "state">, Schemas["JobDocument"]>;
export type SaidOfProgress = Described<Omit<Progress, "phase"> & { phase: string }, Schemas["JobProgress"]>;
export type SaidOfAProblem = Described<Pick<ProblemFacts, "status" | "code" | "title" | "detail">, Schemas["Problem"]>;

/** The service does not answer at all. */
export const away = signal(false);
/** The service wants a key. */
export const keyWanted = signal(false);
export const apiKey = signal(readKey());

function readKey(): string {
  try { return sessionStorage.getItem("letterply-key") ?? ""; } catch { return ""; }
}

export function giveKey(secret: string): void {
  apiKey.value = secret;
  keyWanted.value = false;
  try { sessionStorage.setItem("letterply-key", secret); } catch { /* kept for this page only */ }
}

export class Problem extends Error {
  constructor(readonly facts: ProblemFacts) { super(facts.detail || facts.title); }
}

/** The service could not be reached; what was asked for is asked again by whoever asked. */
export class Away extends Error {}

const pause = (ms: number, signal?: AbortSignal) => new Promise<void>((done) => {
  const ended = setTimeout(done, signal?.aborted ? 0 : ms);
  signal?.addEventListener("abort", () => { clearTimeout(ended); done(); }, { once: true });
});

export async function ask(path: string, options: RequestInit = {}): Promise<Response> {
  const headers = new Headers(options.headers);
  if (apiKey.value) headers.set("Authorization", `Bearer ${apiKey.value}`);
  let answer: Response;
  try {
    answer = await fetch(path, { ...options, headers });
  } catch (cause) {
    if (options.signal?.aborted) throw cause;
    notice();
    throw new Away("away", { cause });
  }
  away.value = false;
  if (answer.ok) return answer;
  const facts = await problemOf(answer);
  if (facts.code === "missing-key") keyWanted.value = true;
  throw new Problem(facts);
}

async function problemOf(answer: Response): Promise<ProblemFacts> {
  try {
    return (await answer.json()) as ProblemFacts;
  } catch {
    return { status: answer.status, code: "bad-answer", title: "", detail: `HTTP ${answer.status}` };
  }
}

let watching = false;

/** Say that the service is away, and look every second whether it is back. */
function notice(): void {
  away.value = true;
  if (watching) return;
  watching = true;
  void (async () => {
    while (away.value) {
      await pause(1000);
      try {
        const answer = await fetch("/health/live");
        if (answer.ok) away.value = false;
      } catch { /* still away */ }
    }
    watching = false;
  })();
}

/** Resolve once the service answers again. */
export async function whenBack(): Promise<void> {
  while (away.value) await pause(250);
}

export async function getJson<T>(path: string, signal?: AbortSignal): Promise<T> {
  return (await ask(path, { signal })).json() as Promise<T>;
}

export async function post(path: string, body: unknown, more: RequestInit = {}): Promise<Response> {
  const headers = { "Content-Type": "application/json", ...(more.headers as Record<string, string>) };
  return ask(path, { ...more, method: "POST", headers, body: JSON.stringify(body) });
}

export async function postJson<T>(path: string, body: unknown, more: RequestInit = {}): Promise<T> {
  return (await post(path, body, more)).json() as Promise<T>;
}

/** Return all items of a list, page by page. */
export async function getAll<T>(path: Taking<"get">, query = ""): Promise<T[]> {
  const found: T[] = [];
  let next: string | null = `${path}?limit=200${query && `&${query}`}`;
  while (next) {
    const page: { items: T[]; next?: string | null } = await getJson(next);
    found.push(...page.items);
    next = page.next ?? null;
  }
  return found;
}

/** Have something made and wait for it, through restarts of the service. */
export async function make<T>(
  path: Taking<"post">, body: unknown, tell: (progress: Progress | null) => void, signal: AbortSignal,
): Promise<T> {
  const headers = { Prefer: "respond-async" };
  const first = await again(() => postJson<Job | T>(path, body, { headers, signal }), signal);
  if (!isJob(first)) return first;
  return follow<T>(first, tell, signal);
}

/** Have something made that is wanted as long as nobody says otherwise: then the service leaves it, too. */
export async function makeForNow<T>(
  path: Taking<"post">, body: unknown, tell: (progress: Progress | null) => void, signal: AbortSignal,
): Promise<T> {
  const first = await again(() => postJson<Job | T>(path, body, { headers: { Prefer: "respond-async" } }), signal);
  if (!isJob(first)) return first;
  try {
    return await follow<T>(first, tell, signal);
  } catch (error) {
    if (signal.aborted) void ask(first.links.self, { method: "DELETE" }).catch(() => undefined);
    throw error;
  }
}

const isJob = (answer: unknown): answer is Job => typeof answer === "object" && answer !== null && "state" in answer;

/** Wait for a job; returns its result. */
export async function follow<T>(job: Job, tell: (progress: Progress | null) => void, signal: AbortSignal): Promise<T> {
  let wait = 150;
  while (job.state === "queued" || job.state === "running") {
    tell(job.progress ?? null);
    await pause(wait, signal);
    if (signal.aborted) throw new DOMException("no longer wanted", "AbortError");
    wait = Math.min(1000, wait * 1.3);
    job = await again(() => getJson<Job>(job.links.self, signal), signal);
  }
  if (job.problem) throw new Problem(job.problem);
  return again(() => getJson<T>(job.links.result, signal), signal);
}

/** Ask until the service is there; problems are passed on. */
export async function again<T>(what: () => Promise<T>, signal?: AbortSignal): Promise<T> {
  for (;;) {
    try {
      return await what();
    } catch (error) {
      const busy = error instanceof Problem && error.facts.status === 503;
      if (!(error instanceof Away) && !busy) throw error;
      if (signal?.aborted) throw error;
      await (busy ? pause(1000) : whenBack());
    }
  }
}

/** Save a file: a link would carry no key. */
export async function save(url: string, name: string): Promise<void> {
  const answer = await ask(url);
  const link = document.createElement("a");
  link.href = URL.createObjectURL(await answer.blob());
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}
