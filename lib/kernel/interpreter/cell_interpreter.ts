import { setImmediate as nextTurn } from "node:timers";
import type {
  Completion,
  ExecuteRequest,
  Inspection,
  UserExpression,
} from "../protocol/interpreter.ts";
import {
  type AssistSources,
  complete,
  createSources,
  inspect,
  missingImport,
} from "./assist/mod.ts";
import { ambientNames, shownName } from "./ambient_names.ts";
import { installCellGlobals } from "./cell_globals.ts";
import { type CellPort, type CellRun, withRun } from "./cell_run.ts";
import { type CellOutcome, failingLines } from "./failing_lines.ts";
import { finishedParts } from "../../progress/mod.ts";
import { CommDesk } from "./comm_desk.ts";
import { compileCell, type CompiledCell } from "./compile.ts";
import { installConsole } from "./console_streams.ts";
import { errorForm, type RefusalHint } from "./error_form.ts";
import {
  checkInterrupt,
  interruptible,
  interruptibleItems,
  KeyboardInterrupt,
} from "./interrupt.ts";
import {
  cellMeta,
  dynamicResolver,
  loadedModules,
  loadModule,
} from "./module_loader.ts";
import type { ImportBinding } from "./import_statement.ts";
import { isInternalName, names } from "./names.ts";
import { FreshModules } from "./fresh_modules.ts";
import { installDenoJupyter } from "./deno_jupyter.ts";
import { LastValues } from "./last_values.ts";
import { OnceOutputs } from "./once_outputs.ts";
import { cellTexts, positionInCell, rememberCell } from "./positions.ts";
import { ScriptEngine } from "./script_engine.ts";
import { installStackForm } from "./stack.ts";
import { installStrayErrors } from "./stray_errors.ts";
import { CellSyntaxError } from "./syntax_error.ts";
import {
  setValueViewer,
  type ShownValue,
  valueForm,
  type ValueViewer,
} from "./value_form.ts";
import { describeVariable, type Variable } from "./variables.ts";
import { currentRun } from "./cell_run.ts";

/** Options of {@linkcode CellInterpreter}. */
export interface CellInterpreterOptions {
  /** URL of the notebook's folder, with a slash at the end. */
  baseUrl: string;
  /**
   * Says how a person can grant what was refused.
   *
   * @default {() => null}
   */
  refusalHint?: RefusalHint;
  /**
   * Text of the project's `deno.json`, whose import map completion offers.
   *
   * @default {null}
   */
  config?: string | null;
  /**
   * Shows values that do not show themselves, such as tables and pictures.
   *
   * @default {null}
   */
  viewer?: ValueViewer | null;
}

/** Globals that a session adds for its cells. */
const hostNames: ReadonlySet<string> = new Set([
  ...["cell", "input", "_", "__", "___"],
]);

/**
 * Runs TypeScript cells in the present process. There can be one per process,
 * as cells share the global scope; a session keeps it in a process of its own.
 */
