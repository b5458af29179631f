/** Fetches what a module needs into the dependency cache. */
export type PackageFetcher = (name: string) => Promise<void>;

let fetcher: PackageFetcher | null = null;

/**
 * Sets who fetches packages for this process, where it may not do so itself.
 *
 * @param next The fetcher; `null` for none.
 */
export function setPackageFetcher(next: PackageFetcher | null): void {
  fetcher = next;
}

/** Whether somebody fetches packages for this process: it is a session. */
export function hasPackageFetcher(): boolean {
  return fetcher !== null;
}

/**
 * Imports a module; where its packages are not in the dependency cache and this
 * process may not fetch them, has them fetched and imports it then.
 *
 * @param name The name in the import map.
 * @param load Imports it.
 * @returns The module.
 * @throws {TypeError} If its packages are not there and cannot be fetched.
 */
export async function importFetched<T>(
  name: string,
  load: () => Promise<T>,
): Promise<T> {
  try {
    return await load();
  } catch (error) {
    if (fetcher === null || !isNotCached(error)) throw error;
    await fetcher(name);
    return await load();
  }
}

function isNotCached(error: unknown): boolean {
  return error instanceof Error &&
    error.message.includes("--cached-only is specified");
}
