/** Options of {@linkcode writeWav}. */
export interface WriteWavOptions {
  /** Samples per second, in Hz; a whole number. */
  readonly samplingRate: number;
  /** Bits of a sample. */
  readonly bits: 16 | 24;
  /** Comment in the file. */
  readonly comment: string;
}

/**
 * Writes PCM WAV as an audio interface would. Samples are relative to full
 * scale, -1 to 1; what lies outside is held at the end.
 */
export function writeWav(
  channels: readonly ArrayLike<number>[],
  options: WriteWavOptions,
): Uint8Array<ArrayBuffer> {
  const { samplingRate, bits, comment } = options;
  const width = bits / 8;
  const frames = channels[0]?.length ?? 0;
  const dataSize = frames * channels.length * width;
  const text = new TextEncoder().encode(comment + "\0");
  const textSize = text.length + (text.length & 1);
  const listSize = 4 + 8 + textSize;
  const bytes = new Uint8Array(12 + 24 + 8 + listSize + 8 + dataSize);
  const view = new DataView(bytes.buffer);
  let at = 0;
  const tag = (id: string) => {
    for (const letter of id) view.setUint8(at++, letter.charCodeAt(0));
  };
  const long = (value: number) => {
    view.setUint32(at, value, true);
    at += 4;
  };
  const short = (value: number) => {
    view.setUint16(at, value, true);
    at += 2;
  };
  tag("RIFF");
  long(bytes.length - 8);
  tag("WAVE");
  tag("fmt ");
  long(16);
  short(1);
  short(channels.length);
  long(samplingRate);
  long(samplingRate * channels.length * width);
  short(channels.length * width);
  short(bits);
  tag("LIST");
  long(listSize);
  tag("INFO");
  tag("ICMT");
  long(text.length);
  bytes.set(text, at);
  at += textSize;
  tag("data");
  long(dataSize);
  const top = 2 ** (bits - 1);
  for (let i = 0; i < frames; i++) {
    for (const channel of channels) {
      const code = Math.round(channel[i]! * top);
      const held = Math.min(top - 1, Math.max(-top, code));
      view.setUint8(at++, held & 0xff);
      view.setUint8(at++, (held >> 8) & 0xff);
      if (bits === 24) view.setUint8(at++, (held >> 16) & 0xff);
    }
  }
  return bytes;
}
