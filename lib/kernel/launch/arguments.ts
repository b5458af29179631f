/** What the command line of a kernel process says. */
export interface KernelArguments {
  /** Path of the connection file. */
  readonly connectionFile: string;
  /** Deno permission flags granted at install time. */
  readonly grants: readonly string[];
  /** Limit of the session's heap, in bytes; `null` for the default. */
  readonly memoryLimit: number | null;
}

/** Permission flags of Deno that an install may grant. */
const GRANT = /^--allow-(read|write|net|env|run|ffi|sys|import)(=.+)?$/;

/** Whether the text is a permission flag that an install may grant. */
export function isGrant(text: string): boolean {
  return GRANT.test(text);
}

/**
 * @param text Size in MiB, as on the command line.
 * @returns The size in bytes.
 * @throws {RangeError} If it is not a number of at least 64.
 */
export function parseMemoryLimit(text: string): number {
  const size = Number(text);
  if (!(size >= 64 && Number.isFinite(size))) {
    throw new RangeError(
      `Cannot limit the memory as '--memory-limit' must be a number of MiB, at least 64: current value is ${text}`,
    );
  }
  return Math.round(size * 1024 * 1024);
}

/**
 * @param args Command line of a kernel process.
 * @returns What it says.
 * @throws {TypeError} If there is no connection file, or an unknown flag.
 */
export function parseKernelArguments(args: readonly string[]): KernelArguments {
  const grants: string[] = [];
  const files: string[] = [];
  let memoryLimit: number | null = null;
  for (const arg of args) {
    if (isGrant(arg)) grants.push(arg);
    else if (arg.startsWith("--memory-limit=")) {
      memoryLimit = parseMemoryLimit(arg.slice("--memory-limit=".length));
    } else if (arg.startsWith("-")) {
      throw new TypeError(`Cannot start the kernel as '${arg}' is not known`);
    } else files.push(arg);
  }
  const [connectionFile] = files;
  if (connectionFile === undefined || files.length > 1) {
    throw new TypeError(
      `Cannot start the kernel as it needs one connection file: ${files.length} are given. Notebook servers and consoles give it`,
    );
  }
  return { connectionFile, grants, memoryLimit };
}
