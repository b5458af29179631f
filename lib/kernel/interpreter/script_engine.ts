import { Session } from "node:inspector";

/** What a script left behind: nothing, or what it threw. */
export type ScriptOutcome =
  | { thrown: false }
  | {
    thrown: true;
    error: unknown;
    /** Place where the engine saw the error, from 1; for syntax errors. */
    line: number;
    column: number;
    /** Whether the script was not even parsed. */
    early: boolean;
  };

interface RemoteObject {
  type: string;
  objectId?: string;
  value?: unknown;
  unserializableValue?: string;
}

interface EvaluateReply {
  result: RemoteObject;
  exceptionDetails?: {
    text: string;
    lineNumber: number;
    columnNumber: number;
    exception?: RemoteObject;
  };
}

interface RemoteProperty {
  name: string;
  value?: RemoteObject;
  get?: RemoteObject;
}

/** A property of a value. */
export interface Property {
  readonly name: string;
  /** As `typeof` says, or `accessor`. */
  readonly type: string;
}

/**
 * Runs scripts in the REPL mode of the engine: `let`, `const` and `class` at
 * the top may be declared again by a later script, and `await` is allowed.
 */
export class ScriptEngine {
  readonly #session = new Session();
  #caught: unknown = undefined;
  readonly #catchKey = `__fringebookCaught`;

  /** Needs the permission "sys"; it may be given back afterwards. */
  constructor() {
    this.#session.connect();
    Object.defineProperty(globalThis, this.#catchKey, {
      value: (error: unknown) => this.#caught = error,
    });
  }

  /**
   * Runs a script to its end, including what it awaits at the top.
   *
   * @param code JavaScript.
   * @param url Under which the script appears in stacks.
   * @returns Whether it threw, and what.
   */
  async run(code: string, url: string): Promise<ScriptOutcome> {
    const reply = await this.#post<EvaluateReply>("Runtime.evaluate", {
      expression: `${code}\nvoid 0;\n//# sourceURL=${url}`,
      replMode: true,
      awaitPromise: true,
      objectGroup: "cell",
    });
    const { exceptionDetails: details } = reply;
    if (details === undefined) return { thrown: false };
    const error = await this.#valueOf(details.exception ?? reply.result);
    void this.#post("Runtime.releaseObjectGroup", { objectGroup: "cell" });
    return {
      thrown: true,
      error,
      line: details.lineNumber + 1,
      column: details.columnNumber + 1,
      early: error instanceof SyntaxError &&
        !(error.stack ?? "").includes(`(${url}:`),
    };
  }

  /** Names declared with `let`, `const` or `class` at the top. */
  async lexicalNames(): Promise<string[]> {
    const { names } = await this.#post<{ names: string[] }>(
      "Runtime.globalLexicalScopeNames",
      {},
    );
    return names;
  }

  /**
   * Evaluates an expression; nothing where it throws or would have an effect.
   */
  async peek(expression: string): Promise<{ value: unknown } | null> {
    const remote = await this.#look(expression);
    if (remote === null) return null;
    const value = await this.#valueOf(remote);
    void this.#post("Runtime.releaseObjectGroup", { objectGroup: "peek" });
    return { value };
  }

  /** Names of the properties of an expression's value, own and inherited. */
  async properties(expression: string): Promise<Property[]> {
    const remote = await this.#look(`Object(${expression})`);
    if (!remote?.objectId) return [];
    const { result } = await this.#post<{ result: RemoteProperty[] }>(
      "Runtime.getProperties",
      {
        objectId: remote.objectId,
        ownProperties: false,
        nonIndexedPropertiesOnly: true,
      },
    );
    void this.#post("Runtime.releaseObjectGroup", { objectGroup: "peek" });
    return result.map(({ name, value, get }) => ({
      name,
      type: value?.type ?? (get ? "accessor" : "undefined"),
    }));
  }

  close(): void {
    this.#session.disconnect();
  }

  async #look(expression: string): Promise<RemoteObject | null> {
    const reply = await this.#post<EvaluateReply>("Runtime.evaluate", {
      expression: `(${expression})`,
      throwOnSideEffect: true,
      silent: true,
      timeout: 500,
      objectGroup: "peek",
    });
    return reply.exceptionDetails ? null : reply.result;
  }

  /** The very value that the engine names; not a copy. */
  async #valueOf(remote: RemoteObject): Promise<unknown> {
    const { objectId, value, unserializableValue } = remote;
    await this.#post("Runtime.callFunctionOn", {
      functionDeclaration: `function (error) { ${this.#catchKey}(error) }`,
      arguments: [
        objectId === undefined
          ? unserializableValue === undefined ? { value } : {
            unserializableValue,
          }
          : { objectId },
      ],
      executionContextId: 1,
    });
    const caught = this.#caught;
    this.#caught = undefined;
    return caught;
  }

  #post<T>(method: string, params: unknown): Promise<T> {
    const post = this.#session.post.bind(this.#session) as unknown as (
      method: string,
      params: unknown,
      done: (error: Error | null, reply: T) => void,
    ) => void;
    return new Promise((resolve, reject) =>
      post(method, params, (error, reply) => {
        if (error) reject(error);
        else resolve(reply);
      })
    );
  }
}
