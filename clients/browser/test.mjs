// Bundles what can be tried without a browser, and tries it.
import { spawnSync } from "node:child_process";
import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const here = dirname(fileURLToPath(import.meta.url));
const folder = await mkdtemp(join(tmpdir(), "bench-page-"));
const bundle = join(folder, "page.test.mjs");
await build({
  absWorkingDir: here,
  entryPoints: ["tests/page.test.ts"],
  outfile: bundle,
  bundle: true,
  platform: "node",
  format: "esm",
  banner: { js: "globalThis.location = { search: '' };" }, // where the words look for a language
  logLevel: "error",
});
const ran = spawnSync(process.execPath, ["--test", bundle], { stdio: "inherit" });
await rm(folder, { recursive: true });
process.exit(ran.status ?? 1);
