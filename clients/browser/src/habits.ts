// A machine as a shop changes it: where its work zero is, and how its programs are written.
import { unit } from "./state";
import { exactLength, showFeed } from "./units";
import { say } from "./words";
import type { Field, Values } from "./shop-form";
import type { Machine } from "./shapes";

const LENGTHS = ["safe_height"] as const;
const PAIRS = ["bed", "pin", "park"] as const;
const LINES = ["coolant_on", "coolant_off", "extraction_on", "extraction_off", "start_words", "end_words"] as const;
const PLAIN = [
  "name", "zero", "zero_xy", "units", "arc_form", "dwell", "comments", "line_end", "end_word", "extension", "tool_change",
  "park_from", "blank_zero", "blank_zero_xy", "spin_up_s", "line_number_step", "decimals",
] as const;
const TICKS = ["arcs", "spindle_off", "program_mark", "length_offsets"] as const;

/** Return what is in the form at first. */
export function machineValues(one: Machine): Values {
  const found: Values = { max_feed: showFeed(one.max_feed_mm_per_min, unit.value) };
  for (const name of PLAIN) found[name] = String(one[name] ?? "");
  for (const name of TICKS) found[name] = one[name] ? "yes" : "";
  for (const name of LINES) found[name] = ((one[name] ?? []) as string[]).join(", ");
  for (const name of LENGTHS) found[name] = exactLength(one[`${name}_mm`] as number, unit.value);
  for (const name of PAIRS) {
    const pair = (one[`${name}_mm`] ?? []) as number[];
    pair.forEach((mm, k) => { found[`${name}.${k}`] = exactLength(mm, unit.value); });
  }
  return found;
}

/** Return the fields: what every maker touches, then what a manual asks for. */
export function habitFields(values: Values): Field[] {
  const pick = (name: string): Field => ({ name, kind: "choice", choices: Object.entries(say.habits.choices[name] ?? {}) });
  const pair = (name: string): Field[] => [`${name}.0`, `${name}.1`].map((half) => ({ name: half, kind: "length" }));
  const tick = (name: string): Field => ({ name, kind: "tick" });
  const first: Field[] = [
    { name: "name", kind: "text" }, ...pair("bed"), { name: "max_feed", kind: "feed" }, pick("units"),
    pick("zero_xy"), ...(values.zero_xy === "pin" ? pair("pin") : []), pick("zero"), { name: "safe_height", kind: "length" }, tick("spindle_off"), tick("arcs"),
  ];
  const rest: Field[] = [
    pick("arc_form"), pick("dwell"), { name: "spin_up_s", kind: "number" }, pick("comments"), pick("tool_change"), ...pair("park"), pick("park_from"),
    pick("blank_zero_xy"), pick("line_end"), pick("end_word"), { name: "extension", kind: "text" }, { name: "line_number_step", kind: "number" }, { name: "decimals", kind: "number" },
    ...LINES.map((name): Field => ({ name, kind: "lines" })), tick("program_mark"), tick("length_offsets"),
  ];
  return [...first, ...rest.map((field) => ({ ...field, folded: true }))];
}
