import { AsyncLocalStorage } from "node:async_hooks";
import type { Output } from "../protocol/interpreter.ts";

/** What a cell may do with the world outside of the session. */
export interface CellPort {
  /** Publishes an output under the cell, also after the cell has ended. */
  publish(output: Output): void;
  /** Asks the person for a line. */
  requestInput(prompt: string, password: boolean): Promise<string>;
  /** Asks the person for a line and blocks until it is there. */
  requestInputNow?(prompt: string, password: boolean): string;
}

/** One run of one cell. */
export interface CellRun {
  /** Number of the run in the session, from 1. */
  readonly ordinal: number;
  /** The number shown beside the cell. */
  readonly executionCount: number;
  readonly port: CellPort;
  /** The notebook cell: its id where the client tells it, and its code. */
  readonly place: { readonly cellId: string | null; readonly code: string };
  /** Whether nobody sees its outputs. */
  readonly silent: boolean;
  /** Rejecters of the awaits that are under way. */
  readonly waiting: Set<(reason: unknown) => void>;
  /** Ways to stop what runs, so that it still gives its value. */
  readonly stops: Set<() => void>;
  /** Value of the last expression; set while `hasValue`. */
  value: unknown;
  hasValue: boolean;
  /** Whether an interrupt was asked for. */
  interrupted: boolean;
}

const storage = new AsyncLocalStorage<CellRun>();

/** The cell that the present call belongs to, also in timers and promises. */
export function currentRun(): CellRun | undefined {
  return storage.getStore();
}

/** Calls a function as part of a cell. */
export function withRun<T>(run: CellRun, work: () => T): T {
  return storage.run(run, work);
}
