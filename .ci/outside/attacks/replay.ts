import { join } from "@std/path";
import { HostileKernel, inCell, inWorker } from "../hostile_kernel.ts";
import { check, demand } from "../tally.ts";
import {
  cache,
  folder,
  launcher,
  main,
  place,
  project,
  secret,
  secretText,
  startTrap,
} from "./place.ts";
import { attacks } from "./table.ts";

async function stateOutside(): Promise<string> {
  const names = async (path: string) => {
    const found: string[] = [];
    try {
      for await (const { name } of Deno.readDir(path)) found.push(name);
    } catch {
      return "none";
    }
    return found.sort().join(" ");
  };
  return JSON.stringify([
    await Deno.readTextFile(secret),
    await names(place),
    await names(join(cache, "location_data")),
    await names(project),
    (await Deno.stat(launcher)).mtime,
    (await Deno.stat(main)).mtime,
  ]);
}

export async function replay(): Promise<void> {
  const trap = startTrap();
  const proxy = `http://127.0.0.1:${trap.port}`;
  const env = { HTTPS_PROXY: proxy, HTTP_PROXY: proxy, https_proxy: proxy };
  const kernel = await HostileKernel.start({ folder, env });
  try {
    // What the kernel itself looks up when it starts is not the notebook's.
    await kernel.run("1");
    await new Promise((resolve) => setTimeout(resolve, 2000));
    const own = trap.hits;
    console.log(`  ${own} connections of the kernel itself at its start`);
    const before = await stateOutside();
    for (const { name, body, broken = () => null } of attacks) {
      for (
        const [where, code] of [
          ["in a cell", inCell(body)],
          ["in a worker", inWorker(body)],
        ]
      ) {
        await check(`held ${where}: ${name}`, async () => {
          const { text } = await kernel.run(code!);
          console.log(`  ${text.slice(0, 300).replaceAll("\n", " ")}`);
          const why = broken(text);
          demand(why === null, why ?? "");
          demand(!text.includes(secretText), "the secret was read");
          demand(
            await stateOutside() === before,
            `something outside has changed: ${await stateOutside()}, before: ${before}`,
          );
          demand(
            trap.hits === own,
            `${trap.hits - own} connections left the machine`,
          );
          const { text: alive } = await kernel.run("1 + 1");
          demand(alive.endsWith("2"), `the kernel is not well: ${alive}`);
        });
      }
    }
  } finally {
    await kernel.stop();
  }
  const before = trap.hits;
  await check(
    "the trap does see a package that the person allows",
    async () => {
      const granted = await HostileKernel.start({
        folder,
        env,
        flags: ["--allow-import=registry.npmjs.org"],
      });
      const { text } = await granted.run(
        `await import("npm:x-not-there@1.0.0")`,
      );
      await granted.stop();
      demand(trap.hits > before, `nobody came: ${text}`);
    },
  );
  trap.listener.close();
}
