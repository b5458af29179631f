import { fileSystemModule } from "../runtime/mod.ts";
import { LiveSourceError } from "./live_source_error.ts";

/** Bytes that come in over time. */
export interface ByteReader {
  /** The next bytes, once there are some; `null` at the end. */
  read(): Promise<Uint8Array | null>;
  /** Lets go; a read that waits gives `null`. */
  close(): void | Promise<void>;
}

/** Time between two looks at a pipe, a device or a file that grows, in ms. */
const lookEvery = 5;
/** Bytes taken at a look. */
const mostBytes = 1 << 18;

/**
 * Reads a file that grows, a named pipe or a device. It is opened without
 * waiting for the other side, and looked at every 5 ms: a read that waits inside
 * the system could not be stopped.
 *
 * @param path What to read.
 * @param options Whether to begin at the end of a file.
 * @throws {LiveSourceError} If it cannot be opened.
 */
export function openReader(
  path: string,
  { fromEnd }: { readonly fromEnd: boolean },
): ByteReader {
  const refuse = (reason: string, why: string) =>
    new LiveSourceError(reason, `Cannot watch '${path}' as ${why}`);
  const { closeSync, constants, fstatSync, openSync } = fileSystemModule();
  let file: number;
  try {
    file = openSync(path, constants.O_RDONLY | (constants.O_NONBLOCK ?? 0));
  } catch (error) {
    const { code, message } = error as { code?: string; message: string };
    throw code === "ENOENT"
      ? refuse("not found", "there is no such file, pipe or device")
      : code === "EACCES" || code === "EPERM" ||
          (error as Error).name === "NotCapable"
      ? refuse(
        "not allowed",
        `reading it is not allowed: a notebook reads its own folder, and what the person grants (${message})`,
      )
      : refuse("not opened", `it cannot be opened: ${message}`);
  }
  const info = fstatSync(file);
  if (info.isDirectory()) {
    closeSync(file);
    throw refuse("not opened", "it is a folder");
  }
  const isFile = info.isFile();
  let position = isFile ? (fromEnd ? info.size : 0) : null;
  let isOpen = true;
  let began = isFile;
  const close = () => {
    if (isOpen) closeSync(file);
    isOpen = false;
  };
  const buffer = new Uint8Array(mostBytes);
  return {
    close,
    async read() {
      while (isOpen) {
        const count = readNow(file, buffer, position);
        if (count !== null && count > 0) {
          began = true;
          if (position !== null) position += count;
          return buffer.slice(0, count);
        }
        // No writer holds a pipe that was written to, or a device was unplugged
        if (count === 0 && !isFile && began) return null;
        if (isFile && fstatSync(file).size < position!) {
          throw refuse("shrunk", "it became shorter: it was written anew");
        }
        await new Promise((resolve) => setTimeout(resolve, lookEvery));
      }
      return null;
    },
  };
}

/** Bytes read now; 0 at the end, `null` where there are none yet. */
function readNow(
  file: number,
  buffer: Uint8Array,
  position: number | null,
): number | null {
  try {
    return fileSystemModule().readSync(
      file,
      buffer,
      0,
      buffer.length,
      position,
    );
  } catch (error) {
    const { code } = error as { code?: string };
    if (code === "EAGAIN" || code === "EINTR") return null;
    // What the system says of a device that was unplugged
    if (code === "EIO" || code === "ENODEV" || code === "ENXIO") return 0;
    throw error;
  }
}

/**
 * Reads a stream of bytes, such as the output of a program.
 *
 * @param stream The stream.
 * @param close Ends whatever writes to it.
 */
export function readerOfStream(
  stream: ReadableStream<Uint8Array>,
  close: () => void | Promise<void> = () => {},
): ByteReader {
  const reader = stream.getReader();
  let isOpen = true;
  return {
    async read() {
      if (!isOpen) return null;
      const { value, done } = await reader.read();
      return done || !isOpen ? null : value;
    },
    async close() {
      if (!isOpen) return;
      isOpen = false;
      await reader.cancel().catch(() => {});
      await close();
    },
  };
}
