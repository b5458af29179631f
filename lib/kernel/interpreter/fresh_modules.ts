import ts from "typescript";

/** A file and when it was last changed, in ms. */
type Times = Map<string, number>;

/**
 * Local modules are kept by the runtime once they are loaded. This remembers when
 * each file was changed, so that an edited module is loaded again and a module
 * that is kept although something below it was edited is named.
 */
export class FreshModules {
  readonly #loaded = new Map<string, { address: string; times: Times }>();

  /**
   * @param tell Tells the person a line.
   */
  constructor(private readonly tell: (line: string) => void) {}

  /**
   * The address under which to import a module now.
   *
   * @param address Of the module, as the cell's import resolves.
   * @returns The same, or one that makes the runtime read the file again.
   */
  addressOf(address: string): string {
    if (!address.startsWith("file:")) return address;
    const before = this.#loaded.get(address);
    const times = timesOf(address);
    if (before === undefined) {
      this.#loaded.set(address, { address, times });
      return address;
    }
    const changed = [...times].filter(([file, time]) =>
      before.times.get(file) !== undefined && before.times.get(file) !== time
    ).map(([file]) => file);
    if (changed.length === 0) return before.address;
    const below = changed.filter((file) => file !== address);
    if (below.length > 0) {
      this.tell(
        `${names(below)} changed since ${
          below.length === 1 ? "it was" : "they were"
        } loaded by ${name(address)}: restart the kernel to read it again\n`,
      );
    }
    if (!changed.includes(address)) return before.address;
    const next = `${address}?changed=${times.get(address)}`;
    // What stands below stays as it was loaded, so it stays named.
    const kept = new Map(before.times).set(address, times.get(address)!);
    this.#loaded.set(address, { address: next, times: kept });
    this.tell(`${name(address)} changed: read again\n`);
    return next;
  }
}

function name(address: string): string {
  return decodeURIComponent(address.split("/").at(-1) ?? address);
}

function names(addresses: readonly string[]): string {
  return addresses.map(name).join(", ");
}

/** The module and all local ones that it imports, with their times. */
function timesOf(address: string): Times {
  const times: Times = new Map();
  const visit = (at: string) => {
    if (times.has(at) || times.size >= 200) return;
    try {
      const url = new URL(at);
      times.set(at, Deno.statSync(url).mtime?.getTime() ?? 0);
      if (!/\.[cm]?[jt]sx?$/.test(url.pathname)) return;
      const { importedFiles } = ts.preProcessFile(Deno.readTextFileSync(url));
      for (const { fileName } of importedFiles) {
        if (/^\.{1,2}\//.test(fileName)) visit(new URL(fileName, url).href);
      }
    } catch {
      // The import itself says what is wrong with the file.
    }
  };
  visit(address);
  return times;
}
