// Newtons -> weights that hands know. An egg is about 60 g (from memory), a litre of water 1 kg.
import { say } from "./words";
import { plainNumber } from "./units";
import type { Finding } from "./shapes";

const GRAMS_PER_NEWTON = 1000 / 9.80665;
const EGG_G = 60;

export function everyday(newtons: number): string {
  const grams = newtons * GRAMS_PER_NEWTON;
  if (grams < 0.8 * EGG_G) return say.weights.grams(Math.max(1, Math.round(grams / 5) * 5));
  if (grams < 500) return say.weights.eggs(Math.round(grams / EGG_G));
  if (grams < 60_000) return say.weights.litres(plainNumber(grams / 1000, grams < 10_000 ? 1 : 0));
  return say.weights.person;
}

/** The load that breaks a place, in newtons, where the finding knows it. */
export function breakingLoad(finding: Finding): number | null {
  const loads = ["snap_in_plane_n", "snap_out_of_plane_n"]
    .map((name) => finding.data[name]).filter((load): load is number => typeof load === "number" && load > 0);
  return loads.length ? Math.min(...loads) : null;
}
