import {
  SessionInterpreter,
  type SessionOptions,
} from "../../kernel/session/mod.ts";
import { FamilyUsage } from "./usage.ts";

type Execute = SessionInterpreter["execute"];

/**
 * A session whose cells are interrupted after so much processor time; where the
 * system does not tell it, after eight times that by the clock.
 */
export class CpuLimitedInterpreter extends SessionInterpreter {
  readonly #family = new FamilyUsage(Deno.pid);

  constructor(options: SessionOptions, private readonly limit: number) {
    super(options);
  }

  override async execute(
    ...[request, context]: Parameters<Execute>
  ): ReturnType<Execute> {
    const begin = this.#used();
    let over = false;
    const timer = setInterval(() => {
      if (over || this.#used() - begin <= this.limit) return;
      over = true;
      void this.interrupt();
    }, 250);
    try {
      const outcome = await super.execute(request, context);
      if (!over || outcome.status !== "error") return outcome;
      const evalue =
        `The cell took more than ${this.limit} s of processor time. ${outcome.evalue}`;
      return { ...outcome, evalue };
    } finally {
      clearInterval(timer);
    }
  }

  /** Processor time of the session so far, in s. */
  #used(): number {
    return this.#family.look() === null
      ? performance.now() / 8000
      : this.#family.descendants().cpuTime;
  }
}
