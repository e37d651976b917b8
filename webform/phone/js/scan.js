/** Reads a QR code with the camera, offline. The page fetches the decoder and hands it to the worker. */
import { ASSETS } from "ashbook:baked";

/**
 * @param {HTMLVideoElement} video @param {(text: string) => void} onText @param {(code: string) => void} onProblem
 * @returns {() => void} stops the camera
 */
export function startScan(video, onText, onProblem) {
  let isStopped = false;
  /** @type {MediaStream | null} */
  let stream = null;
  /** @type {Worker | null} */
  let worker = null;
  const stop = () => {
    isStopped = true;
    stream?.getTracks().forEach((track) => track.stop());
    worker?.terminate();
    video.srcObject = null;
  };
  (async () => {
    if (!navigator.mediaDevices?.getUserMedia) throw Object.assign(new Error(), { code: "page.scan_no_camera" });
    stream = await navigator.mediaDevices.getUserMedia({
      audio: false, video: { facingMode: "environment", width: { ideal: 1280 }, height: { ideal: 720 } } });
    if (isStopped) { stop(); return; }
    video.srcObject = stream;
    await video.play();
    const wasm = await (await fetch(ASSETS.zxing)).arrayBuffer();
    worker = new Worker(ASSETS.scan_worker, { type: "module" });
    const frame = async () => {
      if (isStopped || !worker) return;
      if (video.readyState < 2) { requestAnimationFrame(frame); return; }
      const picture = await createImageBitmap(video);
      worker.postMessage({ picture }, [picture]);
    };
    worker.onmessage = ({ data }) => {
      if (isStopped) return;
      if (data.text) { stop(); onText(data.text); } else requestAnimationFrame(frame);
    };
    worker.onerror = () => { stop(); onProblem("page.scan_failed"); };
    worker.postMessage({ wasm }, [wasm]);
  })().catch((problem) => {
    stop();
    onProblem(typeof problem.code === "string" ? problem.code : (problem.name === "NotAllowedError" ? "page.scan_denied" : "page.scan_no_camera"));
  });
  return stop;
}
