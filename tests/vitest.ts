/**
 * The `vitest` names that this project's tests use (`describe`, `it`, `expect`,
 * hooks), carried by `deno test`: each `it` becomes one `Deno.test` whose name
 * is the sentence made of its `describe` titles and its own.
 *
 * @module
 */
import { expect as stdExpect, fn as stdFn } from "@std/expect";

/**
 * Whether two arrays of samples hold the same numbers; what differs is left to
 * the comparison key by key, which takes a microsecond per number.
 */
function sameSamples(a: unknown, b: unknown): true | undefined {
  if (!isSamples(a) || !isSamples(b)) return undefined;
  if (a.constructor !== b.constructor || a.length !== b.length) {
    return undefined;
  }
  for (let n = 0; n < a.length; n++) {
    const [x, y] = [a[n]!, b[n]!];
    if (x !== y && !(Number.isNaN(x) && Number.isNaN(y))) return undefined;
  }
  return true;
}
const isSamples = (value: unknown): value is Float64Array =>
  ArrayBuffer.isView(value) && "length" in value;
stdExpect.addEqualityTesters([sameSamples]);

type Body = () => void | Promise<void>;

interface Suite {
  readonly title: string;
  readonly parent: Suite | null;
  readonly beforeAll: Body[];
  readonly afterAll: Body[];
  readonly beforeEach: Body[];
  readonly afterEach: Body[];
  started: boolean;
  /** Tests in this suite and its children that have not ended yet. */
  remaining: number;
}

/** What `expect(value)` offers; the subset of vitest's that the tests use. */
export interface Matchers {
  not: Matchers;
  resolves: AsyncMatchers;
  rejects: AsyncMatchers;
  toBe(expected: unknown): void;
  toEqual(expected: unknown): void;
  toStrictEqual(expected: unknown): void;
  toBeCloseTo(expected: number, digits?: number): void;
  toBeDefined(): void;
  toBeUndefined(): void;
  toBeNull(): void;
  toBeNaN(): void;
  toBeTruthy(): void;
  toBeFalsy(): void;
  toBeGreaterThan(expected: number | bigint): void;
  toBeGreaterThanOrEqual(expected: number | bigint): void;
  toBeLessThan(expected: number | bigint): void;
  toBeLessThanOrEqual(expected: number | bigint): void;
  // deno-lint-ignore no-explicit-any
  toBeInstanceOf(expected: abstract new (...args: any[]) => unknown): void;
  toContain(expected: unknown): void;
  toContainEqual(expected: unknown): void;
  toHaveLength(expected: number): void;
  toHaveProperty(path: string | string[], value?: unknown): void;
  toMatch(expected: RegExp): void;
  toMatchObject(expected: Record<PropertyKey, unknown> | unknown[]): void;
  // deno-lint-ignore no-explicit-any
  toThrow(expected?: string | RegExp | (new (...args: any[]) => Error)): void;
  toHaveBeenCalled(): void;
  toHaveBeenCalledTimes(times: number): void;
  toHaveBeenCalledWith(...args: unknown[]): void;
}

/** The same matchers behind `resolves` and `rejects`. */
export type AsyncMatchers = {
  [K in keyof Matchers]: K extends "not" | "resolves" | "rejects"
    ? AsyncMatchers
    : Matchers[K] extends (...args: infer A) => void
      ? (...args: A) => Promise<void>
    : never;
};

/** Makes an assertion about `actual`. */
export const expect = stdExpect as unknown as
  & ((actual: unknown) => Matchers)
  & {
    any(constructor: unknown): unknown;
    anything(): unknown;
    arrayContaining(items: unknown[]): unknown;
    objectContaining(object: Record<string, unknown>): unknown;
    stringContaining(text: string): unknown;
    stringMatching(pattern: string | RegExp): unknown;
    closeTo(value: number, digits?: number): unknown;
  };

/** Mock functions, as vitest's `vi.fn`. */
export const vi = {
  fn: stdFn as unknown as <A extends unknown[], R>(
    implementation?: (...args: A) => R,
  ) => (...args: A) => R,
};

let current: Suite | null = null;

/** Groups tests under a title; may be nested. */
export function describe(title: string, body: () => void): void {
  const parent = current;
  current = {
    title,
    parent,
    beforeAll: [],
    afterAll: [],
    beforeEach: [],
    afterEach: [],
    started: false,
    remaining: 0,
  };
  try {
    body();
  } finally {
    current = parent;
  }
}

/** Declares one test; its name is a sentence. */
export function it(title: string, body: Body): void {
  register(title, body, {});
}
/** Runs only the tests declared with `it.only`. */
it.only = (title: string, body: Body): void =>
  register(title, body, { only: true });
/** vitest's other name for {@linkcode it}. */
export const test = it;

/** Runs once before the first test of the enclosing `describe`. */
export function beforeAll(body: Body): void {
  suite("beforeAll").beforeAll.push(body);
}
/** Runs once after the last test of the enclosing `describe`. */
export function afterAll(body: Body): void {
  suite("afterAll").afterAll.push(body);
}
/** Runs before each test of the enclosing `describe`. */
export function beforeEach(body: Body): void {
  suite("beforeEach").beforeEach.push(body);
}
/** Runs after each test of the enclosing `describe`. */
export function afterEach(body: Body): void {
  suite("afterEach").afterEach.push(body);
}

function suite(hook: string): Suite {
  if (current === null) {
    throw new Error(`Cannot use '${hook}' outside 'describe'`);
  }
  return current;
}

function register(title: string, body: Body, options: { only?: true }): void {
  const suites = chain(current);
  for (const each of suites) each.remaining++;
  Deno.test({
    name: [...suites.map((each) => each.title), title].join(" > "),
    sanitizeOps: false,
    sanitizeResources: false,
    ...options,
    fn: async () => {
      try {
        for (const each of suites) {
          if (each.started) continue;
          each.started = true;
          for (const hook of each.beforeAll) await hook();
        }
        for (const each of suites) {
          for (const hook of each.beforeEach) await hook();
        }
        await body();
      } finally {
        for (const each of [...suites].reverse()) {
          for (const hook of each.afterEach) await hook();
          if (--each.remaining === 0) {
            for (const hook of each.afterAll) await hook();
          }
        }
      }
    },
  });
}

/** The suite and its parents, outermost first. */
function chain(suite: Suite | null): Suite[] {
  return suite === null ? [] : [...chain(suite.parent), suite];
}
