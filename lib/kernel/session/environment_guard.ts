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
        throw new Deno.errors.NotCapable(`Requires env access to "${name}"`);
      },
    },
  });
  for (const key of ["set", "delete", "has", "toObject"] as const) {
    Object.defineProperty(guarded, key, { value: env[key].bind(env) });
  }
  Object.defineProperty(Deno, "env", { value: guarded });
}
