/** Limits that the system keeps for a process; it is ended at the first. */
export interface ProcessLimits {
  /** Time of processors that it may use, in s. */
  readonly processorTime?: number;
  /** Largest size of one file that it writes, in bytes. */
  readonly fileSize?: number;
  /** Files that it may have open at once. */
  readonly openFiles?: number;
}

// Numbers of resources on Linux: asm-generic/resource.h
const resources = { processorTime: 0, fileSize: 1, core: 4, openFiles: 7 };

/** The limits as `setrlimit` takes them; dumps of memory are never written. */
export function resourceLimits(limits: ProcessLimits): [number, number][] {
  const list: [number, number][] = [[resources.core, 0]];
  for (const name of ["processorTime", "fileSize", "openFiles"] as const) {
    const value = limits[name];
    if (value === undefined) continue;
    if (!(value > 0 && Number.isFinite(value))) {
      throw new RangeError(
        `Cannot limit a process as '${name}' must be positive: current value is ${value}`,
      );
    }
    list.push([resources[name], Math.ceil(value)]);
  }
  return list;
}
