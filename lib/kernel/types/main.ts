/**
 * The process that checks types for a session, started with few permissions. It
 * takes one JSON message per line and answers in the same way.
 *
 * @module
 */
import { TextLineStream } from "@std/streams/text-line-stream";
import { type FailedCell, TypeService } from "./type_service.ts";
import type { ModulePlace } from "./module_host.ts";

/** What the owner may ask for. */
export type TypeQuestion =
  | { readonly type: "add"; readonly code: string }
  | { readonly type: "clear" }
  | { readonly type: "warm"; readonly id: number }
  | { readonly type: "notes"; readonly id: number; readonly cell: FailedCell }
  | {
    readonly type: "members";
    readonly id: number;
    readonly code: string;
    /** In UTF-16 units. */
    readonly cursor: number;
  };

const service = new TypeService(JSON.parse(Deno.args[0] ?? "") as ModulePlace);
const encoder = new TextEncoder();

function answer(question: TypeQuestion): unknown {
  switch (question.type) {
    case "add":
      return service.add(question.code);
    case "clear":
      return service.clear();
    case "warm":
      return service.warm();
    case "notes":
      return service.notes(question.cell);
    case "members":
      return service.members(question.code, question.cursor);
  }
}

const lines = Deno.stdin.readable
  .pipeThrough(new TextDecoderStream())
  .pipeThrough(new TextLineStream());
for await (const line of lines) {
  const question = JSON.parse(line as string) as TypeQuestion;
  let value: unknown = null;
  try {
    value = answer(question);
  } catch {
    // A check that fails says nothing: it is help, and no more.
  }
  if (!("id" in question)) continue;
  const reply = JSON.stringify({ id: question.id, value: value ?? null });
  Deno.stdout.writeSync(encoder.encode(`${reply}\n`));
}
