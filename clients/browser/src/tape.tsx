// The size, on a tape measure; the smallest size that holds is a stop on it.
import { useId } from "preact/hooks";
import { LengthField } from "./controls";
import { Looking, holds, holdsOf } from "./fonts";
import { AskSize, Sizing } from "./sizing";
import { recipe, setSize, show, size, unit } from "./state";
import { plainNumber } from "./units";
import { say } from "./words";

const LEAST = 5;

export function Tape() {
  const id = useId();
  const now = size.value;
  if (!now) {
    return (
      <><p class="tape-line">{say.sizes.none}: {say.asLarge}.{" "}
        <button type="button" onClick={() => setSize(12)}>{say.ownHeight}</button> <AskSize />
      </p>
      <Sizing /></>
    );
  }
  const most = now.mm > 200 ? Math.ceil(now.mm / 50) * 50 + 50 : 200;
  const font = recipe.value?.lettering?.font ?? "";
  const byCapitals = now.name === "cap_height"; // the smallest that holds is told as such
  const stop = byCapitals && holds.value.of === holdsOf() ? holds.value.from.get(font) : undefined;
  const step = unit.value === "mm" ? 0.5 : 25.4 / 16;
  const take = (value: number) => {
    const near = typeof stop === "number" && Math.abs(value - stop) < 1.2;
    setSize(near ? stop : unit.value === "mm" ? value : `${plainNumber(Math.round((value / 25.4) * 16) / 16, 4)} in`);
  };
  const share = (mm: number) => `${(100 * (mm - LEAST)) / (most - LEAST)}%`;
  const tick = unit.value === "mm" ? 10 : 25.4;
  return (
    <><div class="tape-line">
      <label for={id}>{say.sizes[now.name]}</label>
      <div class="tape">
        <input id={id} type="range" min={LEAST} max={most} step={step} value={now.mm} aria-valuetext={show(now.mm)}
          onInput={(event) => take(event.currentTarget.valueAsNumber)} />
        <span class="ticks" aria-hidden="true" style={{ backgroundSize: `${share(LEAST + tick)} 100%` }} />
        {typeof stop === "number" && stop <= most && <span class="stop" aria-hidden="true" style={{ left: share(Math.max(stop, LEAST)) }} />}
      </div>
      <LengthField label={say.sizes[now.name]!} hidden value={recipe.value?.lettering?.size[now.name] as string | number} least={1} onChange={setSize} />
      <AskSize />
      {stop === null && <span>{say.neverHolds}</span>}
      {typeof stop === "number" && <>
        <span class="holds">{say.smallest(show(stop))}</span>
        {Math.abs(stop - now.mm) > 0.05 && <button type="button" onClick={() => setSize(stop)}>{say.goSmallest(show(stop))}</button>}
      </>}
      <Looking />
    </div>
    <Sizing /></>
  );
}
