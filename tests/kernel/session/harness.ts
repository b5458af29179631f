import {
  SessionInterpreter,
  type SessionOptions,
} from "../../../lib/kernel/session/mod.ts";
import type {
  Output,
  RequestContext,
} from "../../../lib/kernel/protocol/interpreter.ts";
import { describeRun, type Ran } from "../interpreter/harness.ts";

/** A session in a temporary folder. */
export class TestSession {
  readonly session: SessionInterpreter;
  /** Outputs by request, also those after its end. */
  readonly outputs = new Map<string, Output[]>();
  #count = 0;

  constructor(readonly folder: string, options: SessionOptions = {}) {
    this.session = new SessionInterpreter({
      notebookFolder: folder,
      memoryLimit: 512,
      ...options,
    });
  }

  /** Makes a session; end it with `close`. */
  static async create(options: SessionOptions = {}): Promise<TestSession> {
    return new TestSession(await Deno.makeTempDir(), options);
  }

  /** Runs a cell. */
  async run(
    code: string,
    context: Partial<RequestContext> = {},
  ): Promise<Ran> {
    const requestId = `request ${++this.#count}`;
    const outputs: Output[] = [];
    this.outputs.set(requestId, outputs);
    const outcome = await this.session.execute({
      code,
      executionCount: this.#count,
      cellId: null,
      silent: false,
      userExpressions: {},
    }, {
      requestId,
      publish: (output) => void outputs.push(output),
      requestInput: () => Promise.resolve("typed"),
      ready: () => Promise.resolve(),
      ...context,
    });
    return describeRun(outcome, outputs);
  }

  /** Runs a cell, interrupts it, and says how long it took to stop, in s. */
  async interrupted(
    code: string,
    context: Partial<RequestContext> = {},
  ): Promise<Ran & { latency: number }> {
    let begin = NaN;
    // The cell says when it has begun; then it gets some time to be busy.
    const timer = setTimeout(() => {
      begin = performance.now();
      void this.session.interrupt();
    }, 150);
    const ran = await this.run(code, context);
    clearTimeout(timer);
    return { ...ran, latency: (performance.now() - begin) / 1000 };
  }

  async close(): Promise<void> {
    await this.session.close();
    await Deno.remove(this.folder, { recursive: true });
  }
}

/** Whether an outcome says that the variables were lost. */
export function lost({ outcome }: Ran): boolean {
  return outcome.status === "error" && outcome.sessionLost;
}
