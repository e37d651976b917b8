// Bundles the phone's own exchange (transport, outbox, store) for a page of the test: node protocol_page.mjs BAKED.json
// BAKED.json: what the build bakes into the app, with the paths of its assets. Writes the bundle to standard output.
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";

const phone = new URL("../../webform/phone/", import.meta.url);
const { build } = createRequire(new URL("package.json", phone))("esbuild");
const baked = JSON.parse(readFileSync(process.argv[2], "utf8"));
const entry = `
  import { heldChanges, newName, unsent, write } from "./js/outbox.js";
  import { asked, setMeta, transact, viewOf, viewsOfKind } from "./js/store.js";
  import { syncNow } from "./js/transport.js";
  import { canonical, remerge } from "./js/views.js";
  window.client = { asked, canonical, heldChanges, newName, remerge, setMeta, syncNow, transact, unsent, viewOf, viewsOfKind, write };
`;
const done = await build({
  stdin: { contents: entry, resolveDir: phone.pathname, loader: "js" }, bundle: true, format: "iife", target: "es2022", write: false,
  plugins: [{ name: "baked", setup: (b) => {
    b.onResolve({ filter: /^ashbook:baked$/ }, () => ({ path: "baked", namespace: "baked" }));
    b.onLoad({ filter: /.*/, namespace: "baked" }, () => ({ loader: "js",
      contents: Object.entries(baked).map(([name, value]) => `export const ${name} = ${JSON.stringify(value)};`).join("\n") }));
  } }],
});
process.stdout.write(done.outputFiles[0].text);
