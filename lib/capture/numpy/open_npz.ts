import { CaptureFormatError } from "../../errors/mod.ts";
import { warn, type Warning } from "../../result/mod.ts";
import { integerLimits, type SampleLayout } from "../binary/sample_type.ts";
import { describedChannels, parseDescription } from "../description.ts";
import type { ByteSource } from "../file/byte_source.ts";
import type { OpenedBinary, OpenedChannel } from "../file/opened_file.ts";
import { defaultMaximumSize, mostUnpacked } from "../file/unpacked_size.ts";
import { place } from "../place.ts";
import { isTimeHeading } from "../time_name.ts";
import { parseUnit, splitHeading } from "../../units/mod.ts";
import { type NpyHeader, readNpyHeader } from "./npy_header.ts";
import { arrange, readSmallArray, readTextArray } from "./open_npy.ts";
import { listZip, openMember } from "./zip.ts";

interface Member {
  readonly name: string;
  readonly source: ByteSource;
  readonly header: NpyHeader;
}

const rateName = /^(sampling_?rate|sample_?rate|fs|sampling_?frequency)$/i;
const intervalName = /^(dt|delta_?t|sampl(e|ing)_?(interval|period))$/i;

/**
 * Opens an .npz archive: every array of the greatest length is a channel, or
 * several where it has two axes; a scalar named like a sampling rate or interval
 * is that.
 */
export function openNpz(
  source: ByteSource,
  fileName: string | null,
  maximumSize: number | undefined,
): OpenedBinary {
  const fail = (what: string, byteOffset: number) =>
    new CaptureFormatError(
      `Cannot read ${place(fileName)} as NPZ as ${what}`,
      { fileName, byteOffset },
    );
  const members: Member[] = [];
  let budget = maximumSize ??
    Math.min(defaultMaximumSize, mostUnpacked(source.size));
  for (const member of listZip(source, fail)) {
    if (!member.name.endsWith(".npy")) continue;
    const opened = openMember(source, member, budget, fail);
    if (opened.inMemory && member.method !== 0) budget -= member.size;
    const name = member.name.slice(0, -4);
    const header = readNpyHeader(
      opened,
      (what, at) => fail(`${what} (array '${name.slice(0, 60)}')`, at),
    );
    members.push({ name, source: opened, header });
  }
  let samplingRate: number | null = null;
  let description = null;
  const arrays: (Member & ReturnType<typeof arrange>)[] = [];
  for (const member of members) {
    const { shape, fields } = member.header;
    const axes = shape.filter((size) => size !== 1);
    if (axes.length > 0) {
      if (axes.length > 2 || fields.length === 0 || axes.includes(0)) continue;
      const arranged = arrange(member.header, fail, member.name);
      arrays.push({ ...member, ...arranged });
      continue;
    }
    const text = readTextArray(member.source, member.header);
    if (text !== null) description ??= parseDescription(text);
    const value = readSmallArray(member.source, member.header)[0];
    if (value === undefined || !(value > 0) || value === Infinity) continue;
    if (rateName.test(member.name)) samplingRate = value;
    else if (intervalName.test(member.name)) samplingRate ??= 1 / value;
  }
  const sampleCount = Math.max(0, ...arrays.map((array) => array.sampleCount));
  const used = arrays.filter((array) => array.sampleCount === sampleCount);
  if (sampleCount === 0) {
    throw fail(
      `it has no array of numbers with one or two axes: arrays are ${
        members.map(({ name }) => `'${name.slice(0, 40)}'`).slice(0, 20)
          .join(", ") || "none"
      }`,
      0,
    );
  }
  const channels: OpenedChannel[] = [];
  const layouts: SampleLayout[] = [];
  const sources: ByteSource[] = [];
  let timeChannel: number | null = null;
  for (const { source, names, layouts: places } of used) {
    places.forEach((layout, at) => {
      const { name, unit } = splitHeading(names[at]!);
      const parsed = unit === null ? null : parseUnit(unit);
      if (isTimeHeading(name, unit)) timeChannel ??= channels.length;
      channels.push({
        name,
        unit: parsed?.unit ?? unit ?? "1",
        scale: parsed?.factor ?? 1,
        fullScale: integerLimits(layout.type),
        role: null,
      });
      layouts.push(layout);
      sources.push(source);
    });
  }
  if (channels.length === 0) throw fail("its arrays hold no numbers", 0);
  const { joined, starts } = join(sources);
  const described = description !== null &&
    description.channels.length === channels.length;
  return {
    format: "NPZ",
    variant: `${channels.length} arrays of ${sampleCount}`,
    channels: described ? describedChannels(description!) : channels,
    samplingRate: described ? description!.samplingRate : samplingRate,
    startTime: described ? description!.startTime : null,
    metadata: described ? description!.metadata : {},
    assumptions: described ? [] : [{
      what: "channels",
      value: channels.map(({ name }) => name.slice(0, 60)).join(", "),
      because: `these arrays have the most elements, ${sampleCount}`,
      option: "channels",
    }],
    warnings: leftOut(arrays, sampleCount),
    sampleCount,
    source: joined,
    layouts: layouts.map((layout, at) => ({
      ...layout,
      offset: layout.offset + starts[at]!,
    })),
    timeChannel: channels.length > 1 && !described ? timeChannel : null,
  };
}

/** Says which arrays are too short to be channels of this capture. */
function leftOut(
  arrays: readonly { readonly name: string; readonly sampleCount: number }[],
  longest: number,
): Warning[] {
  const others = arrays.filter(({ sampleCount }) => sampleCount !== longest);
  return others.length === 0 ? [] : [warn(
    "arrays-left-out",
    `Only arrays of ${longest} samples were read; left out were ${
      others.slice(0, 10).map(({ name, sampleCount }) =>
        `'${name.slice(0, 40)}' of ${sampleCount}`
      ).join(", ")
    }`,
    "note",
  )];
}

/** Puts several sources behind one another, each at its own start. */
function join(
  sources: readonly ByteSource[],
): { joined: ByteSource; starts: number[] } {
  const starts: number[] = [];
  let size = 0;
  for (const source of sources) {
    starts.push(size);
    size += source.size;
  }
  const memberAt = (offset: number): number => {
    let at = starts.length - 1;
    while (at > 0 && starts[at]! > offset) at--;
    return at;
  };
  const joined: ByteSource = {
    size,
    inMemory: sources.every(({ inMemory }) => inMemory),
    owned: sources.every(({ owned }) => owned),
    read(offset, length) {
      const at = memberAt(offset);
      return sources[at]!.read(offset - starts[at]!, length);
    },
    readInto(offset, target) {
      const at = memberAt(offset);
      return sources[at]!.readInto(offset - starts[at]!, target);
    },
    close: () => sources[0]?.close(),
  };
  return { joined, starts };
}
