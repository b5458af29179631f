/**
 * `deno task pack`: a package for npm, for all that needs no Deno: what the
 * doors load, compiled, with types, and with the names of the registry in place
 * of those of the import map.
 *
 * Exit codes: 0 packed, 1 not, 2 wrong arguments.
 *
 * @module
 */
import { dirname, fromFileUrl, join, resolve } from "@std/path";
import config from "../../deno.json" with { type: "json" };
import { registryNames } from "./pack/registry_names.ts";
import { reachable } from "./pack/reachable.ts";
import {
  flagHelp,
  readFlags,
  runTask,
  type Task,
  textFlag,
  UsageError,
} from "./task/mod.ts";

const root = fromFileUrl(new URL("../../", import.meta.url));

/** Doors behind which everything runs on Deno. */
const denoDoors = new Set(["./kernel", "./notebook"]);

const flags = {
  "output": textFlag("The package.", "FILE", "out/fringebook-VERSION.tgz"),
} as const;

/** What `deno pack` writes into `package.json`, as far as it is read here. */
interface PackageFile {
  readonly version: string;
  readonly exports: Readonly<Record<string, Readonly<Record<string, string>>>>;
  readonly dependencies: Readonly<Record<string, string>>;
}

async function run(command: string, ...args: string[]): Promise<void> {
  const { code, stderr } = await new Deno.Command(command, {
    args,
    cwd: root,
    stdout: "null",
    stderr: "piped",
  }).output();
  if (code !== 0) {
    throw new Error(
      `${command} ${args[0]}: ${new TextDecoder().decode(stderr).trim()}`,
    );
  }
}

/** Versions as in the import map: those that this was tested with. */
function testedVersions(names: Iterable<string>): Record<string, string> {
  const targets = Object.values(config.imports).join("\n");
  return Object.fromEntries(
    [...names].sort().map((name) => {
      const found = new RegExp(`npm:/?${name.replace("/", "\\/")}@([^/\\s]+)`);
      return [name, found.exec(targets)?.[1] ?? "*"];
    }),
  );
}

async function pack(given: readonly string[]): Promise<number> {
  const { values, rest } = readFlags(flags, given, { task: "pack" });
  if (rest.length > 0) {
    throw new UsageError(`Cannot pack '${rest[0]}': nothing is taken`);
  }
  const place = await Deno.makeTempDir();
  try {
    const raw = join(place, "raw.tgz");
    await run(
      Deno.execPath(),
      ...["pack", "--allow-dirty", "--no-source-maps", "--output", raw],
    );
    await run("tar", "-xzf", raw, "-C", place);
    const folder = join(place, "package");
    const file = join(folder, "package.json");
    const made = JSON.parse(await Deno.readTextFile(file)) as PackageFile;
    const exports = Object.fromEntries(
      Object.entries(made.exports).filter(([door]) => !denoDoors.has(door)),
    );
    const kept = await reachable(
      folder,
      Object.values(exports).flatMap((door) => Object.values(door)),
    );
    const names = new Set<string>();
    for (const path of kept.files) {
      const text = await Deno.readTextFile(path);
      const { text: renamed, packages } = registryNames(text, config.imports);
      if (renamed !== text) await Deno.writeTextFile(path, renamed);
      for (const name of packages) names.add(name);
    }
    await kept.removeOthers();
    await Deno.writeTextFile(
      file,
      JSON.stringify(
        {
          ...made,
          description: "Self-mixing interferometry: captures to numbers",
          engines: { node: ">=22" },
          exports,
          dependencies: testedVersions(names),
        },
        null,
        2,
      ),
    );
    const output = resolve(
      values.output ?? join(root, "out", `fringebook-${made.version}.tgz`),
    );
    await Deno.mkdir(dirname(output), { recursive: true });
    await run("tar", "-czf", output, "-C", place, "package");
    const { size } = await Deno.stat(output);
    console.log(
      `${output}: ${kept.files.length} files, ${(size / 1e6).toFixed(1)} MB, ${
        Object.keys(exports).length
      } doors, ${names.size} dependencies`,
    );
    return 0;
  } finally {
    await Deno.remove(place, { recursive: true });
  }
}

/** The task. */
export const task: Task = {
  name: "pack",
  help: `deno task pack [options]

Makes a package for npm of all that needs no Deno, with its types.

${flagHelp(flags)}

Exit codes: 0 packed, 1 not, 2 wrong arguments.`,
  run: pack,
};

if (import.meta.main) await runTask(task);
