// A sheet of stock from above, in its own frame: mm from its lower left corner, y up.
import type { ComponentChildren } from "preact";
import type { KeptMm } from "./shapes";

interface Measures { width_mm: number; height_mm: number; margin_mm: number }
export interface Pin { words: string; at: [number, number]; grave: boolean }
interface Props { stock: Measures; kept: KeptMm[]; label: string; pins?: Pin[]; children?: ComponentChildren }

const AROUND = 2; // mm drawn round the sheet

export function SheetPicture({ stock, kept, label, pins = [], children }: Props) {
  const { width_mm: w, height_mm: h, margin_mm: m } = stock;
  return (
    <div class="layout" style={{ aspectRatio: `${w + 2 * AROUND} / ${h + 2 * AROUND}`, maxWidth: `${(26 * (w + 2 * AROUND)) / (h + 2 * AROUND)}rem` }}>
      <svg viewBox={`${-AROUND} ${-AROUND} ${w + 2 * AROUND} ${h + 2 * AROUND}`} role="img" aria-label={label}>
        <g transform={`matrix(1 0 0 -1 0 ${h})`}>
          <rect width={w} height={h} />
          {m > 0 && 2 * m < Math.min(w, h) && <rect class="margin" x={m} y={m} width={w - 2 * m} height={h - 2 * m} />}
          {children}
          {kept.map((place, k) => <Held key={k} place={place} />)}
        </g>
      </svg>
      {pins.length > 0 && <ul class="pins" aria-hidden="true">{pins.map((pin) => (
        <li key={pin.words} class={pin.grave ? "blocker" : "caution"} style={{ left: `${(100 * (pin.at[0] + AROUND)) / (w + 2 * AROUND)}%`, top: `${(100 * (h - pin.at[1] + AROUND)) / (h + 2 * AROUND)}%` }}><span>{pin.words}</span></li>
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
