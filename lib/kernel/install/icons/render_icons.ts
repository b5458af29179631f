/**
 * Draws the PNG icons from the SVG; run by a developer when the SVG changes:
 * `deno run -A lib/kernel/install/icons/render_icons.ts`.
 *
 * @module
 */
import { initWasm, Resvg } from "@resvg/resvg-wasm";

const wasm = new URL(
  "index_bg.wasm",
  import.meta.resolve("@resvg/resvg-wasm"),
);
await initWasm(await Deno.readFile(wasm));
const svg = await Deno.readTextFile(new URL("logo-svg.svg", import.meta.url));
for (const size of [32, 64]) {
  const image = new Resvg(svg, { fitTo: { mode: "width", value: size } });
  await Deno.writeFile(
    new URL(`logo-${size}x${size}.png`, import.meta.url),
    image.render().asPng(),
  );
}
