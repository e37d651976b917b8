/** Decodes one picture after another. It fetches nothing itself. */
import { prepareZXingModule, readBarcodes } from "zxing-wasm/reader";

/** @type {Promise<any>} */
let ready;
const canvas = new OffscreenCanvas(1, 1);

self.onmessage = async ({ data }) => {
  if (data.wasm) {
    ready = /** @type {any} */ (prepareZXingModule({ overrides: { wasmBinary: data.wasm }, fireImmediately: true }));
    await ready;
    self.postMessage({ text: null });
    return;
  }
  await ready;
  const { picture } = data;
  if (canvas.width !== picture.width || canvas.height !== picture.height) {
    canvas.width = picture.width;
    canvas.height = picture.height;
  }
  const pen = /** @type {OffscreenCanvasRenderingContext2D} */ (canvas.getContext("2d", { willReadFrequently: true }));
  pen.drawImage(picture, 0, 0);
  picture.close();
  const found = await readBarcodes(pen.getImageData(0, 0, canvas.width, canvas.height),
    { formats: ["QRCode"], maxNumberOfSymbols: 1, tryHarder: true });
  self.postMessage({ text: found[0]?.text ?? null });
};
