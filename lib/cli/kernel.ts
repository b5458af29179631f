/**
 * `deno task kernel`: installs the kernel where Jupyter finds it.
 *
 * @module
 */
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
import {
  flagHelp,
  inColumns,
  loneFlag,
  manyFlag,
  performTask,
  readFlags,
  type Task,
  textFlag,
  UsageError,
} from "./task/mod.ts";

const flags = {
  "user": loneFlag("For this user (the default); honours JUPYTER_DATA_DIR."),
  "sys-prefix": loneFlag("In the active Python environment."),
  "prefix": textFlag(
    "In FOLDER/share/jupyter, such as /usr/local for all users.",
    "FOLDER",
  ),
  "name": textFlag("Name of the kernel.", "NAME", "fringebook"),
  "display-name": textFlag("Name in lists.", "TEXT", "Fringebook (Deno)"),
  "env": manyFlag(
    "Environment variable of the kernel; may be repeated.",
    "NAME=VALUE",
  ),
  "memory-limit": textFlag("Limit of a session's memory, in MiB.", "MIB"),
  "deno": textFlag("Deno to use.", "PATH", "the one that runs now"),
  "force": loneFlag("Replace a kernel of that name."),
  "uninstall": loneFlag("Remove it."),
  "print": loneFlag("Print what would be written, and where."),
} as const;

const help = `deno task kernel [place] [options]

Installs the Fringebook kernel for Jupyter; the place is one of --user,
--sys-prefix and --prefix.

${flagHelp(flags)}
${
  inColumns(
    "  --allow-net=HOST …",
    "Permission for all notebooks of this kernel, as Deno's flags: read, write, net, env, run, ffi, sys, import.",
  )
}

Exit codes: 0 done, 1 not done, 2 wrong arguments.`;

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

function readArguments(given: readonly string[]) {
  const grants = given.filter(isGrant);
  const { values, rest } = readFlags(
    flags,
    given.filter((word) => !isGrant(word)),
    { task: "install the kernel" },
  );
  if (rest.length > 0) {
    throw new UsageError(
      `Cannot install the kernel with '${rest[0]}': it takes options only`,
    );
  }
  const places = [values.user, values["sys-prefix"], values.prefix]
    .filter((place) => place !== undefined);
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
  const dataFolder = await dataFolderOf(args);
  const name = args.name ?? "fringebook";
  kernelspecFolder(dataFolder, name);
  return {
    dataFolder,
    name,
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

/** What cannot be chosen was given wrongly. */
async function asGiven<T>(work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (error) {
    throw new UsageError((error as Error).message);
  }
}

/**
 * Does what the command line says.
 *
 * @param args The command line.
 * @returns The exit code: 0 done, 1 not done.
 */
async function install(args: readonly string[]): Promise<number> {
  const given = readArguments(args);
  const choice = await asGiven(() => choose(given));
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

/** The task. */
export const task: Task = { name: "kernel", help, run: install };

if (import.meta.main) Deno.exit(await performTask(task, Deno.args));
