import { join } from "@std/path";
import { readCapture } from "../capture/mod.ts";
import type { ReadCaptureOptions } from "../capture/mod.ts";
import type { ManifestValue } from "../datasets/mod.ts";
import { readTextUpTo } from "../runtime/mod.ts";
import { parseMeasure } from "../units/mod.ts";
import type { HandoutCapture } from "./handout_captures.ts";
import { amountOf, readFields, refuseUnknownFields } from "./questions/mod.ts";

/** Name of the file that describes the captures of a bench. */
export const benchFile = "captures.yaml";

/** Largest description that is read, in bytes. */
const largest = 2 ** 20;

const fields = [
  ...["name", "file", "what", "reading", "known", "truth", "accepted"],
];

type Fields = Readonly<Record<string, unknown>>;
type Fail = (why: string) => never;

/**
 * Reads the captures of an own bench: a folder with files and `captures.yaml`,
 * which says of each what is known at the bench and what is true (`truth`, for a
 * simulated one) or accepted with its expanded uncertainty (`accepted`, for a
 * measured one). Captures with the same name are dealt out in turn.
 *
 * @param folder The folder.
 * @returns For a place in the class, the captures of that student.
 * @throws {SyntaxError} If the description is no YAML.
 * @throws {TypeError} If something is missing or has no meaning.
 * @throws {CaptureFormatError} If a file cannot be read as it says.
 */
export async function readOwnBench(
  folder: string,
): Promise<(index: number) => readonly HandoutCapture[]> {
  const path = join(folder, benchFile);
  const { captures, ...rest } = readFields(
    await readTextUpTo(path, largest),
    path,
  );
  const odd = Object.keys(rest)[0];
  if (odd !== undefined || !Array.isArray(captures) || captures.length === 0) {
    throw new TypeError(
      `Cannot use '${path}' as ${
        odd === undefined
          ? "it lists no 'captures'"
          : `there is no field '${odd}': it has 'captures' alone`
      }`,
    );
  }
  const byName = new Map<string, HandoutCapture[]>();
  for (const [index, given] of captures.entries()) {
    const capture = await readOne(folder, given, index, path);
    const variants = byName.get(capture.name) ?? [];
    byName.set(capture.name, [...variants, capture]);
  }
  return (index) =>
    [...byName.values()].map((variants) => variants[index % variants.length]!);
}

async function readOne(
  folder: string,
  given: unknown,
  index: number,
  path: string,
): Promise<HandoutCapture> {
  const own = (typeof given === "object" && given !== null ? given : {}) as
    & Fields
    & { name?: unknown };
  const fail: Fail = (why) => {
    throw new TypeError(
      `Cannot use capture ${index + 1}${
        typeof own.name === "string" ? ` ('${own.name}')` : ""
      } in '${path}' as ${why}`,
    );
  };
  refuseUnknownFields(own, fields, fail);
  const { name, file, what = "", reading = {} } = own;
  if (typeof name !== "string" || !/^[\w-]{1,60}$/.test(name)) {
    return fail("it needs a 'name' of letters, digits, '-' and '_'");
  }
  if (typeof file !== "string" || /[\\/]|^\./.test(file)) {
    return fail("it needs a 'file' that lies beside it");
  }
  if (/\.sigmf-/.test(file)) {
    return fail("a pair of SigMF files is not handed out: convert it to CSV");
  }
  if (typeof what !== "string") return fail("'what' must be a text");
  if (typeof reading !== "object" || reading === null) {
    return fail("'reading' must be options of readCapture");
  }
  const bytes = await Deno.readFile(join(folder, file)).catch((error) => {
    if (!(error instanceof Deno.errors.NotFound)) throw error;
    return fail(`there is no file '${file}' beside it`);
  });
  // A file that cannot be read is found now, not by thirty students
  await readCapture(bytes, {
    ...reading as ReadCaptureOptions,
    fileName: file,
  });
  const truths = valuesOf(own["truth"], "truth", fail);
  const accepted = valuesOf(own["accepted"], "accepted", fail);
  return {
    name,
    // The name of the file may tell more than a student should know
    file: name + (/\.[A-Za-z0-9]+(?:\.gz)?$/.exec(file)?.[0] ?? ""),
    bytes,
    what,
    reading: reading as ReadCaptureOptions,
    known: valuesOf(own["known"], "known", fail),
    truth: Object.fromEntries(
      Object.entries({ ...truths, ...accepted }).map(([name, value]) => [
        name,
        {
          value: value.value,
          expandedUncertainty: 2 * value.standardUncertainty,
        },
      ]),
    ),
  };
}

/** Values such as `650 nm`, or with `value`, uncertainty and `what`. */
function valuesOf(
  given: unknown,
  group: "known" | "truth" | "accepted",
  fail: Fail,
): Record<string, ManifestValue> {
  if (given === undefined || given === null) return {};
  if (typeof given !== "object" || Array.isArray(given)) {
    return fail(`'${group}' must be lines 'name: value'`);
  }
  return Object.fromEntries(
    Object.entries(given).map(([name, each]) => {
      const plain = typeof each === "string" || typeof each === "number";
      const own: Fields = plain ? { value: each } : each ?? {};
      const stated = group === "known" ? "standardUncertainty" : "U";
      for (const field of Object.keys(own)) {
        if (
          ["value", "what", ...(group === "truth" ? [] : [stated])]
            .includes(field)
        ) continue;
        fail(`'${group}.${name}' has no field '${field}'`);
      }
      const measure = parseMeasure(String(own["value"] ?? ""));
      if (measure === null) {
        return fail(
          `'${group}.${name}' needs a value with its unit, such as '143.7 mm': current value is ${
            JSON.stringify(own["value"] ?? null)
          }`,
        );
      }
      const unit = measure.unit === "" ? "1" : measure.unit;
      const text = own[stated];
      if (group === "accepted" && text === undefined) {
        fail(
          `'accepted.${name}' needs its expanded uncertainty 'U' (k = 2), such as '0.2 mm'`,
        );
      }
      const spread = text === undefined
        ? 0
        : amountOf(String(text), unit, measure.value);
      if (spread === null) {
        return fail(
          `'${group}.${name}' has the unit '${unit}', and its '${stated}' is '${text}'`,
        );
      }
      return [name, {
        value: measure.value,
        unit,
        standardUncertainty: group === "accepted" ? spread / 2 : spread,
        what: String(own["what"] ?? ""),
      }];
    }),
  );
}
