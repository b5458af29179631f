import { join } from "@std/path";
import {
  type ProcessLimits,
  type SystemMeans,
  systemMeans,
} from "../confine/mod.ts";
import type { DrawingDesk } from "./drawing_desk.ts";
import { grantFileName, type Grants } from "./grants.ts";
import { projectFolder } from "./project_folder.ts";
import { type DefaultReach, defaultReach } from "./reach.ts";

/** Options of {@linkcode SessionInterpreter}. */
export interface SessionOptions {
  /**
   * Folder of the notebook: relative imports start there, and cells may write
   * there.
   *
   * @default {Deno.cwd()}
   */
  notebookFolder?: string;
  /**
   * Where cells may read and write without a grant.
   *
   * @default {defaultReach(notebookFolder)}
   */
  reach?: DefaultReach;
  /**
   * Limits that the system keeps for the session's process.
   *
   * @default {{}}
   */
  limits?: ProcessLimits;
  /**
   * What the system offers to confine the session.
   *
   * @default {systemMeans()}
   */
  means?: SystemMeans;
  /**
   * File in which the person grants more; see {@linkcode readGrants}.
   *
   * @default {`${projectFolder}/notebook_permissions.json`}
   */
  grantFile?: string;
  /**
   * Permissions that the person grants on top of the defaults.
   *
   * @default {{}}
   */
  grants?: Grants;
  /**
   * Files and folders that cells may neither read nor write, whatever else is
   * granted.
   *
   * @default {[]}
   */
  withheld?: readonly string[];
  /**
   * Limit of the session's memory, in MB.
   *
   * @default {defaultMemoryLimit()}
   */
  memoryLimit?: number;
  /**
   * Limit of all that the session shows, in MB: text, figures, displays.
   *
   * @default {Infinity}
   */
  outputLimit?: number;
  /**
   * Limit of what the session holds on the disk in files that were removed while
   * they were open, and that nobody sees, in MB (Linux).
   *
   * @default {512}
   */
  unlinkedLimit?: number;
  /**
   * How long a cell may take to stop after an interrupt before its session is
   * restarted, in ms.
   *
   * @default {4000}
   */
  interruptGrace?: number;
  /**
   * Where figures are drawn, for all sessions that share it; `null` draws in the
   * session itself, which loads what draws at its first figure.
   *
   * @default {null}
   */
  drawing?: DrawingDesk | null;
  /**
   * Whether an error is followed by what the type check says of its line, and
   * completion uses types. It takes a further process, with some 300 MB, from
   * the first pause of the cells on.
   *
   * @default {false}
   */
  typeNotes?: boolean;
}

/** Fills in the defaults. */
export function completeOptions(
  options: SessionOptions,
): Required<SessionOptions> {
  const {
    notebookFolder = Deno.cwd(),
    reach = defaultReach(notebookFolder),
    limits = {},
    means = systemMeans(),
    grantFile = join(projectFolder, grantFileName),
    grants = {},
    withheld = [],
    memoryLimit = defaultMemoryLimit(),
    outputLimit = Infinity,
    unlinkedLimit = 512,
    interruptGrace = 4000,
    drawing = null,
    typeNotes = false,
  } = options;
  if (!(memoryLimit >= 64)) {
    throw new RangeError(
      `Cannot start a session as 'memoryLimit' must be at least 64 MB: current value is ${memoryLimit}`,
    );
  }
  return {
    notebookFolder,
    reach,
    limits,
    means,
    grantFile,
    grants,
    withheld,
    memoryLimit: Math.round(memoryLimit),
    outputLimit,
    unlinkedLimit,
    interruptGrace,
    drawing,
    typeNotes,
  };
}

/** Half of the machine's memory, at most 4096 MB. */
export function defaultMemoryLimit(): number {
  const { total } = Deno.systemMemoryInfo();
  return Math.max(512, Math.min(4096, Math.round(total / 2 ** 21)));
}
