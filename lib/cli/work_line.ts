import {
  expectedWork,
  expectWork,
  setCheckpointHandler,
} from "../progress/mod.ts";

/**
 * Tells what the library does, how far it is and how long it will take still,
 * from the second second of a work on, some three times a second.
 *
 * @param name What is worked on, such as the name of a file.
 * @param tell Told in words.
 * @returns Stops.
 */
export function followWork(
  name: string,
  tell: (text: string) => void,
): () => void {
  expectWork(null);
  const started = performance.now();
  let current = "";
  let since = started;
  let shownAt = -Infinity;
  let reached = NaN;
  const before = setCheckpointHandler((fraction, work) => {
    before?.(fraction, work);
    const now = performance.now();
    // One without a name is part of the work around it.
    if (work !== "") {
      if (work !== current) [current, since] = [work, now];
      reached = fraction;
    }
    if (now - started < 1000 || now - shownAt < 300) return;
    shownAt = now;
    const expected = expectedWork();
    const done = workText(name, current, reached, (now - since) / 1000);
    tell(expected === null ? done : `${done} (${expected})`);
  });
  return () => setCheckpointHandler(before);
}

/**
 * One line of progress.
 *
 * @param name What is worked on.
 * @param work Name of the work.
 * @param fraction Part done, 0 to 1; `NaN` if unknown.
 * @param elapsed Time since this work began, in s.
 * @returns Such as `"a.wav: unwrap phase 40 %, 3 s left"`.
 */
export function workText(
  name: string,
  work: string,
  fraction: number,
  elapsed: number,
): string {
  const part = Number.isFinite(fraction)
    ? ` ${Math.floor(100 * fraction)} %`
    : "";
  const left = fraction > 0.02 && elapsed > 0.5
    ? `, ${Math.ceil(elapsed * (1 - fraction) / fraction)} s left`
    : "";
  return `${name}: ${work || "working"}${part}${left}`.slice(0, 100);
}
