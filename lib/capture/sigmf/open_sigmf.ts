import { CaptureFormatError } from "../../errors/mod.ts";
import { warn, type Warning } from "../../result/mod.ts";
import {
  integerLimits,
  type SampleLayout,
  sampleSize,
  type SampleType,
} from "../binary/sample_type.ts";
import { describedChannels, validDescription } from "../description.ts";
import { sha512Of } from "../../runtime/mod.ts";
import { type ByteSource, partOf } from "../file/byte_source.ts";
import type { OpenedBinary, OpenedChannel } from "../file/opened_file.ts";
import { place } from "../place.ts";
import { listTar } from "./tar.ts";

/** Longest metadata that is read, in bytes. */
const longestMeta = 1 << 24;

type Json = Record<string, unknown>;

const isObject = (value: unknown): value is Json =>
  typeof value === "object" && value !== null && !Array.isArray(value);

/** Makes the error for a file that is not a usable SigMF recording. */
function sigmfError(fileName: string | null) {
  return (what: string, byteOffset: number) =>
    new CaptureFormatError(
      `Cannot read ${place(fileName)} as SigMF as ${what}`,
      { fileName, byteOffset },
    );
}

/** Opens a SigMF archive (`.sigmf`, a tar of metadata and samples). */
export function openSigmfArchive(
  source: ByteSource,
  fileName: string | null,
): OpenedBinary {
  const fail = sigmfError(fileName);
  const members = listTar(source, fail);
  const metas = members.filter(({ name }) => name.endsWith(".sigmf-meta"));
  const meta = metas[0];
  if (meta === undefined) {
    throw fail("its archive holds no .sigmf-meta file", 0);
  }
  const base = meta.name.slice(0, -".sigmf-meta".length);
  const data = members.find(({ name }) => name === `${base}.sigmf-data`);
  if (data === undefined) {
    throw fail(`its archive holds no samples for '${base.slice(0, 60)}'`, 0);
  }
  const text = readMeta(partOf(source, meta.offset, meta.size), fail);
  const opened = openSigmf(
    text,
    partOf(source, data.offset, data.size),
    fileName,
  );
  if (metas.length === 1) return opened;
  return {
    ...opened,
    warnings: [
      ...opened.warnings,
      warn(
        "several-recordings",
        `The archive holds ${metas.length} recordings: only the first, '${
          base.slice(0, 60)
        }', was read. Unpack it to read the others`,
      ),
    ],
  };
}

/** Text of a metadata file, not longer than reason allows. */
export function readMeta(
  source: ByteSource,
  fail: (what: string, byteOffset: number) => Error = sigmfError(null),
): string {
  if (source.size > longestMeta) {
    throw fail(`its metadata has ${source.size} bytes`, 0);
  }
  return new TextDecoder().decode(source.read(0, source.size));
}

/**
 * Name of the samples file that a metadata text asks for: beside the metadata
 * and nowhere else.
 *
 * @returns A plain file name, or `null` for the usual `.sigmf-data`.
 */
