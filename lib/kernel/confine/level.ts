import type { SystemMeans } from "./system.ts";

/** How far the system itself keeps a process in. */
export type ConfinementLevel =
  | "confined by the system"
  | "confined in part by the system"
  | "confined by Deno alone";

/**
 * The level that holds with what the system offers: all of files, network and
 * signals; some of it; or nothing beside the permissions of the runtime.
 */
export function levelOf({ landlock, filter }: SystemMeans): ConfinementLevel {
  const signals = 6;
  if (landlock >= signals && filter) return "confined by the system";
  if (landlock > 0 || filter) return "confined in part by the system";
  return "confined by Deno alone";
}

/** What a level means, in one sentence for the person. */
export function describeLevel(means: SystemMeans): string {
  const level = levelOf(means);
  if (level === "confined by the system") {
    return "Notebooks are confined by the system: Linux itself keeps them from other files, the network and other processes";
  }
  if (level === "confined by Deno alone") {
    return "Notebooks are confined by Deno alone: this system has nothing beside it that Fringebook knows to use";
  }
  const kept = [
    ...(means.landlock > 0 ? ["other files"] : []),
    ...(means.filter || means.landlock >= 4 ? ["the network"] : []),
    ...(means.filter ? ["links between files"] : []),
  ];
  return `Notebooks are confined in part by the system: it keeps them from ${
    kept.join(", ")
  }; the rest is kept by Deno alone`;
}
