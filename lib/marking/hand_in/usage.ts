/**
 * What a process and those that it started use, as the system counts it (Linux;
 * elsewhere there is nothing to read).
 *
 * @module
 */

/** What a family of processes has used so far. */
export interface Usage {
  /** Processor time, in s. */
  readonly cpuTime: number;
  /** Time spent ready to run while others ran, in s. */
  readonly waitTime: number;
  /** Memory of their own, in bytes. */
  readonly memory: number;
  /** Bytes handed to the system to be written, to whatever file or pipe. */
  readonly written: number;
}

interface OneUsage extends Usage {
  readonly start: string;
}

const nothing: Usage = { cpuTime: 0, waitTime: 0, memory: 0, written: 0 };

/** Clock ticks per s in a process's times: 100 on every Linux of today. */
const ticks = 100;

/** Counts a process and its descendants, also those that have ended since. */
export class FamilyUsage {
  readonly #seen = new Map<string, OneUsage>();
  #alive = new Set<string>();

  /** @param root Process at the head of the family. */
  constructor(private readonly root: number) {}

  /** Looks again; `null` where the system does not tell. */
  look(): Usage | null {
    if (Deno.build.os !== "linux") return null;
    const root = String(this.root);
    const alive = new Set<string>();
    const queue = [root, ...this.#alive];
    for (let pid = queue.pop(); pid !== undefined; pid = queue.pop()) {
      if (alive.has(pid)) continue;
      const usage = usageOf(pid);
      const before = this.#seen.get(pid);
      // A number that the system gave to another process since
      if (usage === null || (before && before.start !== usage.start)) continue;
      alive.add(pid);
      // Threads that have ended are counted no more
      const waitTime = Math.max(usage.waitTime, before?.waitTime ?? 0);
      this.#seen.set(pid, { ...usage, waitTime });
      queue.push(...childrenOf(pid));
    }
    this.#alive = alive;
    return this.#sum();
  }

  /** What the processes below the head have used, as of the last look. */
  descendants(): Usage {
    return this.#sum(String(this.root));
  }

  /** What the head alone has used, as of the last look. */
  head(): Usage {
    return this.#seen.get(String(this.root)) ?? nothing;
  }

  /** Ends the processes below the head, and the head too where asked. */
  kill(withHead: boolean): void {
    this.look();
    const root = String(this.root);
    const all = [...this.#alive].filter((pid) => pid !== root);
    for (const pid of withHead ? [...all, root] : all) {
      try {
        Deno.kill(Number(pid), "SIGKILL");
      } catch {
        // It has ended in the meantime
      }
    }
  }

  #sum(without = ""): Usage {
    let cpuTime = 0;
    let waitTime = 0;
    let memory = 0;
    let written = 0;
    for (const [pid, usage] of this.#seen) {
      if (pid === without) continue;
      cpuTime += usage.cpuTime;
      waitTime += usage.waitTime;
      written += usage.written;
      if (this.#alive.has(pid)) memory += usage.memory;
    }
    return { cpuTime, waitTime, memory, written };
  }
}

function usageOf(pid: string): OneUsage | null {
  const stat = read(`/proc/${pid}/stat`);
  if (stat === null) return null;
  // After the name, which may hold anything: state is field 3
  const fields = stat.slice(stat.lastIndexOf(")") + 2).split(" ");
  const field = (number: number) => Number(fields[number - 3]);
  const status = read(`/proc/${pid}/status`) ?? "";
  const own = Number(/^RssAnon:\s*(\d+) kB/m.exec(status)?.[1] ?? NaN);
  const io = read(`/proc/${pid}/io`) ?? "";
  return {
    start: fields[22 - 3]!,
    cpuTime: (field(14) + field(15)) / ticks,
    waitTime: waitTimeOf(pid),
    memory: own * 1024 || 0,
    written: Number(/^wchar: (\d+)/m.exec(io)?.[1] ?? 0),
  };
}

/** Sum over the threads that there are. */
function waitTimeOf(pid: string): number {
  let sum = 0;
  for (const thread of list(`/proc/${pid}/task`)) {
    const [, waited = "0"] =
      (read(`/proc/${pid}/task/${thread}/schedstat`) ?? "").split(" ");
    sum += Number(waited) / 1e9;
  }
  return sum;
}

function childrenOf(pid: string): string[] {
  return list(`/proc/${pid}/task`).flatMap((thread) =>
    (read(`/proc/${pid}/task/${thread}/children`) ?? "").trim().split(" ")
      .filter(Boolean)
  );
}

function read(path: string): string | null {
  try {
    return Deno.readTextFileSync(path);
  } catch {
    return null;
  }
}

function list(path: string): string[] {
  try {
    return [...Deno.readDirSync(path)].map(({ name }) => name);
  } catch {
    return [];
  }
}