export function datasetName(
  text: string,
  fileName: string | null,
): string | null {
  const name = parse(text, sigmfError(fileName)).global["core:dataset"];
  if (name === undefined) return null;
  if (
    typeof name !== "string" || !/^[^/\\:*?"<>|\0]+$/.test(name) ||
    name === "." || name === ".."
  ) {
    throw sigmfError(fileName)(
      "its 'core:dataset' is not a plain file name: samples are only read from the metadata's own folder",
      0,
    );
  }
  return name;
}

function parse(
  text: string,
  fail: (what: string, byteOffset: number) => Error,
): { global: Json; captures: Json[] } {
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch {
    throw fail("its metadata is not JSON", 0);
  }
  if (!isObject(json) || !isObject(json.global)) {
    throw fail("its metadata has no 'global' object", 0);
  }
  const captures = Array.isArray(json.captures)
    ? json.captures.filter(isObject)
    : [];
  return { global: json.global, captures };
}

const typePattern = /^([cr])(f32|f64|i32|i16|i8|u32|u16|u8)(?:_(le|be))?$/;

const types = new Map<string, SampleType>([
  ["f32", "float32"],
  ["f64", "float64"],
  ["i32", "int32"],
  ["i16", "int16"],
  ["i8", "int8"],
  ["u32", "uint32"],
  ["u16", "uint16"],
  ["u8", "uint8"],
]);

/** Opens a recording from its metadata text and its samples. */
export function openSigmf(
  text: string,
  source: ByteSource,
  fileName: string | null,
): OpenedBinary {
  const fail = sigmfError(fileName);
  const { global, captures } = parse(text, fail);
  const warnings: Warning[] = [];
  const datatype = String(global["core:datatype"]).slice(0, 40);
  const match = typePattern.exec(datatype);
  if (match === null) throw fail(`its datatype '${datatype}' is not known`, 0);
  const type = types.get(match[2]!)!;
  const isComplex = match[1] === "c";
  const size = sampleSize[type];
  const count = global["core:num_channels"] ?? 1;
  if (
    typeof count !== "number" || !Number.isInteger(count) || count < 1 ||
    count > 65536
  ) {
    throw fail(
      `its number of channels '${String(count).slice(0, 40)}' is not valid`,
      0,
    );
  }
  const first = captures[0] ?? {};
  const header = first["core:header_bytes"] ?? 0;
  const trailing = global["core:trailing_bytes"] ?? 0;
  if (
    !isCount(header) || !isCount(trailing) || header + trailing > source.size
  ) {
    throw fail("its header or trailing bytes do not fit the samples file", 0);
  }
  const lanes = count * (isComplex ? 2 : 1);
  const stride = lanes * size;
  const available = source.size - header - trailing;
  const sampleCount = Math.floor(available / stride);
  if (sampleCount === 0) throw fail("it holds no sample", 0);
  if (available % stride !== 0) {
    warnings.push(warn(
      "truncated",
      `The samples file ends inside a sample: its last ${
        available % stride
      } bytes were left out. The capture may be incomplete`,
    ));
  }
  const stated = global["core:sha512"];
  if (
    typeof stated === "string" && source.inMemory &&
    stated.toLowerCase() !== sha512Of(source.read(0, source.size))
  ) {
    warnings.push(warn(
      "checksum",
      "The samples do not have the SHA-512 that the metadata says: they were changed or damaged after recording. Get the file again",
    ));
  }
  if (captures.length > 1) {
    warnings.push(warn(
      "several-segments",
      `The recording has ${captures.length} capture segments: they were joined as if no time passed between them`,
    ));
  }
  const required = Array.isArray(global["core:extensions"])
    ? global["core:extensions"].filter((item) =>
      isObject(item) && item.optional === false
    ).map((item) => String((item as Json).name).slice(0, 40))
    : [];
  if (required.length > 0) {
    warnings.push(warn(
      "unknown-extension",
      `The recording says that extensions must be understood that are not known here: ${
        required.join(", ")
      }`,
    ));
  }
  const rate = global["core:sample_rate"];
  const start = first["core:datetime"];
  const description = validDescription(global["fringebook:capture"]);
  const described = description !== null &&
    description.channels.length === lanes && type === "float64";
  const channels: OpenedChannel[] = described
    ? describedChannels(description)
    : Array.from({ length: lanes }, (_, lane) => ({
      name: `channel ${isComplex ? (lane >> 1) + 1 : lane + 1}${
        isComplex ? (lane % 2 === 0 ? " real part" : " imaginary part") : ""
      }`,
      unit: "1",
      scale: 1,
      fullScale: integerLimits(type),
      role: null,
    }));
  const layouts = Array.from({ length: lanes }, (_, lane): SampleLayout => ({
    type,
    littleEndian: match[3] !== "be",
    offset: header + lane * size,
    stride,
  }));
  return {
    format: "SigMF",
    variant: `${datatype}, ${count} channels`,
    channels,
    samplingRate: described
      ? description.samplingRate
      : typeof rate === "number" && rate > 0 && Number.isFinite(rate)
      ? rate
      : null,
    startTime: described
      ? description.startTime
      : typeof start === "string"
      ? start.slice(0, 64)
      : null,
    metadata: described ? description.metadata : globalText(global),
    assumptions: described ? [] : [{
      what: "unit",
      value: "the file's numbers",
      because: "SigMF holds no unit",
      option: "channels",
    }],
    warnings,
    sampleCount,
    source,
    layouts,
    timeChannel: null,
  };
}

function isCount(value: unknown): value is number {
  return typeof value === "number" && Number.isSafeInteger(value) && value >= 0;
}

function globalText(global: Json): Record<string, string> {
  return Object.fromEntries(
    Object.entries(global).slice(0, 1000)
      .filter(([, value]) =>
        typeof value === "string" || typeof value === "number"
      )
      .map(([key, value]) => [
        key.slice(0, 200),
        String(value).slice(0, 10_000),
      ]),
  );
}
