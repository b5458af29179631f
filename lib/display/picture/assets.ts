/** Files that are read, not run, by this library. */
export type Asset = "plotly.js" | "rasteriser" | "font" | "bold font";

const specifiers: Readonly<Record<Asset, string>> = {
  "plotly.js": "plotly.js/plotly-cartesian.min.js",
  "rasteriser": "@resvg/resvg-wasm/index_bg.wasm",
  "font": "./fonts/DejaVuSansCondensed.ttf",
  "bold font": "./fonts/DejaVuSansCondensed-Bold.ttf",
};

/** Never run: names the package so that Deno fetches it with the others. */
export const packages = [
  () => import("plotly.js/package.json", { with: { type: "json" } }),
];

/**
 * Reads a file of an npm package from the dependency cache, or one of the fonts
 * beside this file.
 *
 * @param asset Which file.
 * @returns Its bytes.
 * @throws {Error} If the packages were not fetched yet or may not be read.
 */
export async function readAsset(asset: Asset): Promise<Uint8Array> {
  const specifier = specifiers[asset];
  const url = import.meta.resolve(specifier);
  try {
    return await Deno.readFile(new URL(url));
  } catch (cause) {
    throw new Error(
      `Cannot draw a picture as '${specifier}' is not readable at ${url}: run 'deno install' in the project folder once, and allow reading of the dependency cache`,
      { cause },
    );
  }
}
