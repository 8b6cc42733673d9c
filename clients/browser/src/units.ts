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

/** Return a number without needless zeros; 3.175 is rounded as it is written. */
export function plainNumber(value: number, decimals: number): string {
  return String(Number((value * (1 + 1e-12)).toFixed(decimals)));
}

const MM_PER_INCH = 25.4;
const RULE = 64; // parts of an inch on a maker's rule
const ON_RULE_IN = 0.0002; // what lies on one of them, as the service has it

/** Return a length in the unit of the maker: inches as a fraction where it lies on a rule, else decimal. */
export function showLength(mm: number, unit: Unit): string {
  if (unit === "mm") return `${plainNumber(mm, Math.abs(mm) < 10 ? 2 : 1)} mm`;
  const inches = mm / MM_PER_INCH;
  const parts = Math.round(inches * RULE);
  if (Math.abs(parts / RULE - inches) < ON_RULE_IN) {
    let over = Math.abs(parts), under = RULE;
    while (over % 2 === 0 && under > 1) { over /= 2; under /= 2; }
    const whole = Math.floor(over / under), rest = over % under;
    const fraction = rest ? `${rest}/${under}` : "";
    return `${parts < 0 ? "-" : ""}${[whole || "", fraction].filter(Boolean).join(" ") || 0} in`;
  }
  return `${plainNumber(inches, Math.abs(inches) < 1 ? 4 : 3)} in`;
}

/** Return a length to be changed and written back: nothing that a caliper measures is rounded off. */
export function exactLength(mm: number, unit: Unit): string {
  if (unit === "mm") return `${plainNumber(mm, 4)} mm`;
  const shown = showLength(mm, unit);
  return shown.includes("/") ? shown : `${plainNumber(mm / MM_PER_INCH, 5)} in`;
}

/** Return an area, told to three figures. */
export function showArea(mm2: number, unit: Unit): string {
  const value = unit === "mm" ? mm2 : mm2 / MM_PER_INCH ** 2;
  return `${Number(value.toPrecision(3))} ${unit}²`;
}

/** Return a feed as a machine is told it. */
export function showFeed(mmPerMinute: number, unit: Unit): string {
  return unit === "mm" ? `${Math.round(mmPerMinute)} mm/min` : `${plainNumber(mmPerMinute / MM_PER_INCH, 1)} in/min`;
}

/** Return seconds in words for a maker. */
export function showTime(seconds: number): string {
  if (seconds < 90) return `${Math.max(1, Math.round(seconds))} s`;
  const minutes = Math.round(seconds / 60);
  return minutes < 120 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}
