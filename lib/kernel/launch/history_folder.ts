/**
 * Where the history of all sessions is kept: `FRINGEBOOK_HISTORY` where it is
 * set (`off` for nowhere), else the platform's folder for the state of programs.
 *
 * @param env Environment variables.
 * @param os The platform.
 * @returns A folder, or `null` for nowhere.
 */
export function historyFolder(
  env: (name: string) => string | undefined = (name) => Deno.env.get(name),
  os: typeof Deno.build.os = Deno.build.os,
): string | null {
  const chosen = env("FRINGEBOOK_HISTORY");
  if (chosen === "off") return null;
  if (chosen !== undefined && chosen !== "") return chosen;
  const home = env("HOME");
  if (os === "windows") {
    const local = env("LOCALAPPDATA");
    return local === undefined ? null : `${local}/fringebook/history`;
  }
  if (os === "darwin") {
    return home === undefined
      ? null
      : `${home}/Library/Application Support/fringebook/history`;
  }
  const state = env("XDG_STATE_HOME") ||
    (home === undefined ? undefined : `${home}/.local/state`);
  return state === undefined ? null : `${state}/fringebook/history`;
}
