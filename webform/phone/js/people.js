/** The PIN names who signs on a shared phone. */
/** @param {string} hex */
const bytes = (hex) => new Uint8Array((hex.match(/../g) ?? []).map((pair) => parseInt(pair, 16)));

/** Whether the PIN is this person's. @param {import("./types").View} person @param {string} pin @returns {Promise<boolean>} */
export async function checkPin(person, pin) {
  const held = person.fields.pin?.used;
  if (!held) return false;
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(pin), "PBKDF2", false, ["deriveBits"]);
  const derived = new Uint8Array(await crypto.subtle.deriveBits(
    { name: "PBKDF2", hash: "SHA-256", salt: bytes(held.salt), iterations: Number(held.rounds.n) }, key, 256));
  return [...derived].map((byte) => byte.toString(16).padStart(2, "0")).join("") === held.key;
}
