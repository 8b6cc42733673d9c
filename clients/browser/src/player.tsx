// The programs of a sheet, played: the material goes away as the machine will take it.
import { signal, useSignal } from "@preact/signals";
import { useEffect, useId, useMemo, useRef } from "preact/hooks";
import { Problem, again } from "./api";
import { Choice, Wrong } from "./controls";
import { SHADOW, Sheet, changeAt, chapterAt, lastNotAbove, paint, readFilm, type Chapter, type Colour, type Film, type FilmCutter, type Rect } from "./film";
import { cutters, materials } from "./shops";
import { rgb } from "./stage";
import { showTime } from "./units";
import { say } from "./words";
import type { ComponentChildren } from "preact";

const MOMENT_MS = 8; // of a frame, for cutting
const MOST_PAINTED = 60_000; // cells a frame
const CHANGE_S = 2; // as long as it takes to read what to put in
const STILL_MS = 1000; // between pictures for who wants no motion

/** How much faster than the machine: a number, or seconds for all of it. */
const PACES: Record<string, (total: number) => number> = {
  minute: (total) => Math.max(1, total / 60), quick: (total) => Math.max(1, total / 20), ten: () => 10, real: () => 1,
};

/** What is drawn over a box of the sheet. */
export type Chalked = (box: Film["box_mm"]) => ComponentChildren;

/** A button that opens the film of a sheet; it is asked for only then. */
export function Watch({ load, label, chalked }: { load: () => Promise<Response>; label: string; chalked?: Chalked }) {
  const film = useSignal<Film | null>(null);
  const busy = useSignal(false);
  const wrong = useSignal("");
  const open = async () => {
    busy.value = true;
    wrong.value = "";
    try {
      film.value = readFilm(await (await again(load)).arrayBuffer());
    } catch (error) {
      wrong.value = error instanceof Problem ? error.message : String(error);
    }
    busy.value = false;
  };
  if (film.value) return <Player film={film.value} label={label} chalked={chalked} />;
  return (
    <>
      <p><button type="button" aria-label={`${say.watch}: ${label}`} disabled={busy.value} onClick={() => void open()}>{say.watch}</button></p>
      {wrong.value && <Wrong>{wrong.value}</Wrong>}
    </>
  );
}

const pace = signal("minute");

/** A part of the picture that is being painted: shown when it is whole. */
interface Work { part: Rect; image: ImageData; done: number }

function begin(sheet: Sheet): Work | null {
  const part = sheet.changed(SHADOW);
  return part && { part, image: new ImageData(part.right - part.left, part.bottom - part.top), done: part.top };
}

/** Paint as much as one frame bears; returns whether it is done. */
function paintSome(sheet: Sheet, work: Work, colour: Colour, grained: boolean): boolean {
  const { part, image } = work, rows = Math.max(1, Math.floor(MOST_PAINTED / image.width));
  const band = { ...part, top: work.done, bottom: Math.min(part.bottom, work.done + rows) };
  paint(sheet, band, colour, grained, image.data.subarray(4 * image.width * (band.top - part.top)));
  work.done = band.bottom;
  return work.done === part.bottom;
}

