/** What an answer means, shown while it is typed: worked out after a pause, and dropped where something newer was begun. */
import { isRightBy } from "./questions.js";

const PAUSE_MS = 250;

/** @param {(isStale: () => boolean) => Promise<void>} work */
export function previewing(work) {
  /** @type {any} */
  let timer;
  let latest = 0;
  const now = () => {
    const mine = ++latest;
    return work(() => mine !== latest);
  };
  const stop = () => {
    clearTimeout(timer);
    latest += 1;
  };
  return {
    now, stop,
    soon() {
      clearTimeout(timer);
      timer = setTimeout(now, PAUSE_MS);
    },
    /**
     * Whether a question's answer is right. What is found wrong stays: a preview still under way knows nothing of a missing
     * answer and would wipe it away.
     * @param {import("./questions.js").Question} question @param {() => Promise<import("./types").Problem[]>} check  of the whole step
     */
    async isRight(question, check) {
      stop();
      const right = await isRightBy(question, check);
      if (right) now();
      return right;
    },
  };
}
