/**
 * Makes `Deno.env.get` say that it is not allowed. The runtime is started so
 * that packages which look into the environment find nothing there (many do,
 * and would not load otherwise); a cell that asks by name gets a plain answer.
 */
export function installEnvironmentGuard(): void {
  const { env } = Deno;
  const get = env.get.bind(env);
  const guarded = Object.create(env, {
    get: {
      value: (name: string) => {
        const { state } = Deno.permissions.querySync({
          name: "env",
          variable: name,
        });
        if (state === "granted") return get(name);
        if (calledByRuntime()) return undefined;
        throw new Deno.errors.NotCapable(`Requires env access to "${name}"`);
      },
    },
  });
  for (const key of ["set", "delete", "has", "toObject"] as const) {
    Object.defineProperty(guarded, key, { value: env[key].bind(env) });
  }
  Object.defineProperty(Deno, "env", { value: guarded });
}

/** Whether `process.env` asks, which packages read freely. */
function calledByRuntime(): boolean {
  const holder = Error as unknown as { prepareStackTrace: unknown };
  const before = holder.prepareStackTrace;
  try {
    holder.prepareStackTrace = (
      _: Error,
      sites: { getScriptNameOrSourceURL(): string | null }[],
    ) => sites.map((site) => site.getScriptNameOrSourceURL() ?? "");
    // Frames: this function, the guard, and who called it.
    const frames = new Error().stack as unknown as string[];
    return frames[2]?.startsWith("ext:deno_node/") ?? false;
  } finally {
    holder.prepareStackTrace = before;
  }
}
