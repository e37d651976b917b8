// Bundles the phone app. Input: a folder with baked.json (from build.py); output: the same folder, ready to serve.
// Third-party code comes from node_modules and goes into the ignored build folder only.
import { build } from "esbuild";
import { createHash } from "node:crypto";
import { mkdirSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { brotliCompressSync, constants, gzipSync } from "node:zlib";
import { join } from "node:path";

const out = process.argv[2];
const baked = JSON.parse(readFileSync(join(out, "baked.json"), "utf8"));
const here = import.meta.dirname ?? new URL(".", import.meta.url).pathname;
mkdirSync(join(out, "a"), { recursive: true });

const named = (name, ending, content) => {
  const hash = createHash("sha256").update(content).digest("hex").slice(0, 12);
  writeFileSync(join(out, "a", `${name}-${hash}.${ending}`), content);
  return `/phone/a/${name}-${hash}.${ending}`;
};

const MICROPYTHON = "node_modules/@micropython/micropython-webassembly-pyscript/";
// Version 1.27.0 takes Android WebView ("Version/4.0" in its name) for a Safari that is too old and refuses to start.
const GATE = "if(currentSafariVersion<15e4)";
const gate = { name: "gate", setup: (b) => b.onLoad({ filter: /micropython\.mjs$/ }, ({ path }) => {
  const text = readFileSync(path, "utf8");
  if (text.split(GATE).length !== 2) throw new Error("micropython.mjs has changed: look at its Safari check again");
  return { contents: text.replace(GATE, "if(false)"), loader: "js" };
}) };

let assets = {};
const bakedModule = { name: "baked", setup: (b) => {
  b.onResolve({ filter: /^ashbook:baked$/ }, () => ({ path: "baked", namespace: "baked" }));
  b.onLoad({ filter: /.*/, namespace: "baked" }, () => ({ loader: "js", contents: [
    `export const DECLARATION = ${JSON.stringify(baked.declaration)};`, `export const WORDS = ${JSON.stringify(baked.words)};`,
    `export const CALCULATION = ${JSON.stringify(baked.calculation)};`, `export const ASSETS = ${JSON.stringify(assets)};`,
  ].join("\n") }));
} };

const bundled = async (file, more = {}) => (await build({
  entryPoints: [join(here, "js", file)], bundle: true, minify: true, format: "esm", platform: "browser", target: "es2022",
  external: ["module", "path", "url", "fs", "crypto"], write: false, absWorkingDir: here, plugins: [gate, bakedModule],
  legalComments: "none", logLevel: "warning", ...more,
})).outputFiles[0].contents;

assets = {
  calc_worker: named("calculation", "js", await bundled("calc_worker.js")),
  calc: named("calculation", "json", JSON.stringify(baked.files)),
  micropython: named("python", "wasm", readFileSync(join(here, MICROPYTHON, "micropython.wasm"))),
  scan_worker: named("scanner", "js", await bundled("scan_worker.js")),
  zxing: named("scanner", "wasm", readFileSync(join(here, "node_modules/zxing-wasm/dist/reader/zxing_reader.wasm"))),
};
const later = Object.values(assets);
const app = named("app", "js", await bundled("app.js"));
const css = named("app", "css", readFileSync(join(here, "../static/tokens.css"), "utf8") + readFileSync(join(here, "css/app.css"), "utf8"));
const icon = named("icon", "svg", readFileSync(join(here, "pages/icon.svg")));
const manifest = named("manifest", "webmanifest", JSON.stringify({
  name: "Ashbook", short_name: "Ashbook", start_url: "/phone/", scope: "/phone/", display: "standalone",
  background_color: "#f6f2e8", theme_color: "#1f3f77", icons: [{ src: icon, sizes: "any", type: "image/svg+xml", purpose: "any" }],
}));
const shell = baked.page.replaceAll("@APP@", app).replaceAll("@CSS@", css).replaceAll("@ICON@", icon).replaceAll("@MANIFEST@", manifest);
writeFileSync(join(out, "index.html"), shell);
const core = ["/phone/", app, css, icon, manifest];
const version = createHash("sha256").update(shell + JSON.stringify(later)).digest("hex").slice(0, 12);
writeFileSync(join(out, "sw.js"), await bundled("sw.js", { format: "iife", define: {
  VERSION: JSON.stringify(version), CORE: JSON.stringify(core), LATER: JSON.stringify(later) } }));

const sizes = {};
for (const name of ["index.html", "sw.js", ...readdirSync(join(out, "a")).map((entry) => `a/${entry}`)]) {
  if (/\.(br|gz)$/.test(name)) continue;
  const plain = readFileSync(join(out, name));
  const packed = brotliCompressSync(plain, { params: { [constants.BROTLI_PARAM_QUALITY]: 11, [constants.BROTLI_PARAM_SIZE_HINT]: plain.length } });
  writeFileSync(join(out, `${name}.br`), packed);
  writeFileSync(join(out, `${name}.gz`), gzipSync(plain, { level: 9 }));
  sizes[`/phone/${name}`.replace("index.html", "")] = packed.length;
}
const first = core.concat("/phone/sw.js").reduce((sum, name) => sum + sizes[name], 0);
writeFileSync(join(out, "sizes.json"), JSON.stringify({ version, core, later, sizes, first_visit_bytes: first }));
console.log(`first visit ${(first / 1000).toFixed(0)} kB packed, in the background ${(later.reduce((s, n) => s + sizes[n], 0) / 1000).toFixed(0)} kB`);
if (first > 200000) throw new Error("the first visit is larger than 200 kB packed");
