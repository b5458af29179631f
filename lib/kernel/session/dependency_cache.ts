import { join } from "@std/path";

/** The folder in which the runtime keeps the packages it has loaded. */
export function dependencyCache(): string {
  const env = (name: string) => Deno.env.get(name) || null;
  const given = env("DENO_DIR");
  if (given) return given;
  const home = env("HOME") ?? env("USERPROFILE") ?? ".";
  switch (Deno.build.os) {
    case "darwin":
      return join(home, "Library", "Caches", "deno");
    case "windows":
      return join(
        env("LOCALAPPDATA") ?? join(home, "AppData", "Local"),
        "deno",
      );
    default:
      return join(env("XDG_CACHE_HOME") ?? join(home, ".cache"), "deno");
  }
}
