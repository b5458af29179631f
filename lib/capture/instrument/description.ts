import { type ChannelRole, channelRoles } from "../capture.ts";
import { sampleSize, type SampleType } from "../binary/sample_type.ts";
import generic from "./generic_scpi.json" with { type: "json" };

/** A number, or a query that the instrument answers with one. */
export type NumberOrQuery = number | { readonly query: string };

/** How one channel is asked for. */
export interface InstrumentChannel {
  /** Name of the channel. */
  readonly name: string;
  /** What the channel carries. */
  readonly role: ChannelRole;
  /** SI unit without prefix. */
  readonly unit: string;
  /** Commands before the data query. */
  readonly select: readonly string[];
  /** Query that is answered with a block or with numbers as text. */
  readonly data: string;
  /** How samples are stored in a block. */
  readonly type: SampleType;
  /** Least significant byte first. */
  readonly littleEndian: boolean;
  /** The number that means `offset`: value = (number − reference) scale + offset. */
  readonly reference: NumberOrQuery;
  /** Factor from numbers to `unit`. */
  readonly scale: NumberOrQuery;
  /** Value of the reference number, in `unit`. */
  readonly offset: NumberOrQuery;
}

/** What to say to an instrument to get a capture; kept as a JSON file. */
export interface InstrumentDescription {
  /** Name of the kind of instrument, for the record. */
  readonly name: string;
  /** TCP port. */
  readonly port: number;
  /** Commands before the acquisition. */
  readonly setup: readonly string[];
  /** Commands that start it. */
  readonly acquire: readonly string[];
  /** Query that is answered when it is done; `null` for none. */
  readonly complete: string | null;
  /** Query of the error queue, answered `0,…` if empty; `null` for none. */
  readonly error: string | null;
  /** Time between samples, in s. */
  readonly sampleInterval: NumberOrQuery;
  /** Channels to read, in order. */
  readonly channels: readonly InstrumentChannel[];
}

const roles: readonly string[] = channelRoles;

/**
 * Checks the JSON of an instrument description and fills in what is left out.
 *
 * @param json The parsed JSON.
 * @returns The description.
 * @throws {TypeError} If a field is missing or of the wrong kind; the message
 * names it.
 *
 * @example
 * ```ts
 * import { genericScpi, parseInstrumentDescription } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * const json = JSON.parse(JSON.stringify(genericScpi));
 * json.channels[0].data = "TRACe:DATA? CH2";
 * expect(parseInstrumentDescription(json).channels[0]?.unit).toBe("V");
 * ```
 */
export function parseInstrumentDescription(
  json: unknown,
): InstrumentDescription {
  const top = objectOf(json, "the description");
  const channels = top.channels;
  if (!Array.isArray(channels) || channels.length === 0) {
    throw wrong("channels", "a list of at least one channel", channels);
  }
  return {
    name: textOf(top, "name", "instrument"),
    port: portOf(top.port ?? 5025),
    setup: commandsOf(top, "setup"),
    acquire: commandsOf(top, "acquire"),
    complete: top.complete === null ? null : textOf(top, "complete", "*OPC?"),
    error: top.error === null ? null : textOf(top, "error", "SYSTem:ERRor?"),
    sampleInterval: numberOrQuery(top, "sampleInterval", undefined),
    channels: channels.map((item, index) =>
      channelOf(objectOf(item, `channels[${index}]`))
    ),
  };
}

function channelOf(item: Record<string, unknown>): InstrumentChannel {
  const role = textOf(item, "role", "other");
  if (!roles.includes(role)) throw wrong("role", roles.join(", "), role);
  const type = textOf(item, "type", "float64");
  if (!Object.hasOwn(sampleSize, type)) {
    throw wrong("type", Object.keys(sampleSize).join(", "), type);
  }
  const { littleEndian = true } = item;
  if (typeof littleEndian !== "boolean") {
    throw wrong("littleEndian", "true or false", littleEndian);
  }
  return {
    name: textOf(item, "name", undefined),
    role: role as ChannelRole,
    unit: textOf(item, "unit", undefined),
    select: commandsOf(item, "select"),
    data: textOf(item, "data", undefined),
    type: type as SampleType,
    littleEndian,
    reference: numberOrQuery(item, "reference", 0),
    scale: numberOrQuery(item, "scale", 1),
    offset: numberOrQuery(item, "offset", 0),
  };
}

function wrong(field: string, wanted: string, value: unknown): TypeError {
  return new TypeError(
    `Cannot use the instrument description as '${field}' must be ${wanted}: current value is ${
      String(JSON.stringify(value)).slice(0, 60)
    }`,
  );
}

function objectOf(value: unknown, field: string): Record<string, unknown> {
  if (typeof value !== "object" || value === null || Array.isArray(value)) {
    throw wrong(field, "an object", value);
  }
  return value as Record<string, unknown>;
}

function textOf(
  object: Record<string, unknown>,
  field: string,
  otherwise: string | undefined,
): string {
  const value = object[field] ?? otherwise;
  if (typeof value !== "string" || /[\r\n]/.test(value) || value === "") {
    throw wrong(field, "one line of text", value);
  }
  return value;
}

function portOf(value: unknown): number {
  if (
    typeof value !== "number" || !Number.isInteger(value) || value < 1 ||
    value > 65535
  ) throw wrong("port", "a whole number from 1 to 65535", value);
  return value;
}

function commandsOf(object: Record<string, unknown>, field: string): string[] {
  const value = object[field] ?? [];
  if (
    !Array.isArray(value) ||
    !value.every((item) => typeof item === "string" && !/[\r\n]/.test(item))
  ) throw wrong(field, "a list of one-line commands", value);
  return value as string[];
}

function numberOrQuery(
  object: Record<string, unknown>,
  field: string,
  otherwise: number | undefined,
): NumberOrQuery {
  const value = object[field] ?? otherwise;
  if (typeof value === "number" && Number.isFinite(value)) return value;
  if (typeof value === "object" && value !== null) {
    return {
      query: textOf(value as Record<string, unknown>, "query", undefined),
    };
  }
  throw wrong(field, "a number, or { query }", value);
}

/**
 * Commands of SCPI-1999 and IEEE 488.2 only: a start for a description of your
 * own instrument.
 */
export const genericScpi: InstrumentDescription = parseInstrumentDescription(
  generic,
);
