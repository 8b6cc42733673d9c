// One sheet: how its parts lie, what is left when its programs have run, how it is set up.
import { ask } from "./api";
import { Picture } from "./controls";
import { CutterSets } from "./cutters";
import { Watch } from "./player";
import { Proving } from "./proving";
import { SheetPicture, type Box } from "./sheet-picture";
import { cutterName } from "./shops";
import { preview } from "./state";
import { showTime } from "./units";
import { say } from "./words";
import type { Film } from "./film";
import type { Fault, Plan, Preview, ProofSheet, Sheet } from "./shapes";

interface Props { sheet: Sheet; kept: Plan; wide: Plan; current: boolean; proof: ProofSheet | null; again: () => void }

export function OneSheet({ sheet, kept, wide, current, proof, again }: Props) {
  const film = kept.files.find((file) => file.path === `films/sheet-${sheet.number}.bin`);
  const after = kept.files.find((file) => file.path === `proofs/sheet-${sheet.number}.png`);
  const drawn = current && !preview.value?.not_strengthened.length ? preview.value : null;
  return (
    <article aria-labelledby={`sheet-${sheet.number}`}>
      <h3 id={`sheet-${sheet.number}`}>{say.sheet(sheet.number)}</h3>
      <p>{sheet.summary}</p>
      <div class="pictures">
        <figure><Layout sheet={sheet} drawn={drawn} faults={proof?.faults ?? []} /><figcaption>{say.laidOut}</figcaption></figure>
        {after && <figure><Picture url={after.url} alt={say.afterwards} /><figcaption>{say.afterwards}</figcaption></figure>}
      </div>
      {proof && <Faults faults={proof.faults} sheet={sheet.number} />}
      {film && sheet.programs.length > 0 && (
        <Watch key={film.url} load={() => ask(film.url)} label={say.sheet(sheet.number)} chalked={drawn ? chalk(sheet, drawn) : undefined} />
      )}
      {sheet.programs.length > 0 && <>
        <h4>{say.setUp}</h4>
        <ul class="steps">{sheet.programs.map((program, k) => (
          <li key={program.file}>{say.program(k + 1, program.file, program.cutters.map(cutterName).join(", "), showTime(program.time.total_s))}</li>
        ))}</ul>
      </>}
      <CutterSets sheet={sheet} kept={kept} wide={wide} current={current} again={again} />
      {sheet.programs.length > 0 && <Proving sheet={sheet} kept={kept} chalked={drawn ? chalk(sheet, drawn) : undefined} draw={(faults) => <Layout sheet={sheet} drawn={drawn} faults={faults} near={nearby(sheet, faults)} />} />}
    </article>
  );
}

const MOST_FAULTS = 12;

/** What a proof found, the number of each as it is pinned to the picture. */
export function Faults({ faults, sheet, lineOf }: { faults: Fault[]; sheet: number; lineOf?: (fault: Fault) => string | undefined }) {
  if (!faults.length) return null;
  return (
    <>
      <h4>{say.faults}</h4>
      <ol class="faults" aria-label={`${say.faults}, ${say.sheet(sheet)}`}>{faults.slice(0, MOST_FAULTS).map((fault) => {
        const line = lineOf?.(fault);
        return (
          <li key={fault.number} class={fault.severity}>
            <b>{fault.number}</b> {say.severity[fault.severity] ?? fault.severity}: {fault.text}
            {fault.program && fault.line && <small> {say.inProgram(fault.program, fault.line)}</small>}
            {line && <code>{line}</code>}
          </li>
        );
      })}</ol>
      {faults.length > MOST_FAULTS && <p class="quiet">{say.moreNotes(faults.length - MOST_FAULTS)}</p>}
    </>
  );
}

/** The outlines of the picture, moved as the plan moves them. */
function placed(sheet: Sheet, drawn: Preview) {
  const [ox, oy] = drawn.origin_mm;
  const parts = new Map(drawn.layers.flatMap((layer) => layer.parts.map((part) => [part.name, { part, colour: layer.colour }] as const)));
  const point = (ring: number[], i: number) => `${ring[i]! / drawn.steps_per_mm + ox} ${ring[i + 1]! / drawn.steps_per_mm + oy}`;
  const path = (rings: number[][]) => rings.map((ring) => `M${Array.from({ length: ring.length / 2 }, (_, k) => point(ring, 2 * k)).join("L")}Z`).join("");
  return sheet.parts.flatMap(({ mark, part, matrix: [a, b, c, d, x, y] }) => {
    const found = parts.get(part);
    return found ? [{ mark, d: path(found.part.rings), colour: found.colour, transform: `matrix(${a} ${c} ${b} ${d} ${x} ${y})` }] : [];
  });
}

const BESIDE = 12; // mm

/** The box round the parts and the places that a proof names. */
function nearby(sheet: Sheet, faults: Fault[]): Box {
  const points = [...sheet.parts.flatMap(({ bounds_mm: [a, b, c, d] }) => [[a, b], [c, d]]), ...faults.flatMap((fault) => (fault.where_mm ? [fault.where_mm] : []))];
  const xs = points.map((point) => point[0]!), ys = points.map((point) => point[1]!);
  return [Math.min(...xs) - BESIDE, Math.min(...ys) - BESIDE, Math.max(...xs) + BESIDE, Math.max(...ys) + BESIDE];
}

/** The sheet from above: parts, what holds it, places that a proof names. */
function Layout({ sheet, drawn, faults, near }: { sheet: Sheet; drawn: Preview | null; faults: Fault[]; near?: Box }) {
  const pins = faults.slice(0, MOST_FAULTS).filter((fault) => fault.where_mm);
  const marks = sheet.parts.map((part) => part.mark).join(", ");
  return (
    <SheetPicture stock={sheet.stock} near={near} kept={sheet.stock.keep_clear} label={`${say.laidOut}: ${marks}`}
      pins={pins.map((fault) => ({ words: String(fault.number), at: fault.where_mm!, grave: fault.severity === "blocker" }))}>
      {drawn && placed(sheet, drawn).map(({ mark, d, colour, transform }) => <path key={mark} d={d} fill={colour} transform={transform} />)}
    </SheetPicture>
  );
}

/** Return what draws the outlines as chalk on a box of the sheet. */
const chalk = (sheet: Sheet, drawn: Preview) => ([left, low, right, high]: Film["box_mm"]) => (
  <svg class="chalk" viewBox={`${left} ${-high} ${right - left} ${high - low}`} preserveAspectRatio="none" aria-hidden="true">
    <g transform="scale(1 -1)">
      {placed(sheet, drawn).map(({ mark, d, transform }) => <path key={mark} d={d} transform={transform} />)}
    </g>
  </svg>
);
