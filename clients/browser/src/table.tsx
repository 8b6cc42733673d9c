// The light table: the stack as it will stand, places of findings pinned to it.
import { effect, signal, useSignal } from "@preact/signals";
import { useEffect, useId, useRef } from "preact/hooks";
import { Choice, Drawn } from "./controls";
import { drawing, refused } from "./following";
import { materials } from "./shops";
import { checked, fingerprint, preview, show, shown } from "./state";
import { Stage } from "./stage";
import { ofService, say } from "./words";
import type { Beside } from "./geometry";
import type { Finding } from "./shapes";

const TURN = -0.35, TILT = 0.95;
export const turn = signal(TURN);
export const tilt = signal(TILT);
export const apart = signal(0);
const beside = signal<Beside>("nothing");
/** How often the table was drawn: what the bench and the tests wait for. */
const pictures = signal(0);

export function Table() {
  const canvas = useRef<HTMLCanvasElement>(null);
  const stage = useRef<Stage | null>(null);
  const flat = useSignal(false);
  useEffect(() => {
    const made = canvas.current;
    if (!made) return undefined;
    try {
      stage.current = new Stage(made);
    } catch {
      flat.value = true;
      return undefined;
    }
    stage.current.onDrawn = () => {
      pictures.value += 1;
      made.dataset.pictures = String(pictures.value);
    };
    const watch = new ResizeObserver(() => stage.current?.ask());
    watch.observe(made);
    return () => watch.disconnect();
  }, []);
  // At once and not after the next frame, as effects of a component run.
  useEffect(() => effect(() => { if (preview.value) stage.current?.lay(preview.value, materials.value); }), [flat.value]);
  useEffect(() => effect(() => stage.current?.stand({ turn: turn.value, tilt: tilt.value, apart: apart.value, beside: beside.value })), [flat.value]);
  const now = preview.value;
  // Until what is thin is made sturdy, neither its outlines nor its size are those of the piece.
  const thin = now?.not_strengthened.length ?? 0;
  const size = now ? say.pictured(show(now.width_mm), show(now.height_mm), show(now.total_thickness_mm), now.layers.length) : "";
  const described = thin ? say.roughly(size) : size;
  return (
    <section class="table" aria-labelledby="table-title">
      <h2 id="table-title" class="unseen">{say.table}</h2>
      <div class="glow">
        {flat.value
          ? <>{now && <Drawn svg={now.svg} alt={described} cls="flat" />}<p>{say.flat}</p></>
          : <canvas ref={canvas} role="img" aria-label={`${say.table}: ${described}`} {...dragging} />}
        {!flat.value && <Pins stage={stage.current} />}
      </div>
      <p class="measure">
        <span>{described}</span>
        {(thin > 0 || drawing.value) && <span class="quiet">{thin ? say.notSturdy : say.drawing}</span>}      </p>
      {refused.value && <p class="wrong" role="alert">{say.drawFailed} {refused.value.facts.mistakes?.map((m) => m.message).join(" ") || refused.value.message}</p>}
      {!flat.value && (
        <div class="poses">
          <Pose label={say.turn} value={turn.value} low={-Math.PI} high={Math.PI} onChange={(v) => { turn.value = v; }} />
          <Pose label={say.tilt} value={tilt.value} low={0.15} high={Math.PI / 2} onChange={(v) => { tilt.value = v; }} />
          {(preview.value?.layers.length ?? 0) > 1 && <Pose label={say.apart} value={apart.value} low={0} high={1} onChange={(v) => { apart.value = v; }} />}
          <Choice label={say.beside} value={beside.value} onChange={(v) => { beside.value = v as Beside; }}
            choices={[["nothing", say.besideNothing], ["coin", say.besideCoin(show(25))], ["hand", say.besideHand], ["door", say.besideDoor]]} />
        </div>
      )}
    </section>
  );
}

let held: { x: number; y: number } | null = null;
const dragging = {
  onPointerDown: (event: PointerEvent) => {
    held = { x: event.clientX, y: event.clientY };
    (event.currentTarget as HTMLElement).setPointerCapture(event.pointerId);
  },
  onPointerMove: (event: PointerEvent) => {
    if (!held) return;
    const pi = Math.PI;
    turn.value = ((turn.value - (event.clientX - held.x) * 0.008 + 3 * pi) % (2 * pi)) - pi;
    tilt.value = Math.min(pi / 2, Math.max(0.15, tilt.value + (event.clientY - held.y) * 0.008));
    held = { x: event.clientX, y: event.clientY };
  },
  onPointerUp: () => { held = null; },
  onPointerCancel: () => { held = null; },
};

function Pose({ label, value, low, high, onChange }: { label: string; value: number; low: number; high: number; onChange: (value: number) => void }) {
  const id = useId();
  const share = Math.round((100 * (value - low)) / (high - low));
  return (
    <span class="field">
      <label for={id}>{label}</label>
      <input id={id} type="range" min={low} max={high} step={(high - low) / 60} value={value} aria-valuetext={`${share} %`}
        onInput={(event) => onChange(event.currentTarget.valueAsNumber)} />
    </span>
  );
}

/** The middle of where a finding is, in the frame of the stack. */
export function middle(finding: Finding): [number, number] | null {
  const points = finding.where?.points_mm;
  if (!points?.length) return null;
  const sum = points.reduce(([x, y], [u, v]) => [x + u, y + v] as [number, number], [0, 0] as [number, number]);
  return [sum[0] / points.length, sum[1] / points.length];
}

const MOST_PINS = 40;

function Pins({ stage }: { stage: Stage | null }) {
  void pictures.value;
  const fit = checked.value;
  if (!stage || !fit || fit.of !== fingerprint.value) return null;
  return (
    <ol class="pins">
      {fit.result.findings.filter((f) => f.where).slice(0, MOST_PINS).map((finding) => {
        const at = middle(finding)!;
        const place = stage.project(finding.layer, at[0], at[1]);
        if (!place) return null;
        return (
          <li key={finding.number} class={finding.severity} data-shown={finding.number === shown.value}
            style={{ left: `${100 * place[0]}%`, top: `${100 * place[1]}%` }}>
            <a href={`#doubt-${finding.number}`} aria-label={`${finding.number}: ${ofService(finding.words, finding.why)}`} tabIndex={-1}
              onClick={(event) => {
                event.preventDefault();
                shown.value = finding.number;
                document.getElementById(`doubt-${finding.number}`)?.focus();
              }}>{finding.number}</a>
          </li>
        );
      })}
    </ol>
  );
}
