import { CaptureFormatError } from "../../errors/mod.ts";
import { integerLimits, type SampleLayout } from "../binary/sample_type.ts";
import { decodeSamples } from "../binary/decode_samples.ts";
import type { ByteSource } from "../file/byte_source.ts";
import type {
  OpenedBinary,
  OpenedChannel,
  ReadingAssumption,
} from "../file/opened_file.ts";
import { place } from "../place.ts";
import { isTimeHeading } from "../time_name.ts";
import { parseUnit, splitHeading } from "../../units/mod.ts";
import { type NpyHeader, readNpyHeader } from "./npy_header.ts";

/** Most channels a file may have. */
const mostChannels = 4096;

/** Makes the error for a file that is not a usable .npy. */
export function npyError(fileName: string | null) {
  return (what: string, byteOffset: number) =>
    new CaptureFormatError(
      `Cannot read ${place(fileName)} as NPY as ${what}`,
      { fileName, byteOffset },
    );
}

/**
 * Opens an .npy file: one channel per row or column of a two-dimensional array
 * (the shorter axis), or per field of a structured array.
 */
export function openNpy(
  source: ByteSource,
  fileName: string | null,
): OpenedBinary {
  const fail = npyError(fileName);
  const header = readNpyHeader(source, fail);
  const { sampleCount, layouts, names, assumptions } = arrange(header, fail);
  if (sampleCount === 0) throw fail("it holds no sample", header.dataOffset);
  const channels = names.map((heading, at): OpenedChannel => {
    const { name, unit } = splitHeading(heading);
    const parsed = unit === null ? null : parseUnit(unit);
    return {
      name,
      unit: parsed?.unit ?? unit ?? "1",
      scale: parsed?.factor ?? 1,
      fullScale: integerLimits(layouts[at]!.type),
      role: null,
    };
  });
  const timeChannel = names.findIndex((heading, at) =>
    isTimeHeading(channels[at]!.name, splitHeading(heading).unit)
  );
  return {
    format: "NPY",
    variant: `${header.descr.slice(0, 200)} (${header.shape.join(", ")})`,
    channels,
    samplingRate: null,
    startTime: null,
    metadata: {},
    assumptions,
    warnings: [],
    sampleCount,
    source,
    layouts,
    timeChannel: timeChannel >= 0 && channels.length > 1 ? timeChannel : null,
  };
}

/**
 * Where the samples of each channel of an array lie.
 *
 * @param name Name of the array; `null` if it has none.
 */
export function arrange(
  header: NpyHeader,
  fail: (what: string, byteOffset: number) => Error,
  name: string | null = null,
): {
  sampleCount: number;
  layouts: SampleLayout[];
  names: string[];
  assumptions: ReadingAssumption[];
} {
  const { shape, fields, itemSize, dataOffset, fortranOrder } = header;
  if (fields.length === 0) throw fail("it holds text, not numbers", dataOffset);
  const axes = shape.filter((size) => size !== 1);
  if (axes.length > 2) {
    throw fail(
      `its shape (${
        shape.join(", ")
      }) has ${axes.length} axes: one or two are read`,
      dataOffset,
    );
  }
  const [rows = 1, columns = 1] = axes;
  const samplesFirst = rows >= columns;
  const sampleCount = samplesFirst ? rows : columns;
  const channelCount = samplesFirst ? columns : rows;
  if (channelCount === 0) {
    throw fail(`its shape (${shape.join(", ")}) holds nothing`, dataOffset);
  }
  if (channelCount * fields.length > mostChannels) {
    throw fail(`it has ${channelCount} channels`, dataOffset);
  }
  // Is the next sample next in the file, or the next channel?
  const samplesAdjacent = channelCount === 1 || (samplesFirst === fortranOrder);
  const stride = samplesAdjacent ? itemSize : itemSize * channelCount;
  const step = samplesAdjacent ? itemSize * sampleCount : itemSize;
  const layouts: SampleLayout[] = [];
  const names: string[] = [];
  for (let channel = 0; channel < channelCount; channel++) {
    for (const field of fields) {
      const number = channelCount > 1 ? ` ${channel + 1}` : "";
      const part = field.part === null ? "" : ` ${field.part} part`;
      names.push(
        `${field.name ?? name ?? "channel"}${
          number || (field.name === null && name === null ? " 1" : "")
        }${part}`,
      );
      layouts.push({
        type: field.type,
        littleEndian: field.littleEndian,
        offset: dataOffset + channel * step + field.offset,
        stride,
      });
    }
  }
  const assumptions: ReadingAssumption[] = channelCount > 1
    ? [{
      what: "samples",
      value: samplesFirst ? "along the first axis" : "along the second axis",
      because: `the shape is (${
        shape.join(", ")
      }) and the longer axis is taken for time`,
      option: "",
    }]
    : [];
  return { sampleCount, layouts, names, assumptions };
}

/** All numbers of a small array, such as a scalar in an .npz. */
export function readSmallArray(
  source: ByteSource,
  header: NpyHeader,
): number[] {
  const field = header.fields[0];
  const count = header.shape.reduce((product, size) => product * size, 1);
  if (field === undefined || header.fields.length !== 1 || count > 1024) {
    return [];
  }
  const target = new Float64Array(count);
  const bytes = source.read(header.dataOffset, count * header.itemSize);
  decodeSamples(
    bytes,
    0,
    { ...field, stride: header.itemSize },
    target,
    0,
    count,
  );
  return Array.from(target);
}

/** Text of a zero-dimensional text array (UTF-32); `null` if it is none. */
export function readTextArray(
  source: ByteSource,
  header: NpyHeader,
): string | null {
  const count = header.shape.reduce((product, size) => product * size, 1);
  if (header.characters === 0 || count !== 1) return null;
  const bytes = source.read(header.dataOffset, header.characters * 4);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const little = !header.descr.startsWith("'>");
  const parts: string[] = [];
  for (let at = 0; at + 4 <= bytes.length; at += 4) {
    const point = view.getUint32(at, little);
    if (point === 0) break;
    if (point > 0x10ffff) return null;
    parts.push(String.fromCodePoint(point));
  }
  return parts.join("");
}
