// What the service asks for and answers, as far as the page looks into it.
import type { Told } from "./retell";
import type { Written } from "./units";

export type Json = null | boolean | number | string | Json[] | { [name: string]: Json };
export type Facts = { [name: string]: Json };

export interface Lettering { text: string; font: string; size: Facts; [more: string]: unknown }
export interface Outline {
  kind: "lettering" | "plate" | "artwork" | "blank";
  grow?: Written; join?: boolean | "letters"; strengthen?: unknown; soften?: Written;
  shape?: string; margin?: Written | Facts; width?: Written; height?: Written; diameter?: Written;
  corner?: Written; [more: string]: unknown;
}
export interface Feature { kind: string; [more: string]: unknown }
export interface Layer {
  name: string; material: string; thickness: Written; outline: Outline; features?: Feature[];
  [more: string]: unknown;
}
export interface Recipe {
  title: string; lettering?: Lettering; layers: Layer[]; copies?: number; [more: string]: unknown;
}

export interface PreviewPart {
  name: string; rings: number[][]; worked: { depth_mm: number | null; rings: number[][] }[];
}
export interface PreviewLayer {
  name: string; material: string; colour: string; thickness_mm: number; z_mm: number;
  parts: PreviewPart[];
}
export interface Preview {
  title: string; width_mm: number; height_mm: number; origin_mm: [number, number];
  total_thickness_mm: number; steps_per_mm: number; layers: PreviewLayer[]; svg: string;
  /** Layers that are shown without the strengthening that the recipe asks for. */
  not_strengthened: string[];
}

