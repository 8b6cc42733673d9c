// Builds the page into the package's static files: one script, one style, one document.
// `node build.mjs FOLDER` builds elsewhere, to be compared.
import { copyFile, mkdir } from "node:fs/promises";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const here = dirname(fileURLToPath(import.meta.url));
const out = process.argv[2] ?? join(here, "../../service/letterply/api/static/page");

await mkdir(out, { recursive: true });
await build({
  absWorkingDir: here,
  entryPoints: { bench: "src/main.tsx", style: "src/style.css" },
  outdir: out,
  bundle: true,
  splitting: true, // a language that is asked for is fetched by itself
  chunkNames: "[name]",
  minify: true,
  format: "esm",
  target: "es2022",
  jsx: "automatic",
  jsxImportSource: "preact",
  legalComments: "none",
  charset: "utf8",
});
for (const name of ["index.html", "icon.svg"]) await copyFile(join(here, "src", name), join(out, name));
