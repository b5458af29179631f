/** How often the parent is looked for, in ms. */
const INTERVAL = 1000;

/**
 * Calls back once when the process that started the kernel is gone, so that no
 * kernel outlives a server that was killed.
 *
 * @param gone Called when the parent is gone.
 * @returns Stops to watch.
 */
export function watchParent(gone: () => void): () => void {
  const parent = Deno.ppid;
  const timer = setInterval(() => {
    if (Deno.ppid === parent) return;
    clearInterval(timer);
    gone();
  }, INTERVAL);
  return () => clearInterval(timer);
}
