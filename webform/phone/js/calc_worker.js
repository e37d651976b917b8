/** Runs the shared Python in MicroPython. Requests wait until it has started; "dead" is said where it cannot start. */
import { loadMicroPython } from "@micropython/micropython-webassembly-pyscript/micropython.mjs";

/** @type {Promise<(text: string) => string> | null} */
let started = null;

/** @param {{micropython: string, calc: string, words: Record<string, string>}} given */
async function start(given) {
  const files = await (await fetch(given.calc)).json();
  const python = await loadMicroPython({ url: new URL(given.micropython, self.location.href).href, heapsize: 4 << 20, pystack: 8192 });
  const made = new Set();
  /** @param {string} path */
  const folder = (path) => { if (!made.has(path)) { made.add(path); try { python.FS.mkdir(path); } catch { /* there already */ } } };
  folder("/lib");
  for (const [name, text] of Object.entries(files)) {
    let path = "/lib";
    for (const part of name.split("/").slice(0, -1)) folder(path += `/${part}`);
    python.FS.writeFile(`/lib/${name}`, text);
  }
  python.runPython(`from webform.checklist.calls import call as _call
_kept = None
def call(text):
    global _kept  # the collector must not take it before it has been read
    _kept = _call(text)
    return _kept`);
  const call = python.globals.get("call");
  call(JSON.stringify({ op: "words", catalogue: given.words }));
  return call;
}

self.onmessage = async ({ data }) => {
  if (data.id === 0) {
    started = start(data);
    started.catch((problem) => self.postMessage({ dead: String(problem) }));
    return;
  }
  try {
    const call = await /** @type {Promise<(text: string) => string>} */ (started);
    self.postMessage({ id: data.id, answer: JSON.parse(call(JSON.stringify(data.request))) });
  } catch (problem) {
    self.postMessage({ id: data.id, answer: { ok: false, error: { code: "calc.failed", text: String(problem) } } });
  }
};
