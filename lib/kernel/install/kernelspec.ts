import { join } from "@std/path";
import { projectFolder } from "./jupyter_paths.ts";

/** What is written to `kernel.json`. */
export interface Kernelspec {
  readonly argv: readonly string[];
  readonly display_name: string;
  readonly language: string;
  readonly interrupt_mode: "message";
  readonly env: Readonly<Record<string, string>>;
  readonly metadata: Readonly<Record<string, unknown>>;
}

/** Options of {@linkcode createKernelspec}. */
export interface KernelspecOptions {
  /** Absolute path of Deno. */
  denoPath: string;
  /**
   * Name that people choose in a list.
   *
   * @default {"Fringebook (Deno)"}
   */
  displayName?: string;
  /**
   * Permission flags granted to all notebooks of this kernel.
   *
   * @default {[]}
   */
  grants?: readonly string[];
  /**
   * Limit of a session's heap, in MiB; `null` for the default.
   *
   * @default {null}
   */
  memoryLimit?: number | null;
  /**
   * Environment variables of the kernel process.
   *
   * @default {{}}
   */
  env?: Readonly<Record<string, string>>;
}

/**
 * @param options Path of Deno, name, grants, memory limit, environment.
 * @returns The kernelspec; its script path is absolute.
 *
 * @example
 * ```ts
 * import { createKernelspec } from "fringebook/kernel/install/mod.ts";
 * import { expect } from "vitest";
 *
 * const spec = createKernelspec({ denoPath: "/usr/bin/deno" });
 * expect(spec.interrupt_mode).toBe("message");
 * expect(spec.argv.at(-1)).toBe("{connection_file}");
 * ```
 */
export function createKernelspec(options: KernelspecOptions): Kernelspec {
  const {
    denoPath,
    displayName = "Fringebook (Deno)",
    grants = [],
    memoryLimit = null,
    env = {},
  } = options;
  const script = join(projectFolder, "lib", "kernel", "launch", "main.ts");
  return {
    argv: [
      denoPath,
      "run",
      "--quiet",
      "--allow-all",
      "--no-lock",
      `--config=${join(projectFolder, "deno.json")}`,
      script,
      ...grants,
      ...(memoryLimit === null ? [] : [`--memory-limit=${memoryLimit}`]),
      "{connection_file}",
    ],
    display_name: displayName,
    language: "typescript",
    interrupt_mode: "message",
    env: { ...env },
    metadata: { debugger: false },
  };
}
