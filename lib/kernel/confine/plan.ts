/** What the launcher does, step by step, before it becomes the program. */
export interface ConfinementPlan {
  /** The rules for files, network and signals; `null` for none. */
  readonly landlock: LandlockPlan | null;
  /** A filter of system calls, in base64; `null` for none. */
  readonly filter: string | null;
  /** Limits that the system keeps: number of the resource, and value. */
  readonly limits: readonly (readonly [resource: number, value: number])[];
}

/** A set of Landlock rules; rights are bits, as in `linux/landlock.h`. */
export interface LandlockPlan {
  /** Rights to files that are forbidden where no rule allows them. */
  readonly files: number;
  /** Rights to the network that are forbidden. */
  readonly network: number;
  /** What may not reach outward: abstract sockets, signals. */
  readonly scope: number;
  /** Length of the attributes that this system knows, in bytes. */
  readonly attributeLength: number;
  readonly rules: readonly LandlockRule[];
}

/** Rights to a file, or to a folder and all in it. */
export interface LandlockRule {
  readonly path: string;
  readonly rights: number;
}
