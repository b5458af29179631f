/** Where the attacks take place, and what they are after. */
import { join } from "@std/path";
import { dependencyCache } from "../../../lib/kernel/session/dependency_cache.ts";

export const project = new URL("../../../", import.meta.url).pathname.replace(
  /\/$/,
  "",
);
export const launcher = join(project, "lib/kernel/confine/launcher.ts");
export const main = join(project, "lib/kernel/launch/main.ts");
export const cache = dependencyCache();
export const secretText = "the secret of another folder";

export const place = await Deno.makeTempDir({ prefix: "fringebook-attacks-" });
export const folder = join(place, "notebook");
export const secret = join(place, "secret.txt");
await Deno.mkdir(folder);
await Deno.writeTextFile(secret, secretText);

/** Counts who connects: a proxy that all requests would have to pass. */
export function startTrap() {
  const listener = Deno.listen({ hostname: "127.0.0.1", port: 0 });
  const trap = { port: listener.addr.port, hits: 0, listener };
  void (async () => {
    for await (const connection of listener) {
      trap.hits++;
      connection.close();
    }
  })().catch(() => {});
  return trap;
}

export const secretPath = JSON.stringify(secret);
