/** The service worker: registered at start; a newer app waits until a person taps, never in the middle of a form. */
const AGAIN_MS = 10000;

/** @param {(apply: () => void) => void} onWaiting called when a newer app is ready */
export async function watchUpdates(onWaiting) {
  if (!navigator.serviceWorker) return;
  let isWanted = false;
  let wasControlled = Boolean(navigator.serviceWorker.controller);
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (isWanted) { isWanted = false; location.reload(); }
    else if (wasControlled) onWaiting(() => location.reload()); // another tab has let the newer app in: this one is old now
    wasControlled = true;
  });
  const registration = await navigator.serviceWorker.register("/phone/sw.js", { scope: "/phone/", updateViaCache: "none" });
  const offer = () => {
    const newer = registration.waiting;
    if (newer && navigator.serviceWorker.controller) onWaiting(() => { isWanted = true; newer.postMessage("take over"); });
  };
  registration.addEventListener("updatefound", () => registration.installing?.addEventListener("statechange", offer));
  offer();
  const ready = await navigator.serviceWorker.ready;
  const rest = () => ready.active?.postMessage("fetch the rest"); // again and again: a cut must not end it for good
  rest();
  setInterval(rest, AGAIN_MS);
}
