import { encodeBase64 } from "@std/encoding/base64";
import { encodePng } from "./png.ts";

/**
 * The little of a canvas that plotly.js uses to draw heat maps: filled
 * rectangles, whole images, and the picture as a data address.
 */
export class PixelCanvas {
  #width = 0;
  #height = 0;
  #pixels = new Uint8ClampedArray(0);
  fillStyle = "#000000";

  /** @param width In pixels. @param height In pixels. */
  resize(width: number, height: number): void {
    if (width === this.#width && height === this.#height) return;
    [this.#width, this.#height] = [width, height];
    this.#pixels = new Uint8ClampedArray(4 * width * height);
  }

  createImageData(width: number, height: number) {
    return { width, height, data: new Uint8ClampedArray(4 * width * height) };
  }

  putImageData(
    image: { width: number; height: number; data: Uint8ClampedArray },
    left: number,
    top: number,
  ): void {
    for (let row = 0; row < image.height; row++) {
      const from = 4 * row * image.width;
      this.#pixels.set(
        image.data.subarray(from, from + 4 * image.width),
        4 * ((top + row) * this.#width + left),
      );
    }
  }

  fillRect(left: number, top: number, width: number, height: number): void {
    const colour = parseColour(this.fillStyle);
    const right = Math.min(this.#width, Math.round(left + width));
    const bottom = Math.min(this.#height, Math.round(top + height));
    for (let row = Math.max(0, Math.round(top)); row < bottom; row++) {
      for (let at = Math.max(0, Math.round(left)); at < right; at++) {
        this.#pixels.set(colour, 4 * (row * this.#width + at));
      }
    }
  }

  clearRect(left: number, top: number, width: number, height: number): void {
    const before = this.fillStyle;
    this.fillStyle = "rgba(0,0,0,0)";
    this.fillRect(left, top, width, height);
    this.fillStyle = before;
  }

  /** The picture as a PNG data address. */
  toDataURL(): string {
    const png = encodePng(this.#width, this.#height, this.#pixels);
    return `data:image/png;base64,${encodeBase64(png)}`;
  }
}

function parseColour(text: string): [number, number, number, number] {
  const hex = /^#([0-9a-f]{6})$/i.exec(text)?.[1];
  if (hex !== undefined) {
    const value = parseInt(hex, 16);
    return [value >> 16, value >> 8 & 255, value & 255, 255];
  }
  const [r = 0, g = 0, b = 0, a = 1] = (text.match(/[\d.]+/g) ?? [])
    .map(Number);
  return [r, g, b, Math.round(255 * a)];
}
