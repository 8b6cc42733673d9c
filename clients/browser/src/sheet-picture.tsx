// A sheet of stock from above, in its own frame: mm from its lower left corner, y up.
import type { ComponentChildren } from "preact";
import type { KeptMm } from "./shapes";

interface Measures { width_mm: number; height_mm: number; margin_mm: number }
export interface Pin { words: string; at: [number, number]; grave: boolean }
/** Lower left and upper right corner, mm. */
export type Box = [number, number, number, number];
interface Props { stock: Measures; kept: KeptMm[]; label: string; pins?: Pin[]; near?: Box; children?: ComponentChildren }

const AROUND = 2; // mm drawn round the sheet
const TALL_REM = 26;

/** The whole sheet, or what lies near. */
export function SheetPicture({ stock, kept, label, pins = [], near, children }: Props) {
  const { width_mm: w, height_mm: h, margin_mm: m } = stock;
  const [left, low, right, high] = near ?? [-AROUND, -AROUND, w + AROUND, h + AROUND];
  const wide = right - left, tall = high - low;
  return (
    <div class="layout" style={{ aspectRatio: `${wide} / ${tall}`, maxWidth: `${(TALL_REM * wide) / tall}rem` }}>
      <svg viewBox={`${left} ${h - high} ${wide} ${tall}`} role="img" aria-label={label}>
        <g transform={`matrix(1 0 0 -1 0 ${h})`}>
          <rect width={w} height={h} />
          {m > 0 && 2 * m < Math.min(w, h) && <rect class="margin" x={m} y={m} width={w - 2 * m} height={h - 2 * m} />}
          {children}
          {kept.map((place, k) => <Held key={k} place={place} />)}
        </g>
      </svg>
      {pins.length > 0 && <ul class="pins" aria-hidden="true">{pins.map((pin) => (
        <li key={pin.words} class={pin.grave ? "blocker" : "caution"} style={{ left: `${(100 * (pin.at[0] - left)) / wide}%`, top: `${(100 * (high - pin.at[1])) / tall}%` }}><span>{pin.words}</span></li>
      ))}</ul>}
    </div>
  );
}

/** A clamp as a bar, a screw as a head with its slot, what is cut out already as a hole. */
function Held({ place: { kind, x_mm: x, y_mm: y, width_mm: w, height_mm: h, diameter_mm: d } }: { place: KeptMm }) {
  const r = d / 2;
  return (
    <g class={`held ${kind}`} data-kept={kind}>
      {d > 0 ? <circle cx={x} cy={y} r={r} /> : <rect x={x} y={y} width={w} height={h} />}
      {kind === "screw" && d > 0 && <path d={`M${x - 0.6 * r} ${y - 0.6 * r}L${x + 0.6 * r} ${y + 0.6 * r}`} />}
      {kind === "clamp" && d === 0 && <path d={`M${x + 0.2 * w} ${y + h / 2}H${x + 0.8 * w}`} />}
      {kind === "clamp" && d > 0 && <path d={`M${x - 0.6 * r} ${y}H${x + 0.6 * r}`} />}
    </g>
  );
}
