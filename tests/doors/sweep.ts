import * as fringebook from "fringebook";
import * as batch from "fringebook/batch";
import * as bench from "fringebook/bench";
import * as capture from "fringebook/capture";
import * as course from "fringebook/course";
import * as datasets from "fringebook/datasets";
import * as display from "fringebook/display";
import * as explore from "fringebook/explore";
import * as fit from "fringebook/fit";
import * as laser from "fringebook/laser";
import * as level from "fringebook/level";
import * as live from "fringebook/live";
import * as motion from "fringebook/motion";
import * as progress from "fringebook/progress";
import * as range from "fringebook/range";
import * as record from "fringebook/record";
import * as result from "fringebook/result";
import * as signal from "fringebook/signal";
import * as speed from "fringebook/speed";
import * as uncertainty from "fringebook/uncertainty";

/** Everything that a person could call wrongly, whatever the door. */
const all: Readonly<Record<string, unknown>> = {
  ...batch,
  ...bench,
  ...capture,
  ...course,
  ...datasets,
  ...display,
  ...explore,
  ...fit,
  ...laser,
  ...level,
  ...live,
  ...motion,
  ...progress,
  ...range,
  ...record,
  ...result,
  ...signal,
  ...speed,
  ...uncertainty,
  ...fringebook,
};

/** One call that ended in an error of the engine, or not at all. */
export interface RawError {
  readonly name: string;
  readonly call: string;
  readonly message: string;
}

/** How the engine itself words what our own code should have refused. */
const raw =
  /Cannot read propert|Cannot set propert|Cannot destructure|is not iterable|is not a function|is not a constructor|not an object|object null is not|Cannot use 'in' operator|Cannot convert (?:undefined|null|object|a BigInt|a Symbol)|Cannot mix BigInt|Invalid array length|Invalid typed array|Array buffer allocation|Reduce of empty array|between 0 and 100|between 1 and 100|Maximum call stack|is not defined|not async iterable|Iterator value|Spread syntax|Class constructor|Symbol value|private (member|field|name)|must be of type|Failed to execute|not assignable|Right-hand side|argument must be|expected (a|typed)|JSON at position|is not valid JSON|Unexpected (token|end)|invalid type|offset is out of bounds|Offset is outside|Cannot assign|Cannot add property|Cannot define property|Object prototype|called on|non-object|not callable|incompatible receiver|serde|Invalid time|Invalid URL|Index out of range/;

/** Makes all simulated data sets and takes no argument: minutes of work. */
const leftOut = new Set(["makeDatasets"]);

/** Right arguments among the wrong ones, which are work and not refused. */
const right = new Map<string, (call: string) => boolean>([
  // A seed.
  ["makeStudentSet", (call) => call === "42" || /^(1|42),/.test(call)],
  // Anything can be shown; a capture draws a figure.
  ["bundleOfValue", (call) => call.startsWith("capture")],
  ["bundleOfKnown", (call) => call.startsWith("capture")],
  ["display", (call) => call.startsWith("capture")],
  // Takes nothing and reads the plotting library.
  ["loadPlotlyScript", (call) => call !== ""],
]);

/** Arguments of the wrong kind. */
const wrong: readonly (readonly [string, () => unknown])[] = [
  ["undefined", () => undefined],
  ["null", () => null],
  ["42", () => 42],
  ["NaN", () => NaN],
  ['"text"', () => "text"],
  ["true", () => true],
  ["{}", () => ({})],
  ["[]", () => []],
  ["[null]", () => [null]],
  ["a Promise", () => Promise.resolve(0)],
  ["a function", () => () => undefined],
];

/** A capture as small as can be. */
function smallCapture() {
  return fringebook.createCapture([
    {
      name: "monitor",
      role: "monitor signal",
      unit: "V",
      samples: Float64Array.from({ length: 64 }, (_, i) => Math.sin(i)),
    },
  ], { samplingRate: 1000 });
}

/** What each exported function is called with. */
function* calls(): Generator<readonly [string, () => unknown[]]> {
  yield ["", () => []];
  for (const [text, value] of wrong) {
    yield [text, () => [value()]];
    yield [`${text}, ${text}`, () => [value(), value()]];
    yield [
      `${text}, ${text}, ${text}, ${text}`,
      () => [value(), value(), value(), value()],
    ];
    // The data are right, what follows is wrong.
    yield [`capture, ${text}`, () => [smallCapture(), value()]];
    yield [
      `samples, ${text}, ${text}`,
      () => [new Float64Array(64), value(), value()],
    ];
    yield [`"text", ${text}`, () => ["text", value()]];
    yield [`1, ${text}, ${text}`, () => [1, value(), value()]];
  }
}

/** Names of the exported functions; classes are called with `new`. */
export function exportedFunctions(): string[] {
  return Object.entries(all)
    .filter(([name, value]) =>
      typeof value === "function" && !leftOut.has(name)
    )
    .map(([name]) => name)
    .sort();
}

function isClass(value: unknown): boolean {
  return /^class\b/.test(Function.prototype.toString.call(value));
}

/** Calls one exported function in every wrong way. */
export async function sweep(
  name: string,
): Promise<{ calls: number; errors: RawError[] }> {
  // deno-lint-ignore no-explicit-any
  const f = (all as any)[name];
  const errors: RawError[] = [];
  let count = 0;
  for (const [call, make] of calls()) {
    if (right.get(name)?.(call)) continue;
    count++;
    try {
      const given = make();
      const value = isClass(f) ? new f(...given) : f(...given);
      await settled(value);
    } catch (error) {
      const message = error instanceof Error ? error.message : String(error);
      const native = error instanceof Error && raw.test(message) ||
        !(error instanceof Error);
      if (native) errors.push({ name, call, message });
    }
  }
  return { calls: count, errors };
}

/** Waits for a Promise, and for the first value of an iterator. */
async function settled(value: unknown): Promise<void> {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const late = new Promise((_, reject) => {
    timer = setTimeout(() => reject("did not end in 20 s"), 20_000);
  });
  try {
    // deno-lint-ignore no-explicit-any
    const first = (value as any)?.[Symbol.asyncIterator]?.().next();
    await Promise.race([first ?? value, late]);
  } finally {
    clearTimeout(timer);
    late.catch(() => {});
  }
}