export interface Remedy { action: string; value: number | string | null; unit: string; text: string; words?: Told | null }
export interface Finding {
  number: number; code: string; severity: "blocker" | "caution" | "note"; why: string; words?: Told | null;
  layer: string | null; part: string | null;
  where: { kind: string; points_mm: [number, number][] } | null;
  measured: number | null; limit: number | null; unit: string; remedies: Remedy[]; data: Facts;
}
export interface FileLink { path: string; url: string; media_type: string; held_back: boolean }
export interface Result {
  id: string; kind: string; title: string; summary: string; summary_words?: Told | null; ready: boolean; recipe_version: string;
  counts: { blocker: number; caution: number; note: number };
  findings: Finding[]; files: FileLink[]; links: { self: string; zip: string };
}
export interface Program { file: string; cutters: string[]; lines: number; time: { total_s: number } }
export interface CutterSet {
  cutters: string; chosen: boolean; time_s: number; left_round_mm: number; left_area_mm2: number;
  where: { part: string; x_mm: number; y_mm: number } | null;
}
export interface CutterChoice { reason: string; compared: CutterSet[] }
/** A place of a sheet that cutters keep out of; lengths as people or the service write them. */
export interface Kept {
  kind: "clamp" | "screw" | "cut"; x: Written; y: Written; width?: Written; height?: Written; diameter?: Written;
}
export interface KeptMm { kind: Kept["kind"]; x_mm: number; y_mm: number; width_mm: number; height_mm: number; diameter_mm: number }
export interface Sheet {
  parts: { mark: string; part: string; layer: string; copy: number; bounds_mm: [number, number, number, number]; matrix: [number, number, number, number, number, number] }[];
  summary: string; number: number; hold_down: string; cautions: string[];
  cutter_choice?: CutterChoice; floor_choice?: CutterChoice;
  programs: Program[]; tabs: Record<string, number>; operations: { kind: string; cutter: string; mark: string; depth_mm: number }[];
  stock: {
    key: string; material: string; thickness_mm: number; width_mm: number; height_mm: number;
    margin_mm: number; turned: boolean; keep_clear: KeptMm[];
  };
}
export interface Plan extends Result {
  proved: boolean; proof_summary: string; time_s: number; sheets: Sheet[]; shop?: { name: string };
  totals: { sheets: number; parts: number; unplaced: number; price: number | null };
}
export interface ProofSheet {
  sheet: number; passed: boolean; summary: string; faults: Fault[];
}
export interface Fault {
  number: number; code: string; severity: string; text: string; program: string | null; line: number | null;
  where_mm: [number, number] | null;
}
export interface Proof { summary: string; passed: boolean; sheets: ProofSheet[] }
export interface Progress { phase: string; share: number; step: number; steps: number }
export interface Job {
  id: string; kind: string; state: "queued" | "running" | "done" | "failed";
  progress?: Progress; problem?: ProblemFacts; links: { self: string; result: string };
}
export interface Mistake {
  message: string; code: string; field?: string; expected?: string; line?: number; column?: string;
}
export interface ProblemFacts {
  status: number; code: string; title: string; detail: string; field?: string; expected?: string;
  mistakes?: Mistake[];
}
export interface Template { key: string; name: string; about: string; titled: string; recipe: Recipe; links: { svg: string; self: string } }
export interface Font { key: string; kind: string; note: string; family: string; style: string; shipped: boolean }
export interface Material { key: string; name: string; kind: string; colour: string; grain: boolean; thicknesses_mm: number[]; cautions: string[] }
export interface Stock {
  key: string; material: string; thickness_mm: number; width_mm: number; height_mm: number; count: number;
  margin_mm: number; price: number; offcut: boolean; keep_clear?: KeptMm[];
}
export interface Cutter {
  key: string; name: string; kind: string; diameter_mm: number; flutes: number; cutting_length_mm: number;
  included_angle_deg: number; tip_diameter_mm: number;
}
export interface Machine {
  key: string; name: string; kind: string; bed_mm: [number, number]; max_feed_mm_per_min: number; units: string;
  zero: string; zero_xy: string; [habit: string]: unknown;
}
export interface ShopEntry { key: string; name: string; version: string; default: boolean; links: { self: string; default: string } }
/** A shop as its maker wrote it, as far as the page changes it. */
export interface ShopFile {
  title?: string; units?: "mm" | "inch"; machine?: string; cutters?: string[]; stock?: (string | Facts)[];
  catalogue?: Partial<Record<"cutters" | "stock" | "materials" | "machines", Record<string, Facts>>>; prices?: Facts;
  [more: string]: unknown;
}
export interface StoredShop extends ShopEntry { title: string; summary: string; shop: ShopFile }
/** What a plan or an order took out of the stock of a shop, and what is left of its sheets. */
export interface Commit {
  kind: "order" | "plan"; id: string; shop: string; undone_at: string | null;
  taken: { key: string; count: number; left: number }[];
  added: { key: string; material: string; thickness_mm: number; width_mm: number; height_mm: number; holes: number; links: { png: string } }[];
}
export interface Reply { number: number; kind: "yes" | "wish"; name: string; text: string; version: string; given_at: string }
export interface Offer {
  id: string; title: string; state: "open" | "agreed" | "ended" | "withdrawn"; price: number; currency: string;
  version: string; ends_at: string; replies: Reply[]; source: { kind: string; id: string };
  links: { self: string; pdf: string; withdraw: string }; changed?: string[];
}
export interface Estimate {
  summary: string; lines: number; copies: number; band_percent: number; not_made: Json[];
  materials: { material: string; thickness_mm: number; sheets: number; sheets_on_the_rack: number; enough: boolean }[];
  quote: { currency: string; total: number; machine_minutes: number; hand_minutes: number };
}
export interface Order {
  id: string; title: string; state: string; phase: string; line_count: number;
  progress: { share: number; tasks_done: number; tasks_total: number; remaining_s: number | null };
  line_states?: ("waiting" | "made" | "failed")[]; lost?: Record<string, Json>;
  summary?: string; proved?: boolean; files?: FileLink[]; links: { self: string; zip: string; again: string };
  problem?: ProblemFacts; lines?: Json[];
}
