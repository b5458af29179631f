/**
 * What a hostile cell uses to reach the file system past the runtime's own
 * functions: WASI, of a module with nothing in it.
 *
 * @module
 */

/**
 * Code that sets WASI up in the folder of the notebook, and gives `symlink`,
 * `hardLink` and `openPath`; each returns the error number of WASI, 0 for none.
 */
export const wasi = `
  const { WASI } = await import("node:wasi");
  const system = new WASI({ version: "preview1", preopens: { "/": Deno.cwd() } });
  const module = new Uint8Array([0, 97, 115, 109, 1, 0, 0, 0, 1, 4, 1, 96, 0, 0, 3, 2, 1, 0, 5, 3, 1, 0, 1, 7, 24, 2,
    6, ...new TextEncoder().encode("memory"), 2, 0, 11, ...new TextEncoder().encode("_initialize"), 0, 0, 10, 4, 1, 2, 0, 11]);
  const { instance } = await WebAssembly.instantiate(module);
  system.initialize(instance);
  const memory = new Uint8Array(instance.exports.memory.buffer);
  let at = 1024;
  const text = (value) => {
    const bytes = new TextEncoder().encode(value);
    memory.set(bytes, at);
    at += bytes.length;
    return [at - bytes.length, bytes.length];
  };
  const calls = system.wasiImport;
  const symlink = (target, name) => calls.path_symlink(...text(target), 3, ...text(name));
  const hardLink = (from, to) => calls.path_link(3, 0, ...text(from), 3, ...text(to));
  const openPath = (path, flags) => calls.path_open(3, 1, ...text(path), flags, 0x1fffffffn, 0n, 0, 0);`;
