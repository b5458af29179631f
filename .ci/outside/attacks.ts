/**
 * Hostile notebooks against the installed kernel. Every attack runs in a cell
 * and in a worker of a cell; what it was after is looked at from outside. Then
 * each sentence of the README and the guide on permissions.
 *
 * Run: .ci/outside/attacks.sh [replay arriving drawing limits sentences]
 *
 * @module
 */
import { arriving } from "./attacks/arriving.ts";
import { drawing } from "./attacks/drawing.ts";
import { limits } from "./attacks/limits.ts";
import { place } from "./attacks/place.ts";
import { replay } from "./attacks/replay.ts";
import { sentences } from "./attacks/sentences.ts";
import { fail, finish } from "./tally.ts";

try {
  for (const part of [replay, arriving, drawing, limits, sentences]) {
    if (Deno.args.length > 0 && !Deno.args.includes(part.name)) continue;
    try {
      await part();
    } catch (error) {
      fail((error as Error).stack ?? String(error));
    }
  }
} finally {
  await Deno.remove(place, { recursive: true });
}
finish();
