import { join } from "@std/path";
import { HostileKernel } from "../hostile_kernel.ts";
import { oneCellNotebook } from "../one_cell.ts";
import { check, demand } from "../tally.ts";
import { launcher, place, project, secret, secretText } from "./place.ts";

/** A folder that arrives with links. */
export async function arriving(): Promise<void> {
  const arrived = join(place, "arrived");
  await Deno.mkdir(join(arrived, "deep"), { recursive: true });
  await Deno.writeTextFile(
    join(arrived, "a.ipynb"),
    oneCellNotebook("1 + 1"),
  );
  const links: [string, string][] = [
    ["data", secret],
    ["deep/folder", place],
    ["deep/new", join(place, "not-there-yet.txt")],
    [".hidden", launcher],
  ];
  for (const [name, target] of links) {
    await Deno.symlink(target, join(arrived, name));
  }
  await check("held: a folder that arrives with links, in a cell", async () => {
    const kernel = await HostileKernel.start({ folder: arrived });
    const { text, status } = await kernel.run(
      `await Deno.readTextFile("data")`,
    );
    await kernel.stop();
    demand(status === "error", "the cell ran");
    for (const [name] of links) demand(text.includes(name), `${name}: ${text}`);
    demand(!text.includes(secretText), "the secret was read");
  });
  await check("held: the same in 'deno task run', with the names", async () => {
    const { code, stdout, stderr } = await new Deno.Command(Deno.execPath(), {
      args: ["task", "--quiet", "run", join(arrived, "a.ipynb")],
      cwd: project,
    }).output();
    const text = new TextDecoder().decode(stdout) +
      new TextDecoder().decode(stderr);
    demand(code !== 0, "it ran well");
    for (const [name] of links) demand(text.includes(name), `${name}: ${text}`);
  });
  await check("a link to what the person allows is followed", async () => {
    const kernel = await HostileKernel.start({
      folder: arrived,
      flags: [`--allow-read=${place},${project}`],
    });
    const { text } = await kernel.run(`await Deno.readTextFile("data")`);
    const { text: written } = await kernel.run(
      `await Deno.writeTextFile("data", "changed").then(() => "written", (e) => e.name)`,
    );
    await kernel.stop();
    demand(text.includes(secretText), text);
    demand(!written.includes("written"), "and written, too");
    demand(await Deno.readTextFile(secret) === secretText, "it was changed");
  });
}
