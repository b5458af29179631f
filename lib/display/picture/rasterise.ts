import { readAsset } from "./assets.ts";
import { encodePalettePng } from "./png.ts";

/** Family name of the font that pictures are drawn with. */
export const pictureFont = "DejaVu Sans Condensed";

interface Rasteriser {
  readonly Resvg: typeof import("@resvg/resvg-wasm").Resvg;
  readonly fonts: Uint8Array[];
}

let loaded: Promise<Rasteriser> | null = null;

/**
 * Turns SVG into a PNG picture.
 *
 * @param svg SVG text.
 * @param scale Picture pixels per CSS pixel.
 * @returns The bytes of the PNG file.
 */
export async function rasterise(
  svg: string,
  scale: number,
): Promise<Uint8Array> {
  loaded ??= load().catch((error) => {
    loaded = null;
    throw error;
  });
  const { Resvg, fonts } = await loaded;
  const renderer = new Resvg(svg, {
    background: "#ffffff",
    fitTo: { mode: "zoom", value: scale },
    font: {
      fontBuffers: fonts,
      defaultFontFamily: pictureFont,
      sansSerifFamily: pictureFont,
    },
  });
  try {
    const image = renderer.render();
    const { width, height, pixels } = image;
    const png = encodePalettePng(width, height, pixels);
    image.free();
    return png;
  } finally {
    renderer.free();
  }
}

async function load(): Promise<Rasteriser> {
  const [{ Resvg, initWasm }, wasm, ...fonts] = await Promise.all([
    import("@resvg/resvg-wasm"),
    readAsset("rasteriser"),
    readAsset("font"),
    readAsset("bold font"),
  ]);
  await initWasm(wasm as BufferSource);
  return { Resvg, fonts };
}
