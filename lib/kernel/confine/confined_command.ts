import { fromFileUrl } from "@std/path";
import { levelOf } from "./level.ts";
import { landlockPlan } from "./landlock.ts";
import { type ProcessLimits, resourceLimits } from "./limits.ts";
import type { ConfinementPlan } from "./plan.ts";
import { type Reach, rulesOf } from "./rules.ts";
import { callFilter } from "./seccomp.ts";
import { type SystemMeans, systemMeans } from "./system.ts";

/** How a process is confined. */
export interface Confinement extends Partial<Reach> {
  /**
   * Limits that the system keeps.
   *
   * @default {{}}
   */
  readonly limits?: ProcessLimits;
  /**
   * What the system offers.
   *
   * @default {systemMeans()}
   */
  readonly means?: SystemMeans;
}

/**
 * A command whose process the system confines before the program starts: to
 * the files named (and what the runtime itself reads), without the network and
 * without signals to others unless allowed. All that it starts is confined
 * like it. On a system without such means the command is started as it is,
 * without limits; `levelOf(systemMeans())` says what holds.
 *
 * A small launcher sets the rules for itself and becomes the program: number of
 * the process, folder, environment and standard streams are the program's.
 *
 * @param program Absolute path of the program.
 * @param options As for `Deno.Command`.
 * @param confinement What it may reach.
 */
export function confinedCommand(
  program: string,
  options: Deno.CommandOptions,
  confinement: Confinement,
): Deno.Command {
  const { means = systemMeans(), limits = {} } = confinement;
  if (levelOf(means) === "confined by Deno alone") {
    return new Deno.Command(program, options);
  }
  const { args = [], ...rest } = options;
  const plan = pieces(
    JSON.stringify(planOf(program, confinement, means, limits)),
  );
  return new Deno.Command(Deno.execPath(), {
    ...rest,
    args: [
      "run",
      "--quiet",
      "--no-prompt",
      "--no-config",
      "--no-lock",
      "--cached-only",
      "--allow-ffi",
      launcher,
      String(plan.length),
      ...plan,
      program,
      ...args,
    ],
  });
}

const launcher = fromFileUrl(new URL("./launcher.ts", import.meta.url));

/** One argument of a program may not be longer than 128 KiB. */
function pieces(text: string): string[] {
  const length = 30_000;
  return Array.from(
    { length: Math.ceil(text.length / length) },
    (_, index) => text.slice(index * length, (index + 1) * length),
  );
}

function planOf(
  program: string,
  confinement: Confinement,
  means: SystemMeans,
  limits: ProcessLimits,
): ConfinementPlan {
  const {
    read = [],
    write = [],
    withheld = [],
    inPlace = [],
    network = false,
    programs = false,
  } = confinement;
  const reach = { read, write, withheld, inPlace, network, programs };
  return {
    landlock: means.landlock > 0
      ? landlockPlan(means.landlock, rulesOf(program, reach), network)
      : null,
    filter: means.filter
      ? callFilter({ arch: Deno.build.arch, network }).toBase64()
      : null,
    limits: resourceLimits(limits),
  };
}
