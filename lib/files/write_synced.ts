/**
 * Writes a file that is not there yet, and waits until it lies on the disk.
 *
 * @param path Where to.
 * @param content What; in pieces where it comes so.
 * @param mode Who may do what with it.
 * @throws {Deno.errors.AlreadyExists} If there is a file of that name.
 * @throws {Error} What the system says where it cannot be written; what was
 * written until then stays.
 */
export async function writeSynced(
  path: string,
  content: string | Uint8Array | Iterable<Uint8Array>,
  mode = 0o666,
): Promise<void> {
  const parts = typeof content === "string"
    ? [new TextEncoder().encode(content)]
    : content instanceof Uint8Array
    ? [content]
    : content;
  // Not `using`, which not all engines that can run this library know.
  const file = await Deno.open(path, { write: true, createNew: true, mode });
  try {
    for (const part of parts) {
      for (let at = 0; at < part.length;) {
        at += await file.write(part.subarray(at));
      }
    }
    await file.sync();
  } finally {
    file.close();
  }
}
