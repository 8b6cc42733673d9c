// Lengths: what people write in, mm out; mm in, what people read out. An inch is 25.4 mm.

export type Unit = "mm" | "in";
export type Written = number | string;

const MM: Record<string, number> = {
  mm: 1, cm: 10, m: 1000, in: 25.4, inch: 25.4, inches: 25.4, '"': 25.4, "″": 25.4, ft: 304.8,
};
const FORM = /^\s*(-?)\s*(?:(\d+)\s+)?(\d+)\s*\/\s*(\d+)\s*([^\d\s]*)\s*$|^\s*(-?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*([^\d\s]*)\s*$/;

/** Return mm, or null for what is no length; a bare number counts in `unit`. */
export function readLength(written: Written, unit: Unit = "mm"): number | null {
  if (typeof written === "number") return Number.isFinite(written) ? written : null;
  const found = FORM.exec(written);
  if (!found) return null;
  const [, sign, whole, over, under, named, plain, bare] = found;
  const factor = MM[((over ? named : bare) || unit).toLowerCase()];
  if (factor === undefined) return null;
  if (over === undefined) return Number(plain!.replace(",", ".")) * factor;
  if (Number(under) === 0) return null;
  return (sign ? -1 : 1) * (Number(whole ?? 0) + Number(over) / Number(under)) * factor;
}

/** Return how a recipe writes what somebody typed: exact, so an inch stays an inch. */
export function writeLength(typed: string, unit: Unit): Written | null {
  const mm = readLength(typed, unit);
  if (mm === null) return null;
  const bare = /^[\s\d./,-]*$/.test(typed);
  const text = typed.trim().replace(/(\d),(\d)/, "$1.$2").replace("″", '"');
  return bare ? `${text} ${unit}` : text;
}

/** Return a number without needless zeros. */
export function plainNumber(value: number, decimals: number): string {
  return String(Number(value.toFixed(decimals)));
}

/** Return a length in the unit of the maker, inches in sixty-fourths where they fit. */
export function showLength(mm: number, unit: Unit): string {
  if (unit === "mm") return `${plainNumber(mm, Math.abs(mm) < 10 ? 2 : 1)} mm`;
  const inches = mm / 25.4;
  const parts = Math.round(inches * 64);
  if (parts !== 0 && Math.abs(parts / 64 - inches) < 0.002) {
    let over = Math.abs(parts), under = 64;
    while (over % 2 === 0 && under > 1) { over /= 2; under /= 2; }
    const whole = Math.floor(over / under), rest = over % under;
    const fraction = rest ? `${rest}/${under}` : "";
    return `${parts < 0 ? "-" : ""}${[whole || "", fraction].filter(Boolean).join(" ")} in`;
  }
  return `${plainNumber(inches, 3)} in`;
}

/** Return seconds in words for a maker. */
export function showTime(seconds: number): string {
  if (seconds < 90) return `${Math.max(1, Math.round(seconds))} s`;
  const minutes = Math.round(seconds / 60);
  return minutes < 120 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}
