// Runs requests through the phone's Python interpreter in Node. Reads {"files": {path: source}, "setup": python text that
// defines call(text), "requests": [text]} as JSON on stdin; writes {"answers": [text], "milliseconds": [number]}.
// Usage: node node_run.mjs FOLDER-OF-THE-RUNTIME
import {readFileSync} from 'node:fs';
import {pathToFileURL} from 'node:url';

const folder = process.argv[2];
const {loadMicroPython} = await import(pathToFileURL(folder + '/micropython.mjs').href);
const {files, setup, requests} = JSON.parse(readFileSync(0, 'utf8'));
const python = await loadMicroPython({url: folder + '/micropython.wasm', heapsize: 2 << 20, pystack: 4096});

for (const [path, source] of Object.entries(files)) {
  let at = '/lib';
  for (const part of ['', ...path.split('/').slice(0, -1)]) {
    at = part ? at + '/' + part : at;
    if (!python.FS.analyzePath(at).exists) python.FS.mkdir(at);
  }
  python.FS.writeFile('/lib/' + path, source);
}
// The answer stays referenced in Python until it has been read here.
python.runPython(setup + '\n_answer = None\ndef kept(text):\n    global _answer\n    _answer = call(text)\n    return _answer\n');
const kept = python.globals.get('kept');
const answers = [], milliseconds = [];
for (const request of requests) {
  const start = performance.now();
  answers.push(kept(request));
  milliseconds.push(performance.now() - start);
}
process.stdout.write(JSON.stringify({answers, milliseconds}));
