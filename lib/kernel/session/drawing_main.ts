/**
 * The process that draws for sessions, started with fewer permissions than they
 * have. It takes frames with a figure as JSON text, and answers each with SVG and
 * PNG. Nothing of what it takes is run.
 *
 * @module
 */
import { makePicture } from "../../display/picture/mod.ts";
import { drawingLimits } from "./drawing_limits.ts";
import { encodeFrame, type Frame, FrameReader } from "./frames.ts";

const decoder = new TextDecoder();
const encoder = new TextEncoder();
const write = Deno.stdout.writeSync.bind(Deno.stdout);

function send(message: Record<string, unknown>, buffers?: Uint8Array[]): void {
  for (const piece of encodeFrame(message, buffers)) {
    for (let rest = piece; rest.length > 0;) {
      rest = rest.subarray(write(rest));
    }
  }
}

async function draw(
  bytes: Uint8Array,
  scale: number,
): Promise<Uint8Array[]> {
  const json = decoder.decode(bytes);
  const { layout } = JSON.parse(json) as { layout: Record<string, unknown> };
  const pixels = Number(layout["width"]) * Number(layout["height"]) *
    scale * scale;
  if (!(pixels <= drawingLimits.pixels)) {
    throw new RangeError(`Cannot draw ${pixels} pixels here`);
  }
  const { svg, png } = await makePicture(json, scale);
  if (svg.length > drawingLimits.svg) {
    throw new RangeError(
      `Cannot hand on a picture of ${svg.length} characters`,
    );
  }
  return [encoder.encode(svg), png];
}

/** Loads what draws, so that the first picture comes soon. */
async function warm(): Promise<void> {
  const figure = {
    data: [{ type: "scatter", x: [0, 1], y: [0, 1] }],
    layout: { width: 400, height: 300, xaxis: { title: { text: "t" } } },
  };
  await makePicture(JSON.stringify(figure), 1);
}

async function answer({ message, buffers }: Frame): Promise<void> {
  if (message["type"] === "warm") return await warm();
  if (message["type"] !== "draw") return;
  const id = message["id"];
  try {
    const parts = await draw(buffers[0]!, Number(message["scale"]));
    send({ type: "drawn", id, error: null }, parts);
  } catch (error) {
    send({ type: "drawn", id, error: String(error).slice(0, 500) });
  }
}

send({ type: "ready" });
const reader = new FrameReader();
for await (const chunk of Deno.stdin.readable) {
  for (const frame of reader.push(chunk)) await answer(frame).catch(() => {});
}