function Player({ film, label, chalked }: { film: Film; label: string; chalked?: Chalked }) {
  const id = useId();
  const canvas = useRef<HTMLCanvasElement>(null), point = useRef<HTMLSpanElement>(null), wakeUp = useRef<() => void>(() => undefined);
  const sheet = useMemo(() => new Sheet(film), [film]);
  const time = useSignal(0), playing = useSignal(false);
  const outlines = useMemo(() => chalked?.(film.box_mm), [film, chalked]);
  const material = materials.value.get(film.material);

  useEffect(() => {
    const surface = canvas.current?.getContext("2d", { alpha: false });
    if (!surface) return undefined;
    const colour = rgb(material?.colour ?? "#999999").map((c) => 255 * c) as Colour;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches ? STILL_MS : 0;
    surface.fillStyle = `rgb(${colour.join()})`;
    surface.fillRect(0, 0, sheet.columns, sheet.rows);
    let frame = 0, before = 0, waited = 0, work: Work | null = null;
    const wake = () => { if (!frame) { before = performance.now(); frame = requestAnimationFrame(step); } };
    const step = (now: number) => {
      frame = 0;
      const passed = now - before;
      if (playing.value && passed < still) { frame = requestAnimationFrame(step); return; }
      before = now;
      if (playing.value) advance(Math.min(passed, Math.max(100, 2 * still)) / 1000);
      const begun = performance.now();
      const reached = sheet.cutTo(time.value, () => performance.now() - begun > MOMENT_MS);
      if (!work && (reached || playing.value)) work = begin(sheet);
      if (work && paintSome(sheet, work, colour, Boolean(material?.grain))) {
        surface.putImageData(work.image, work.part.left, work.part.top);
        work = null;
      }
      place(point.current, sheet, changeAt(film, time.value) !== null);
      surface.canvas.dataset.pictures = String(Number(surface.canvas.dataset.pictures ?? 0) + 1);
      if (playing.value || !reached || work || sheet.dirty) frame = requestAnimationFrame(step);
    };
    const advance = (seconds: number) => {
      const change = changeAt(film, time.value);
      if (change) {
        waited += seconds;
        if (waited > CHANGE_S) { waited = 0; time.value = change.until; }
      } else time.value = Math.min(film.total_s, time.value + seconds * PACES[pace.value]!(film.total_s), nextChange(film, time.value));
      if (time.value >= film.total_s) playing.value = false;
    };
    wakeUp.current = wake;
    wake();
    return () => cancelAnimationFrame(frame);
  }, [sheet, material?.colour]);

  const go = (to: number) => { time.value = Math.max(0, Math.min(film.total_s, to)); wakeUp.current(); };
  const change = changeAt(film, time.value);
  const number = chapterAt(film, lastNotAbove(film.t, time.value));
  const chapter = change?.chapter ?? film.chapters[number];
  const doing = change ? putIn(film, change.chapter) : chapter ? doingOf(chapter) : "";
  const far = say.soFar(showTime(time.value), showTime(film.total_s));
  const starts = film.chapters.map((one) => film.t[one.from]!);
  const over = time.value >= film.total_s;
  const [x0, y0, x1, y1] = film.box_mm;
  return (
    <div class="player" role="group" aria-label={`${say.watch}: ${label}`}>
      <div class="glow" style={{ aspectRatio: `${x1 - x0} / ${y1 - y0}` }}>
        <canvas ref={canvas} width={sheet.columns} height={sheet.rows} role="img" aria-label={`${say.watch}: ${label}. ${doing}`} />
        {outlines}
        <span ref={point} class="cutter" aria-hidden="true" hidden />
      </div>
      <input type="range" min={0} max={film.total_s} step={film.total_s / 1000} value={time.value} aria-label={say.moment}
        aria-valuetext={`${doing}, ${far}`} onInput={(event) => { playing.value = false; go(event.currentTarget.valueAsNumber); }} />
      <div class="strip" aria-hidden="true">{film.chapters.map((one, k) => (
        <span key={k} data-letterply-operation={one.kind} style={{ left: `${(100 * starts[k]!) / film.total_s}%`, width: `${(100 * (endOf(film, k) - starts[k]!)) / film.total_s}%` }} />
      ))}</div>
      <p class="moves">
        <button type="button" class="strong" onClick={() => { if (over) go(0); playing.value = !playing.value; wakeUp.current(); }}>{playing.value ? say.pause : say.play}</button>
        <button type="button" disabled={time.value <= 0} onClick={() => go(Math.max(0, ...starts.filter((at) => at < time.value - 0.01)))}>{say.stepBack}</button>
        <button type="button" disabled={over} onClick={() => go(Math.min(film.total_s, ...starts.filter((at) => at > time.value + 0.01)))}>{say.stepOn}</button>
        <Choice label={say.pace} value={pace.value} onChange={(v) => { pace.value = v; }} choices={Object.entries(say.paces)} />
        <span class="doing"><b id={id}>{doing}</b> <span class="quiet">{far}</span></span>
      </p>
      <p class="unseen" role="status">{change ? putIn(film, change.chapter) : ""}</p>
    </div>
  );
}

const doingOf = (chapter: Chapter) => `${say.doing[chapter.kind] ?? chapter.kind}: ${chapter.mark}`;
/** The name of a cutter as the page has it, where the rack still has that cutter. */
const calledHere = (cutter: FilmCutter | undefined) => (cutter ? cutters.value.find((one) => one.key === cutter.key)?.name ?? cutter.name : "");
const putIn = (film: Film, chapter: Chapter) => say.putIn(calledHere(film.cutters[chapter.cutter]), chapter.program);

/** When the chapter is over: when the next begins or its cutter is changed. */
function endOf(film: Film, number: number): number {
  const next = film.chapters[number + 1];
  if (!next) return film.total_s;
  return next.program === film.chapters[number]!.program ? film.t[next.from]! : next.change_s;
}

/** When the next cutter is put in, so that no step of the clock jumps over it. */
function nextChange(film: Film, time: number): number {
  return Math.min(film.total_s, ...film.chapters.map((chapter) => chapter.change_s).filter((at) => at > time));
}

/** Show the cutter where it is, its shadow further away the higher it stands. */
function place(mark: HTMLElement | null, sheet: Sheet, away: boolean): void {
  if (!mark) return;
  const [left, low, right, high] = sheet.film.box_mm, [x, y, z] = sheet.at;
  const cutter = sheet.cutterAt(Math.min(sheet.place + 1, sheet.film.count - 1));
  mark.hidden = away || !cutter || sheet.place < 0;
  if (!cutter) return;
  const percent = (share: number) => `${100 * share}%`;
  mark.style.left = percent((x - left) / (right - left));
  mark.style.top = percent((high - y) / (high - low));
  mark.style.width = percent(Math.max((2 * cutter.radius_mm) / (right - left), 0.008));
  const off = Math.max(1, Math.min(12, 2 + 1.2 * z));
  mark.style.boxShadow = `${off}px ${off}px ${off}px #0007`;
}