export class CellInterpreter {
  readonly #engine = new ScriptEngine();
  readonly #baseUrl: string;
  readonly #refusalHint: RefusalHint;
  readonly #imports = new Map<string, ImportBinding>();
  readonly #constants = new Set<string>();
  readonly #hidden = new Set<string>();
  readonly #assist: AssistSources;
  readonly #runs = new Map<number, CellRun>();
  readonly #once = new OnceOutputs();
  readonly #lastValues = new LastValues();
  readonly #fresh = new FreshModules((text) =>
    (currentRun() ?? this.#last)?.port.publish({
      type: "stream",
      name: "stdout",
      text,
    })
  );
  readonly #viewer: ValueViewer | null;
  #last: CellRun | null = null;
  #running: CellRun | null = null;
  #ordinal = 0;

  /** Comms of the session. */
  readonly comms: CommDesk = new CommDesk((output) =>
    (currentRun() ?? this.#last)?.port.publish(output)
  );

  constructor(options: CellInterpreterOptions) {
    const {
      baseUrl,
      refusalHint = () => null,
      config = null,
      viewer = null,
    } = options;
    this.#viewer = viewer;
    this.#baseUrl = baseUrl;
    this.#assist = createSources({
      engine: this.#engine,
      baseUrl,
      imports: this.#imports,
      loaded: loadedModules,
      config,
      hidden: this.#hidden,
      cells: () => cellTexts().reverse(),
    });
    this.#refusalHint = refusalHint;
  }

  /** Completes what is typed; the cursor counts Unicode code points. */
  complete(code: string, cursor: number): Promise<Completion> {
    return complete(code, cursor, this.#assist);
  }

  /** Says what is known of the name at the cursor. */
  inspect(code: string, cursor: number, detail: 0 | 1): Promise<Inspection> {
    return inspect(code, cursor, detail, this.#assist);
  }

  /** Puts what cells need on the global scope. */
  async start(): Promise<void> {
    ambientNames();
    const fallback = () => this.#running ?? this.#last;
    installStackForm();
    installConsole(fallback);
    installCellGlobals(fallback, {
      comms: this.comms,
      once: this.#once,
      variables: () => this.#variables(),
    });
    const runOf = (ordinal: number) => this.#runs.get(ordinal) ?? null;
    installStrayErrors(fallback, runOf, (error, run) =>
      errorForm(error, {
        ordinal: run.ordinal,
        refusalHint: this.#refusalHint,
      }));
    installDenoJupyter((output) =>
      (currentRun() ?? fallback())?.port.publish(output)
    );
    this.#lastValues.install();
    setValueViewer(this.#viewer);
    const resolve = dynamicResolver(this.#baseUrl);
    const inside: Record<string, unknown> = {
      [names.check]: checkInterrupt,
      [names.awaited]: interruptible,
      [names.iterated]: interruptibleItems,
      [names.load]: loadModule,
      [names.resolve]: (value: unknown) =>
        this.#fresh.addressOf(resolve(value)),
      [names.fresh]: (address: string) => this.#fresh.addressOf(address),
      [names.meta]: cellMeta(this.#baseUrl),
      // Callbacks of promises run before the next turn of the event loop.
      [names.settled]: () => new Promise((resolve) => void nextTurn(resolve)),
      [names.value]: (value: unknown) => {
        const run = currentRun();
        if (run) Object.assign(run, { value, hasValue: true });
      },
    };
    for (const [name, value] of Object.entries(inside)) {
      Object.defineProperty(globalThis, name, { value });
    }
    await this.#engine.run(
      `let ${names.turns} = 0; let ${names.held};`,
      "fringebook:start",
    );
  }

  /** Runs a cell and then its user expressions. */
  async execute(
    request: ExecuteRequest,
    port: CellPort,
  ): Promise<CellOutcome> {
    const run = this.#begin(request.executionCount, port, request);
    this.#once.forget(run);
    try {
      const failure = await this.#evaluate(request, run);
      if (failure) {
        this.#keepFinished(failure.error, port);
        return this.#failed(failure.error, run);
      }
      if (run.hasValue && run.value !== undefined) {
        this.#lastValues.add(run.value);
      }
      const result = run.hasValue && run.value !== undefined
        ? await this.#shown(run)
        : null;
      const userExpressions: Record<string, UserExpression> = {};
      for (const [key, code] of Object.entries(request.userExpressions)) {
        userExpressions[key] = await this.#userExpression(code, request, run);
      }
      return { status: "ok", result, userExpressions };
    } catch (error) {
      return this.#failed(error, run);
    } finally {
      run.value = undefined;
      this.#running = null;
    }
  }

  /** Handles a comm message as if it were a cell. */
  async comm(
    message: Parameters<CommDesk["take"]>[0],
    port: CellPort,
  ): Promise<boolean> {
    const run = this.#begin(this.#last?.executionCount ?? 0, port);
    try {
      return await withRun(run, () => this.comms.take(message));
    } finally {
      this.#running = null;
    }
  }

  /**
   * Stops the running cell: where something in it can be stopped and still give
   * its value, that; else its awaits fail. Loops see the interrupt probe.
   *
   * @returns Whether the cell goes on.
   */
  interrupt(): boolean {
    const run = this.#running;
    if (!run) return false;
    if (run.stops.size > 0) {
      const stops = [...run.stops];
      run.stops.clear();
      for (const stop of stops) stop();
      return true;
    }
    run.interrupted = true;
    for (const reject of [...run.waiting]) reject(new KeyboardInterrupt());
    run.waiting.clear();
    return false;
  }

  /** Ends for good. */
  close(): void {
    this.#engine.close();
  }

  /** What the cells have declared, imports left out. */
  async #variables(): Promise<Variable[]> {
    // The engine takes no question while it is in the midst of the cell.
    await new Promise((resolve) => setTimeout(resolve, 0));
    const known = ambientNames();
    const names = [
      ...await this.#engine.lexicalNames(),
      ...Object.getOwnPropertyNames(globalThis).filter((name) =>
        !known.has(name) && !hostNames.has(name)
      ),
    ].filter((name) =>
      !isInternalName(name) && !this.#imports.has(shownName(name))
    );
    const found: Variable[] = [];
    for (const name of [...new Set(names)].sort()) {
      const seen = await this.#engine.peek(name);
      if (seen !== null) {
        found.push(describeVariable(shownName(name), seen.value));
      }
    }
    return found;
  }

  #begin(
    executionCount: number,
    port: CellPort,
    { cellId, code, silent }: Pick<
      ExecuteRequest,
      "cellId" | "code" | "silent"
    > = { cellId: null, code: "", silent: false },
  ): CellRun {
    const run: CellRun = {
      ordinal: ++this.#ordinal,
      executionCount,
      port,
      place: { cellId, code },
      silent,
      waiting: new Set(),
      stops: new Set(),
      value: undefined,
      hasValue: false,
      interrupted: false,
    };
    this.#last = run;
    this.#running = run;
    this.#runs.set(run.ordinal, run);
    this.#runs.delete(run.ordinal - 1000);
    return run;
  }

  /** The value's own form may take long, and may be interrupted. */
  #shown(run: CellRun): Promise<ShownValue> {
    return withRun(
      run,
      () =>
        interruptible(valueForm(run.value), run.ordinal, 1, 1) as Promise<
          ShownValue
        >,
    );
  }

  async #evaluate(
    request: ExecuteRequest,
    run: CellRun,
  ): Promise<{ error: unknown } | null> {
    const { code, executionCount, cellId } = request;
    const { ordinal } = run;
    const source = { executionCount, cellId, code, map: "" };
    const url = rememberCell(ordinal, source);
    let compiled: CompiledCell;
    try {
      compiled = compileCell(code, {
        ordinal,
        baseUrl: this.#baseUrl,
        constants: this.#constants,
        hidden: this.#hidden,
      });
    } catch (error) {
      return { error };
    }
    rememberCell(ordinal, { ...source, map: compiled.map });
    const outcome = await withRun(
      run,
      () => this.#engine.run(compiled.code, url),
    );
    if (!outcome.thrown || !outcome.early) {
      const { constant, changeable } = compiled.names;
      for (const name of constant) this.#constants.add(name);
      for (const name of changeable) this.#constants.delete(name);
      for (const name of compiled.hidden) this.#hidden.add(name);
    }
    if (!outcome.thrown) {
      for (const binding of compiled.imports) {
        this.#imports.set(shownName(binding.local), binding);
      }
      return null;
    }
    const { error, line, column, early } = outcome;
    if (!early) return { error };
    const place = positionInCell(url, line, column);
    return {
      error: new CellSyntaxError(
        (error as Error).message,
        place?.line ?? 1,
        place?.column ?? 1,
      ),
    };
  }

  async #userExpression(
    expression: string,
    request: ExecuteRequest,
    run: CellRun,
  ): Promise<UserExpression> {
    const quiet: CellRun = {
      ...run,
      ordinal: ++this.#ordinal,
      silent: true,
      waiting: run.waiting,
      value: undefined,
      hasValue: false,
      port: {
        publish: () => {},
        requestInput: () =>
          Promise.reject(
            new Error("Cannot ask for input in a user expression"),
          ),
      },
    };
    const code = `(${expression}\n)`;
    const failure = await this.#evaluate({ ...request, code }, quiet);
    if (failure) {
      return { ...this.#failed(failure.error, quiet), status: "error" };
    }
    try {
      return {
        status: "ok",
        ...await this.#shown(quiet),
      };
    } catch (error) {
      return { ...this.#failed(error, quiet), status: "error" };
    }
  }

  /** What a computation had finished when the person stopped it stays at hand. */
  #keepFinished(error: unknown, port: CellPort): void {
    const parts = finishedParts(error);
    if (parts === null) return;
    this.#lastValues.add(parts);
    port.publish({
      type: "stream",
      name: "stderr",
      text: `Finished before the interrupt, kept in _: ${
        Object.keys(parts).join(", ")
      }\n`,
    });
  }

  #failed(error: unknown, run: CellRun): CellOutcome & { status: "error" } {
    const form = errorForm(error, {
      ordinal: run.ordinal,
      refusalHint: this.#refusalHint,
    });
    const missing = missingImport(form.ename, form.evalue, this.#assist);
    return {
      status: "error",
      sessionLost: false,
      ...form,
      traceback: missing === null
        ? form.traceback
        : [...form.traceback, missing],
      failingLines: failingLines(error, run.ordinal),
    };
  }
}
