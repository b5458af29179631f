/**
 * `deno task kernel`: installs the kernel where Jupyter finds it.
 *
 * @module
 */
import { parseArgs } from "node:util";
import { join, resolve } from "@std/path";
import {
  createKernelspec,
  fetchDependencies,
  installKernelspec,
  jupyterPath,
  type Kernelspec,
  kernelspecFolder,
  pythonPrefix,
  stableDenoPath,
  uninstallKernelspec,
  userDataFolder,
} from "../kernel/install/mod.ts";
import { isGrant, parseMemoryLimit } from "../kernel/launch/mod.ts";

const HELP = `Installs the Fringebook kernel for Jupyter.

  deno task kernel [place] [options]

Place (one of):
  --user               for this user (default; honours JUPYTER_DATA_DIR)
  --sys-prefix         in the active Python environment
  --prefix FOLDER      in FOLDER/share/jupyter, such as /usr/local for all users

Options:
  --name NAME          name of the kernel (default: fringebook)
  --display-name TEXT  name in lists (default: Fringebook (Deno))
  --env NAME=VALUE     environment variable of the kernel; may be repeated
  --memory-limit MIB   limit of a session's memory
  --allow-net=HOST …   permission for all notebooks of this kernel, as Deno's
                       flags: read, write, net, env, run, ffi, sys, import
  --deno PATH          Deno to use
  --force              replace a kernel of that name
  --uninstall          remove it
  --print              print what would be written, and where
  --help               this text`;

interface Choice {
  readonly dataFolder: string;
  readonly name: string;
  readonly spec: Kernelspec;
}

function environment(pairs: readonly string[]): Record<string, string> {
  return Object.fromEntries(pairs.map((pair) => {
    const [name = "", value] = pair.split(/=(.*)/s);
    if (name === "" || value === undefined) {
      throw new TypeError(
        `Cannot set a variable as '--env' must be NAME=VALUE: current value is ${pair}`,
      );
    }
    return [name, value];
  }));
}

function readArguments(args: readonly string[]) {
  const grants = args.filter(isGrant);
  const { values } = parseArgs({
    args: args.filter((arg) => !isGrant(arg)),
    options: {
      user: { type: "boolean" },
      "sys-prefix": { type: "boolean" },
      prefix: { type: "string" },
      name: { type: "string" },
      "display-name": { type: "string" },
      env: { type: "string", multiple: true },
      "memory-limit": { type: "string" },
      deno: { type: "string" },
      force: { type: "boolean", default: false },
      uninstall: { type: "boolean" },
      print: { type: "boolean" },
      help: { type: "boolean" },
    },
  });
  const places = [values.user, values["sys-prefix"], values.prefix]
    .filter((place) => place !== undefined && place !== false);
  if (places.length > 1) {
    throw new TypeError(
      "Cannot install the kernel in several places at once: give one of --user, --sys-prefix and --prefix",
    );
  }
  return { ...values, grants };
}

type Arguments = ReturnType<typeof readArguments>;

async function dataFolderOf(args: Arguments): Promise<string> {
  if (args.prefix !== undefined) {
    return join(resolve(args.prefix), "share", "jupyter");
  }
  if (!args["sys-prefix"]) return userDataFolder();
  const prefix = await pythonPrefix();
  if (prefix === null) {
    throw new Error(
      "Cannot find the Python environment as there is no Python. Give its folder with --prefix",
    );
  }
  return join(prefix, "share", "jupyter");
}

async function choose(args: Arguments): Promise<Choice> {
  const limit = args["memory-limit"];
  if (limit !== undefined) parseMemoryLimit(limit);
  return {
    dataFolder: await dataFolderOf(args),
    name: args.name ?? "fringebook",
    spec: createKernelspec({
      denoPath: args.deno ?? await stableDenoPath(),
      ...(args["display-name"] !== undefined &&
        { displayName: args["display-name"] }),
      grants: args.grants,
      memoryLimit: limit === undefined ? null : Number(limit),
      env: environment(args.env ?? []),
    }),
  };
}

/** Says so where Jupyter would not find the kernel there. */
async function warnIfHidden({ dataFolder, name }: Choice): Promise<void> {
  const folder = kernelspecFolder(dataFolder, name);
  const places = jupyterPath(await pythonPrefix());
  for (const place of places) {
    if (place === dataFolder) return;
    const other = kernelspecFolder(place, name);
    const isThere = await Deno.stat(other).then(() => true, () => false);
    if (isThere) {
      console.error(`Note: Jupyter finds '${other}' before '${folder}'`);
    }
  }
  console.error(
    `Note: Jupyter does not look in '${dataFolder}' by itself: add it to JUPYTER_PATH, or use the Jupyter of that prefix`,
  );
}

/** Says so where the Deno that runs now may be cleared away. */
function noteFleetingDeno({ argv: [deno = ""] }: Kernelspec): void {
  if (!/[\\/]_npx[\\/]/.test(deno)) return;
  console.error(
    `Note: the kernel uses the Deno in npm's cache, '${deno}'. Should that be cleared, install again with --force, or give a lasting one with --deno`,
  );
}

/** Fetches packages now; says so where that fails, as it may be done later. */
async function fetchPackages({ argv, env }: Kernelspec): Promise<void> {
  const problem = await fetchDependencies(argv[0] ?? Deno.execPath(), env);
  if (problem !== null) {
    console.error(
      `Note: the packages of the kernel could not all be fetched; it tries again at its start:\n${problem}`,
    );
  }
}

/**
 * Does what the command line says.
 *
 * @param args The command line.
 * @returns The exit code: 0 done, 1 not done, 2 wrong command line.
 */
export async function main(args: readonly string[]): Promise<number> {
  let given: Arguments;
  let choice: Choice;
  try {
    given = readArguments(args);
    if (given.help) {
      console.log(HELP);
      return 0;
    }
    choice = await choose(given);
    kernelspecFolder(choice.dataFolder, choice.name);
  } catch (error) {
    console.error(`${(error as Error).message}. See --help`);
    return 2;
  }
  const { dataFolder, name, spec } = choice;
  try {
    if (given.print) {
      console.log(kernelspecFolder(dataFolder, name));
      console.log(JSON.stringify(spec, null, 2));
    } else if (given.uninstall) {
      console.log(`Removed ${await uninstallKernelspec(dataFolder, name)}`);
    } else {
      const { force = false } = given;
      const folder = await installKernelspec(spec, { dataFolder, name, force });
      console.log(`Installed ${folder}`);
      noteFleetingDeno(spec);
      await warnIfHidden(choice);
      await fetchPackages(spec);
    }
    return 0;
  } catch (error) {
    console.error((error as Error).message);
    return 1;
  }
}

if (import.meta.main) Deno.exit(await main(Deno.args));
