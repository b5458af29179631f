import { readAsset } from "./assets.ts";

/** Width of text, in the font that the rasteriser draws with. */
export interface TextMetrics {
  /**
   * @param text One line.
   * @param fontSize In CSS pixels.
   * @returns The width, in CSS pixels.
   */
  width(text: string, fontSize: number): number;
  /** Height above the base line as a part of the font size (1). */
  readonly ascent: number;
  /** Depth under the base line as a part of the font size (1). */
  readonly descent: number;
}

/**
 * Loads the metrics of the font of the figures. Kerning is left out, as the
 * rasteriser's own layout differs from this by less than a pixel a word.
 *
 * @returns The metrics.
 */
export async function loadTextMetrics(): Promise<TextMetrics> {
  const [{ default: opentype }, bytes] = await Promise.all([
    import("opentype.js"),
    readAsset("font"),
  ]);
  const font = opentype.parse(bytes.buffer as ArrayBuffer);
  const advances = new Map<string, number>();
  const advance = (character: string): number => {
    let width = advances.get(character);
    if (width === undefined) {
      width = (font.charToGlyph(character).advanceWidth ?? 0) /
        font.unitsPerEm;
      advances.set(character, width);
    }
    return width;
  };
  return {
    width: (text, fontSize) =>
      [...text].reduce((sum, character) => sum + advance(character), 0) *
      fontSize,
    ascent: font.ascender / font.unitsPerEm,
    descent: -font.descender / font.unitsPerEm,
  };
}
