/** The photos of one field: take or choose one, see them small, take one out again. */
import { h, say } from "./dom.js";
import { keepPhoto, photoBytes } from "./photos.js";
import { t } from "./words.js";
/** @typedef {import("./types").Photo} Photo */

/**
 * @param {HTMLElement} box @param {import("./types").Field} field @param {Photo[]} given @param {() => void} onInput
 * @returns {{read: () => Photo[] | undefined, settled: () => Promise<void>}}  settled: no photo is on its way to the disk
 */
export function photoBox(box, field, given, onInput) {
  let listed = [...given];
  /** @type {Promise<void>} */
  let storing = Promise.resolve();
  const tiles = h("div", { class: "tiles" });
  const working = h("p", { class: "soft", role: "status", hidden: true, "data-testid": `photo-working-${field.name}` }, t("page.photo_working"));

  /** @param {File[]} files */
  const take = (files) => {
    working.hidden = false;
    storing = storing.then(async () => {
      for (const file of files) {
        if (listed.length >= field.longest) { say(t("page.photo_most", { most: field.longest })); break; }
        try {
          const photo = await keepPhoto(file);
          if (!listed.some((entry) => entry.sha256 === photo.sha256)) listed = [...listed, photo];
          onInput();
        } catch (problem) {
          say(t(/** @type {any} */ (problem).code ?? "page.photo_unreadable"));
        }
      }
      working.hidden = true;
      draw();
    });
  };
  /** @param {string} name @param {string} words @param {Record<string, any>} more */
  const door = (name, words, more) => {
    const input = h("input", { type: "file", accept: "image/*", hidden: true, tabIndex: -1, "aria-label": t(words), "data-testid": `${name}-${field.name}`, ...more,
      onchange: () => { take([...input.files]); input.value = ""; } });
    input.addEventListener("input", (/** @type {Event} */ event) => event.stopPropagation()); // it is stored first, then it is an input
    return [h("button", { type: "button", "data-testid": `${name}-photo-${field.name}`, onclick: () => input.click() }, t(words)), input];
  };

  function draw() {
    tiles.replaceChildren(...listed.map((photo, place) => {
      const alt = t("page.photo_alt", { n: place + 1, at: new Date(photo.taken_at).toLocaleString([], { dateStyle: "short", timeStyle: "short" }) });
      const picture = h("img", { alt, "data-testid": "photo-tile" });
      show(picture, photo.sha256, t("page.photo_elsewhere", { n: place + 1 }));
      return h("div", { class: "tile" }, picture, h("button", { type: "button", "data-testid": "photo-out", "aria-label": `${t("page.photo_out")}: ${alt}`,
        onclick: () => { listed = listed.filter((entry) => entry !== photo); draw(); onInput(); } }, t("page.photo_out")));
    }));
  }

  box.replaceChildren(tiles, working, h("div", { class: "doors" }, door("take", "page.photo_take", { capture: "environment" }), door("choose", "page.photo_choose", { multiple: true })));
  draw();
  return { read: () => (listed.length ? listed : undefined), settled: () => storing };
}

/** Draws a photo from this phone's own bytes, or else from the server's picture. @param {HTMLImageElement} picture @param {string} sha256 @param {string} absent */
async function show(picture, sha256, absent) {
  const bytes = await photoBytes(sha256).catch(() => undefined);
  picture.onerror = () => { picture.onerror = null; picture.alt = absent; };
  if (!bytes) { picture.src = `/sync/photos/${sha256}?size=small`; return; }
  const address = URL.createObjectURL(new Blob([bytes], { type: "image/jpeg" }));
  picture.onload = () => URL.revokeObjectURL(address);
  picture.src = address;
}
