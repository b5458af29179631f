/**
 * Packages that are written for a page with a window, in a cell that has none:
 * made to work where they can, and refused with what to use instead where not.
 */
type Module = Record<string, unknown>;

const packageName = (specifier: string) =>
  /^(?:npm:\/?)?((?:@[^/@]+\/)?[^/@]+)/.exec(specifier)?.[1] ?? specifier;

/**
 * Refuses a package that cannot work in a cell.
 *
 * @param specifier As written in the import.
 * @throws {TypeError} With what to use instead.
 */
export function refusePagePackage(specifier: string): void {
  if (!/^plotly\.js(-.*)?$/.test(packageName(specifier))) return;
  throw new TypeError(
    `Cannot import "${specifier}" in a cell as it draws in a page, which a cell has not. End the cell with ({ data: […], layout: {…} }), or use createFigure({ data, layout, caption }) of "fringebook"`,
  );
}

/**
 * The module as cells get it.
 *
 * @param specifier As written in the import.
 * @param module As loaded.
 * @returns The same, or a copy in which what needs a page is replaced.
 */
export function forCells(specifier: string, module: Module): Module {
  return packageName(specifier) === "danfojs" ? dataFrames(module) : module;
}

/** danfojs reads local files itself here, and says what to plot with. */
function dataFrames(module: Module): Module {
  for (const name of ["DataFrame", "Series"]) {
    // The frames that it reads are of the class below the one that it exports.
    let form = (module[name] as { prototype?: object } | undefined)?.prototype;
    for (
      ;
      form && form !== Object.prototype;
      form = Object.getPrototypeOf(form)
    ) {
      if (!Object.hasOwn(form, "plot")) continue;
      Object.defineProperty(form, "plot", { value: plot, configurable: true });
    }
  }
  const readCSV = module["readCSV"] as (
    source: unknown,
    options?: unknown,
  ) => Promise<unknown>;
  return {
    ...module,
    readCSV: async (source: unknown, options?: unknown) => {
      const isLocal = source instanceof URL
        ? source.protocol === "file:"
        : typeof source === "string" && !/^https?:/i.test(source);
      if (!isLocal) return await readCSV(source, options);
      const path = source as string | URL;
      const bytes = await Deno.readFile(path);
      return await readCSV(
        new File([bytes], String(path).split(/[\\/]/).at(-1) ?? "data.csv"),
        options,
      );
    },
  };
}

function plot(): never {
  throw new TypeError(
    'Cannot plot in a cell as danfojs draws in a page. End the cell with ({ data: [{ x: frame["a"].values, y: frame["b"].values }], layout: {…} }), or use createFigure of "fringebook"',
  );
}
