import { parseQuantity, parseUnit, splitHeading } from "../../units/mod.ts";
import type { HeadLine, SniffedTable } from "./sniff.ts";
import { splitLine, unquote } from "./lines.ts";

/** What the lines above the numbers say. */
export interface TextHeader {
  /** Name of each field, `null` where there is none. */
  readonly names: readonly (string | null)[];
  /** Unit text of each field, `null` where there is none. */
  readonly units: readonly (string | null)[];
  /** `key: value` text; untrusted input. */
  readonly metadata: Readonly<Record<string, string>>;
  /** Sampling rate said by the metadata, in Hz; `null` if it is silent. */
  readonly samplingRate: number | null;
  /** The metadata key that said it. */
  readonly samplingRateKey: string | null;
  /** Start time, ISO 8601; `null` if the metadata is silent. */
  readonly startTime: string | null;
  /** Whether a names line was found with another number of fields. */
  readonly mismatchedNames: number | null;
}

const mostEntries = 2000;
const longestValue = 10_000;

/** Reads names, units and metadata from the lines above the numbers. */
export function readHeader(
  lines: readonly HeadLine[],
  table: SniffedTable,
): TextHeader {
  const { delimiter, fieldCount, dataLine } = table;
  const header = lines.slice(0, dataLine)
    .map(({ text }) => text.replace(/^\s*(?:[#%!]|\/\/)+/, ""))
    .filter((text) => text.trim() !== "");
  const cells = header.map((text) => headingCells(text, delimiter, fieldCount));
  let used = header.length;
  let units: string[] | null = null;
  let names: string[] | null = null;
  const last = cells.at(-1);
  if (last !== undefined && isUnitsLine(last, fieldCount)) {
    units = last.map((cell) => cell.replace(/^[([]|[)\]]$/g, "").trim());
    used--;
  }
  const above = cells[used - 1];
  let mismatchedNames: number | null = null;
  const values: [string, string][] = [];
  const title = cells[used - 2];
  if (
    above !== undefined && title !== undefined && units === null &&
    isValuesLine(above, title, header[used - 2]!, fieldCount)
  ) {
    title.forEach((name, at) => {
      if (parseQuantity(above[at]!) !== null) values.push([name, above[at]!]);
    });
    const said = (at: number) => values.some(([name]) => name === title[at]);
    names = title.map((name, at) => said(at) ? "" : name);
    units = above.map((cell) => parseUnit(cell) === null ? "" : cell);
    used -= 2;
  } else if (above !== undefined && isNamesLine(above, header[used - 1]!)) {
    if (above.length === fieldCount) {
      names = above;
      used--;
    } else if (!isLabelled(cells.slice(0, used), fieldCount)) {
      if (above.length > 1 || fieldCount > 1) mismatchedNames = above.length;
    }
  }
  if (names === null) {
    const row = (label: RegExp) =>
      cells.slice(0, used).findLast((line) =>
        line.length === fieldCount + 1 && label.test(line[0]!)
      )?.slice(1) ?? null;
    names = row(/^(trace ?name|channel( name)?|name|signal|source|label)$/i);
    units ??= row(unitsLabel);
  }
  // A label in the place of the time column, then a unit for each channel.
  units ??=
    cells.slice(0, used).findLast((line) =>
      line.length === fieldCount && unitsLabel.test(line[0]!) &&
      line.slice(1).every((cell) => parseUnit(cell) !== null)
    )?.with(0, "") ?? null;
  const metadata = new Map<string, string>(values);
  for (let index = 0; index < used; index++) {
    addEntry(metadata, header[index]!, cells[index]!);
  }
  addRemarksAside(metadata, lines, table);
  const rate = findSamplingRate(metadata);
  const split = (names ?? []).map((name) => splitHeading(name));
  return {
    names: Array.from(
      { length: fieldCount },
      (_, index) => split[index]?.name || null,
    ),
    units: Array.from(
      { length: fieldCount },
      (_, index) => units?.[index] || split[index]?.unit || null,
    ),
    metadata: Object.fromEntries(metadata),
    samplingRate: rate?.value ?? null,
    samplingRateKey: rate?.key ?? null,
    startTime: findStartTime(metadata),
    mismatchedNames,
  };
}

const unitsLabel = /^((v|vertical |y ?)?units?)$/i;

/**
 * Whether a line gives, under names, a value for some of them, such as the
 * increment of time, and units or words for the others.
 */
export function isValuesLine(
  cells: readonly string[],
  names: string[],
  namesText: string,
  fieldCount: number,
): boolean {
  return cells.length === fieldCount && names.length === fieldCount &&
    isNamesLine(names, namesText) &&
    names.some((name, at) =>
      (rateKey.test(name) || intervalKey.test(name)) &&
      parseQuantity(cells[at]!) !== null
    );
}

/** Remarks in fields of their own beside the first rows of numbers. */
function addRemarksAside(
  metadata: Map<string, string>,
  lines: readonly HeadLine[],
  { fieldKinds, delimiter, dataLine }: SniffedTable,
): void {
  if (!fieldKinds.includes("aside")) return;
  for (const { text } of lines.slice(dataLine)) {
    const cells = splitLine(text, delimiter).map(unquote).filter((cell, at) =>
      fieldKinds[at] === "aside" && cell !== ""
    );
    if (cells.length === 0) continue;
    addEntry(metadata, cells.join(" "), cells);
  }
}

/**
 * Cells of a heading line. Between spaces, a unit in brackets belongs to the
 * word before it, and names may be set apart by two spaces or more.
 */
function headingCells(
  text: string,
  delimiter: string,
  fieldCount: number,
): string[] {
  const cells = trimEmptyTail(
    splitLine(text, delimiter).map(unquote),
    fieldCount,
  );
  if (delimiter !== " " || cells.length === fieldCount) return cells;
  const merged: string[] = [];
  for (const cell of cells) {
    if (/^[([]/.test(cell) && merged.length > 0) {
      merged[merged.length - 1] += ` ${cell}`;
    } else merged.push(cell);
  }
  if (merged.length === fieldCount) return merged;
  const apart = text.trim().split(/ {2,}|\t+/).map(unquote);
  return apart.length === fieldCount ? apart : cells;
}

/** Whether the heading is made of lines with a label and a cell per column. */
function isLabelled(cells: readonly string[][], fieldCount: number): boolean {
  return cells.filter((line) => line.length === fieldCount + 1).length > 1;
}

function trimEmptyTail(cells: string[], fieldCount: number): string[] {
  while (cells.length > fieldCount && cells.at(-1) === "") cells.pop();
  return cells;
}

function isUnitsLine(cells: string[], fieldCount: number): boolean {
  const filled = cells.filter((cell) => cell !== "");
  return cells.length === fieldCount && filled.length > 0 &&
    filled.every((cell) =>
      /^[([].*[)\]]$/.test(cell) || parseUnit(cell) !== null
    ) && !filled.every((cell) => /^[A-Z]$/.test(cell) && cells.length > 1);
}

/** Whether a line of a heading names fields. */
export function isNamesLine(cells: string[], line: string): boolean {
  const start = line.slice(0, 4096);
  if (/^[^,;\t]*[:=]/.test(start) && !/[([][^)\]]*[:=]/.test(start)) {
    return false;
  }
  const texts = cells.filter((cell) =>
    cell !== "" && parseQuantity(cell) === null
  );
  return texts.length === cells.filter((cell) => cell !== "").length &&
    texts.length > 0;
}

function addEntry(
  metadata: Map<string, string>,
  line: string,
  cells: string[],
): void {
  if (metadata.size >= mostEntries) return;
  line = line.trim().slice(0, 2 * longestValue);
  let key: string;
  let value: string;
  const match = /^\s*"?([^:=,;\t]{1,200}?)"?\s*[:=]\s*(.*)$/.exec(line) ??
    (cells.length > 1
      ? null
      : /^\s*([^,;\t]{1,200}?)\s*[,;\t]\s*(.*)$/.exec(line));
  if (match !== null) {
    key = match[1]!;
    value = match[2]!.replace(/[,;\t\s]+$/, "");
  } else if (cells.length > 1) {
    const filled = cells.filter((cell) => cell !== "");
    key = (filled[0] ?? "").replace(/[:=]\s*$/, "");
    value = filled.slice(1).join(" ");
  } else {
    key = `line ${metadata.size + 1}`;
    value = line.trim();
  }
  key = unquote(key.trim()).slice(0, 200);
  if (key === "") return;
  let unique = key;
  for (let n = 2; metadata.has(unique) && n < 100; n++) unique = `${key} ${n}`;
  metadata.set(unique, unquote(value).slice(0, longestValue));
}

const rateKey =
  /^(?:sampl(?:e|ing)[ _-]?(?:rate|freq(?:uency)?)|acquisition rate|scan rate|samples? per second|fs)$/i;
const intervalKey =
  /^(?:sampl(?:e|ing)[ _-]?(?:interval|period|time|spacing)|(?:time[ _-]?)(?:interval|increment|step|resolution|per sample|base interval)|(?:x|horizontal)[ _-]?(?:increment|interval|resolution)|(?:increment|interval)|delta[ _-]?t|Δt|dt|t[ _-]?inc)$/i;

function findSamplingRate(
  metadata: ReadonlyMap<string, string>,
): { value: number; key: string } | null {
  for (const [key, text] of metadata) {
    const { name, unit } = splitHeading(key);
    const isRate = rateKey.test(name.trim());
    if (!isRate && !intervalKey.test(name.trim())) continue;
    // One value per column comes as "2e-6 2e-6".
    const [first, ...others] = text.split(/\s+/);
    const repeated = others.length > 0 &&
      others.every((item) => item === first);
    // A key may end in the unit of a value that has a prefix only.
    const found = parseQuantity(repeated ? first! : text) ??
      (unit === null ? null : parseQuantity(`${text}${unit}`));
    if (found === null || !(found.value > 0)) continue;
    const factor = found.unit === null && unit !== null
      ? parseUnit(unit)?.factor ?? 1
      : 1;
    const number = found.value * factor;
    // A "sample time" given in Hz is a rate, and the other way round.
    const inHertz = found.unit === "Hz" || (found.unit !== "s" && isRate);
    const value = inHertz ? number : 1 / number;
    if (Number.isFinite(value) && value > 0) return { value, key };
  }
  return null;
}

function findStartTime(metadata: ReadonlyMap<string, string>): string | null {
  for (const [key, text] of metadata) {
    if (
      !/^(?:start(?:ed)?(?: ?time)?|trigger time|date ?time|timestamp|acquired|recorded|date)$/i
        .test(key)
    ) {
      continue;
    }
    const match =
      /^(\d{4}-\d{2}-\d{2})[T ](\d{2}:\d{2}:\d{2}(?:\.\d+)?)\s*(Z|[-+]\d{2}:\d{2})?$/
        .exec(text.trim());
    if (match !== null) return `${match[1]}T${match[2]}${match[3] ?? ""}`;
    if (/^\d{4}-\d{2}-\d{2}$/.test(text.trim())) return text.trim();
  }
  return null;
}
