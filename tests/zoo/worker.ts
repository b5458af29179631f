import { TextLineStream } from "@std/streams/text-line-stream";
import { measureBench } from "./measure.ts";

// A process of its own, so that it can be stopped when a bench takes too long: a
// bench per line in, what was found out.
const lines: ReadableStream<string> = Deno.stdin.readable
  .pipeThrough(new TextDecoderStream())
  .pipeThrough(new TextLineStream());
console.log(JSON.stringify({ ready: true }));
for await (const line of lines) {
  if (line.trim() === "") continue;
  console.log(JSON.stringify(await measureBench(JSON.parse(line))));
}
