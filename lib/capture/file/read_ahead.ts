/** A stretch of a file that is read part by part. */
export interface Stretch {
  /** First byte. */
  readonly offset: number;
  /** Bytes in all. */
  readonly size: number;
  /** Bytes of one part. */
  readonly step: number;
  /** Where the bytes of a stretch are wanted; `null` if anywhere. */
  readonly target: Uint8Array<ArrayBuffer> | null;
}

/** Parts that are read while one is worked on. */
const ahead = 2;

/**
 * Reads a stretch of a file in other threads: while the caller works on one
 * part, those after it are read. Parts come in order; the last one is short, and
 * the rest is left out, where the file has shrunk.
 *
 * @param path The file.
 * @param stretch What to read. Without a target a part is overwritten once the
 * next one is asked for.
 */
export async function* readAhead(
  path: string,
  { offset, size, step, target }: Stretch,
): AsyncGenerator<Uint8Array<ArrayBuffer>> {
  const count = Math.ceil(size / step);
  // A file has one position: parts that are read at a time need one file each.
  const files: Deno.FsFile[] = [];
  const buffers = target !== null ? [] : Array.from(
    { length: Math.min(count, ahead + 1) },
    () => new Uint8Array(Math.min(step, size)),
  );
  const read = async (index: number) => {
    const at = index * step;
    const file = files[index % ahead]!;
    const buffer = target ?? buffers[index % buffers.length]!;
    const first = target === null ? 0 : at;
    const part = buffer.subarray(first, first + Math.min(step, size - at));
    file.seekSync(offset + at, Deno.SeekMode.Start);
    let done = 0;
    while (done < part.length) {
      const got = await file.read(part.subarray(done));
      if (got === null) break;
      done += got;
    }
    return part.subarray(0, done);
  };
  const waiting: Promise<Uint8Array<ArrayBuffer>>[] = [];
  const start = (index: number) => {
    const part = read(index);
    // Whoever awaits it hears of a failure; until then nobody does.
    part.catch(() => {});
    waiting.push(part);
  };
  try {
    for (let index = 0; index < Math.min(ahead, count); index++) {
      files.push(Deno.openSync(path, { read: true }));
      start(index);
    }
    for (let index = 0; index < count; index++) {
      const part = await waiting.shift()!;
      if (index + ahead < count) start(index + ahead);
      yield part;
      if (part.length < Math.min(step, size - index * step)) return;
    }
  } finally {
    await Promise.allSettled(waiting);
    for (const file of files) file.close();
  }
}
