// Bundles the page's scripts into one folder; called when the wheel is built.
import { build } from "esbuild";

const outdir = process.argv[2] ?? "../src/seatwright/web/static/scripts";

await build({
  entryPoints: ["src/page.ts", "src/surfaces.ts", "src/waiting.ts"],
  outdir,
  bundle: true,
  splitting: true,
  format: "esm",
  target: ["es2022"],
  minify: true,
  legalComments: "linked",
  logLevel: "warning",
});
