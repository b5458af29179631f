/** How often the parent is looked for, in ms. */
const INTERVAL = 1000;

/** Process 1 adopts what loses its parent. */
const ADOPTER = 1;

/**
 * Calls back once when the process that started the kernel is gone, so that no
 * kernel outlives a server that was killed.
 *
 * @param parent Number of the process that started the kernel, read as early as
 * can be: it may die while the kernel starts.
 * @param gone Called when the parent is gone.
 * @returns Stops to watch.
 */
export function watchParent(parent: number, gone: () => void): () => void {
  const timer = setInterval(() => {
    const adopted = parent === ADOPTER &&
      Deno.env.get("JPY_PARENT_PID") !== String(ADOPTER);
    if (Deno.ppid === parent && !adopted) return;
    clearInterval(timer);
    gone();
  }, INTERVAL);
  return () => clearInterval(timer);
}
