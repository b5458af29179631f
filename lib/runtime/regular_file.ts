/**
 * Refuses whatever is no plain file: reading a pipe waits for ever, and a device
 * never ends. Links are followed.
 *
 * @param path What is to be read.
 * @returns Its size, in bytes.
 * @throws {Deno.errors.NotFound} If there is no such file.
 * @throws {TypeError} If it is a folder, a pipe, a socket or a device.
 */
export async function regularFileSize(path: string): Promise<number> {
  let info: Deno.FileInfo;
  try {
    info = await Deno.stat(path);
  } catch (error) {
    if (!(error instanceof Deno.errors.NotFound)) throw error;
    throw new Deno.errors.NotFound(
      `Cannot read '${path}' as there is no such file`,
    );
  }
  if (!info.isFile) {
    throw new TypeError(
      `Cannot read '${path}' as it is ${kindOf(info)}${
        info.isDirectory ? "" : ", not a file: copy what it gives into a file"
      }`,
    );
  }
  return info.size;
}

/**
 * The text of a plain file of at most a given size.
 *
 * @param path The file.
 * @param most Bytes at most.
 * @returns The text.
 * @throws {Deno.errors.NotFound} If there is no such file.
 * @throws {TypeError} If it is a folder, a pipe, a socket or a device.
 * @throws {RangeError} If it is larger.
 */
export async function readTextUpTo(
  path: string,
  most: number,
): Promise<string> {
  const size = await regularFileSize(path);
  if (size > most) {
    throw new RangeError(
      `Cannot read '${path}' as it has ${size} bytes, more than ${most}`,
    );
  }
  return await Deno.readTextFile(path);
}

function kindOf(info: Deno.FileInfo): string {
  if (info.isDirectory) return "a folder";
  if (info.isFifo) return "a pipe";
  if (info.isSocket) return "a socket";
  return "a device";
}
