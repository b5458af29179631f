/** Most memory this process has held, in bytes; `NaN` where not known. */
export function peakMemory(): number {
  return statusValue("/proc/self/status", "VmHWM");
}

function statusValue(path: string, key: string): number {
  try {
    const text = Deno.readTextFileSync(path);
    const match = new RegExp(`^${key}:\\s+(\\d+) kB`, "m").exec(text);
    return match === null ? NaN : Number(match[1]) * 1024;
  } catch {
    return NaN;
  }
}

/** The first Python with most of the packages, and what it has. */
export interface Python {
  readonly path: string;
  /** Versions by package name; `null` where not installed. */
  readonly versions: Readonly<Record<string, string | null>>;
}

const packages = ["numpy", "scipy", "pandas"];

/** Looks for a Python that has NumPy, SciPy and pandas. */
export async function findPython(
  asked: string | null,
): Promise<Python | null> {
  const code = `
import importlib, json, platform
found = {"python": platform.python_version()}
for name in ${JSON.stringify(packages)}:
    try:
        found[name] = importlib.import_module(name).__version__
    except Exception:
        found[name] = None
print(json.dumps(found))`;
  const found: Python[] = [];
  for (
    const path of asked === null ? ["python3", "/usr/bin/python3"] : [asked]
  ) {
    try {
      const { success, stdout } = await new Deno.Command(path, {
        args: ["-c", code],
      }).output();
      if (!success) continue;
      const versions = JSON.parse(new TextDecoder().decode(stdout));
      found.push({ path, versions });
    } catch (error) {
      if (!(error instanceof Deno.errors.NotFound)) throw error;
    }
  }
  const count = ({ versions }: Python) =>
    Object.values(versions).filter((version) => version !== null).length;
  return found.sort((a, b) => count(b) - count(a))[0] ?? null;
}

/** Packages that are asked for but not there. */
export function notInstalled(
  python: Python | null,
  needs: readonly string[],
): string[] {
  if (python === null) return ["python3"];
  return needs.filter((name) => (python.versions[name] ?? null) === null);
}

/** Mean number of processes that wanted a core in the last minute. */
export function load(): number {
  return Deno.loadavg()[0] ?? NaN;
}

/** One line on the machine. */
export function describeMachine(python: Python | null): string {
  const versions = python === null ? "no Python found" : [
    `Python ${python.versions.python}`,
    ...packages.map((name) =>
      `${name} ${python.versions[name] ?? "not installed"}`
    ),
  ].join(", ");
  return `${navigator.hardwareConcurrency} cores, ${
    (Deno.systemMemoryInfo().total / 2 ** 30).toFixed(0)
  } GiB, ${Deno.build.os} ${Deno.build.arch}; Deno ${Deno.version.deno}; ${versions}`;
}
