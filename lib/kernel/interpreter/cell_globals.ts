import type { MimeBundle, Output } from "../protocol/interpreter.ts";
import { type CellRun, currentRun } from "./cell_run.ts";
import type { CommDesk } from "./comm_desk.ts";
import type { OnceOutputs } from "./once_outputs.ts";
import { valueForm } from "./value_form.ts";
import type { Variable } from "./variables.ts";

/** Key of the hook on `globalThis`. */
export const cellHookSymbol: unique symbol = Symbol.for(
  "fringebook.cell",
) as never;

/**
 * The hook through which helpers reach the cell that runs, whatever kernel
 * stands behind it: `globalThis[Symbol.for("fringebook.cell")]`.
 */
export interface CellHook {
  /** Publishes an output under the cell that calls. */
  publish(output: Output): void;
  /** Publishes an output that a notebook needs once; see {@linkcode OnceOutputs}. */
  publishOnce(key: string, make: () => Promise<Output>): Promise<void>;
  /** Asks the person for a line. */
  requestInput(prompt: string, password: boolean): Promise<string>;
  /**
   * Says how the next interrupt stops what the cell does now, so that it still
   * gives its value; the one after it stops the cell.
   *
   * @returns Takes it back.
   */
  onInterrupt(stop: () => void): () => void;
  /** The MIME bundle of a value, as if it were the last one of a cell. */
  bundle(value: unknown): Promise<MimeBundle>;
  /** The cell that calls, to publish under it later; `null` outside cells. */
  capture(): Pick<CellHook, "publish" | "requestInput"> | null;
  /** Comms between the notebook page and the session. */
  readonly comms: CommDesk;
}

/** Options of `cell.display`. */
export interface DisplayOptions {
  /**
   * Id under which the display can be updated.
   *
   * @default {null}
   */
  displayId?: string | null;
  /**
   * Whether the value is a MIME bundle already.
   *
   * @default {false}
   */
  raw?: boolean;
  /**
   * Metadata by MIME type.
   *
   * @default {{}}
   */
  metadata?: Record<string, unknown>;
}

/** What a cell finds under the global name `cell`. */
export interface CellGlobal {
  /** Shows a value now, apart from the last value. */
  display(value: unknown, options?: DisplayOptions): Promise<void>;
  /** Replaces all displays with this id. */
  updateDisplay(
    displayId: string,
    value: unknown,
    options?: Omit<DisplayOptions, "displayId">,
  ): Promise<void>;
  /** Clears the outputs of the cell; `wait` until the next output. */
  clearOutput(options?: { wait?: boolean }): void;
  /** Shows a long text in the client's pager, where it has one. */
  page(text: string): void;
  /** Asks the person for a line. */
  input(prompt?: string, options?: { password?: boolean }): Promise<string>;
  /** The variables of the notebook with kind and size, as rows of a table. */
  variables(): Promise<Variable[]>;
  /** Comms between the notebook page and the session. */
  readonly comms: CommDesk;
}

/** Makes the hook and the globals of cells, and puts them on `globalThis`. */
export function installCellGlobals(
  fallback: () => CellRun | null,
  { comms, once, variables }: {
    readonly comms: CommDesk;
    readonly once: OnceOutputs;
    readonly variables: () => Promise<Variable[]>;
  },
): void {
  const portOf = () => {
    const run = currentRun() ?? fallback();
    if (!run) {
      throw new Error("Cannot publish an output as no cell has run yet");
    }
    return run.port;
  };
  const show = async (
    type: "display_data" | "update_display_data",
    value: unknown,
    options: DisplayOptions,
  ) => {
    const { displayId = null, raw = false, metadata = {} } = options;
    const port = portOf();
    const data = raw
      ? { ...value as MimeBundle }
      : (await valueForm(value)).data;
    port.publish({ type, data, metadata, displayId });
  };
  const hook: CellHook = {
    publish: (output) => portOf().publish(output),
    publishOnce: (key, make) =>
      once.publish(currentRun() ?? fallback(), key, make),
    requestInput: (prompt, password) => portOf().requestInput(prompt, password),
    onInterrupt: (stop) => {
      const stops = (currentRun() ?? fallback())?.stops;
      stops?.add(stop);
      return () => void stops?.delete(stop);
    },
    bundle: async (value) => (await valueForm(value)).data,
    capture: () => currentRun()?.port ?? fallback()?.port ?? null,
    comms,
  };
  const cell: CellGlobal = {
    display: (value, options = {}) => show("display_data", value, options),
    updateDisplay: (displayId, value, options = {}) =>
      show("update_display_data", value, { ...options, displayId }),
    clearOutput: ({ wait = false } = {}) =>
      portOf().publish({ type: "clear_output", wait }),
    page: (text) =>
      portOf().publish({ type: "page", data: { "text/plain": String(text) } }),
    input: (prompt = "", { password = false } = {}) =>
      portOf().requestInput(String(prompt), password),
    variables,
    comms,
  };
  const ask = (question: string, password = false) => {
    const port = portOf();
    if (!port.requestInputNow) {
      throw new Error(
        "Cannot ask at once in this session: use 'await input(…)' instead",
      );
    }
    return port.requestInputNow(question, password);
  };
  const globals: Record<string, unknown> = {
    cell: Object.freeze(cell),
    input: cell.input,
    prompt: (question = "Prompt", preset = "") =>
      ask(`${question} `) || preset || null,
    confirm: (question = "Confirm") =>
      /^y(es)?$/i.test(ask(`${question} [y/N] `).trim()),
    alert: (text = "Alert") => void ask(`${text} [Enter] `),
  };
  for (const [name, value] of Object.entries(globals)) {
    Object.defineProperty(globalThis, name, {
      value,
      configurable: true,
      writable: true,
      enumerable: false,
    });
  }
  Object.defineProperty(globalThis, cellHookSymbol, { value: hook });
}
