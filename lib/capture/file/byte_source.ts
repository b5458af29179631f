/** Bytes that can be read anywhere: a file or memory. */
export interface ByteSource {
  /** Total bytes. */
  readonly size: number;
  /**
   * Bytes from an offset; fewer than asked at the end. The array may be a view
   * that the next call overwrites.
   */
  read(offset: number, length: number): Uint8Array;
  /** Fills an array from an offset; returns how many bytes there were. */
  readInto(offset: number, target: Uint8Array): number;
  /** Whether all bytes are in memory (reads copy nothing). */
  readonly inMemory: boolean;
  /** Whether nobody else uses the bytes in memory, so that they may change. */
  readonly owned: boolean;
  /** Lets go of the file. */
  close(): void;
}

/** Bytes in memory. */
export function memorySource(bytes: Uint8Array, owned = false): ByteSource {
  return {
    size: bytes.length,
    inMemory: true,
    owned,
    read: (offset, length) =>
      bytes.subarray(offset, Math.min(bytes.length, offset + length)),
    readInto(offset, target) {
      const part = bytes.subarray(offset, offset + target.length);
      target.set(part);
      return part.length;
    },
    close: () => {},
  };
}

/** A part of another source, such as a member of an archive. */
export function partOf(
  source: ByteSource,
  offset: number,
  size: number,
): ByteSource {
  return {
    size,
    inMemory: source.inMemory,
    owned: source.owned,
    read: (at, length) =>
      source.read(offset + at, Math.max(0, Math.min(length, size - at))),
    readInto: (at, target) =>
      source.readInto(
        offset + at,
        target.subarray(0, Math.max(0, Math.min(target.length, size - at))),
      ),
    close: () => source.close(),
  };
}

/** A file opened for reading; only what is asked for is read. */
export function fileSource(path: string | URL): ByteSource {
  const file = Deno.openSync(path, { read: true });
  const { size } = file.statSync();
  let buffer = new Uint8Array(0);
  const readInto = (offset: number, target: Uint8Array): number => {
    const wanted = Math.max(0, Math.min(target.length, size - offset));
    if (wanted === 0) return 0;
    file.seekSync(offset, Deno.SeekMode.Start);
    let done = 0;
    while (done < wanted) {
      const got = file.readSync(target.subarray(done, wanted));
      if (got === null) break;
      done += got;
    }
    return done;
  };
  return {
    size,
    inMemory: false,
    owned: false,
    read(offset, length) {
      const wanted = Math.max(0, Math.min(length, size - offset));
      if (buffer.length < wanted) buffer = new Uint8Array(wanted);
      return buffer.subarray(0, readInto(offset, buffer.subarray(0, wanted)));
    },
    readInto,
    close: () => file.close(),
  };
}
