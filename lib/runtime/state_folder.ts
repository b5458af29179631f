/**
 * The platform's folder for what programs keep between runs, with a part of our
 * own.
 *
 * @param env Environment variables.
 * @param os The platform.
 * @returns A folder, or `null` where the person has no home.
 */
export function stateFolder(
  env: (name: string) => string | undefined = (name) => Deno.env.get(name),
  os: typeof Deno.build.os = Deno.build.os,
): string | null {
  const home = env("HOME");
  if (os === "windows") {
    const local = env("LOCALAPPDATA");
    return local === undefined ? null : `${local}/fringebook`;
  }
  if (os === "darwin") {
    return home === undefined
      ? null
      : `${home}/Library/Application Support/fringebook`;
  }
  const state = env("XDG_STATE_HOME") ||
    (home === undefined ? undefined : `${home}/.local/state`);
  return state === undefined ? null : `${state}/fringebook`;
}
