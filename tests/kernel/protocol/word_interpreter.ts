import type { Interpreter, MimeBundle } from "../../../lib/kernel/mod.ts";
import { createEchoInterpreter, failure, ok } from "./echo_interpreter.ts";

const delay = (time: number) => new Promise((done) => setTimeout(done, time));

const text = (value: string): MimeBundle => ({
  "text/plain": value,
});

/**
 * An interpreter for tests of the protocol. Each line of a cell is a word and
 * what it is about:
 *
 * `print TEXT`, `warn TEXT`, `prints N`, `big N`, `show TEXT`, `update ID TEXT`,
 * `named ID TEXT`, `clear`, `page TEXT`, `wait MS`, `late MS TEXT`,
 * `ask PROMPT`, `secret PROMPT`, `fail NAME`, `throw NAME`, `comm ID`; the result
 * is what `ask` got, or else what follows `give`.
 */
export function createWordInterpreter(): Interpreter {
  let stop: (() => void) | null = null;
  return createEchoInterpreter({
    interrupt: () => {
      stop?.();
      return Promise.resolve();
    },
    comm: ({ targetName, commId }, context) => {
      context.publish({ type: "stream", name: "stdout", text: "heard\n" });
      return Promise.resolve(targetName === "known" || commId === "open");
    },
    comms: () => new Map([["open", "known"]]),
    execute: async ({ code, userExpressions }, context) => {
      const { publish } = context;
      const bare = { metadata: {}, displayId: null };
      let given: string | null = null;
      for (const line of code.split("\n")) {
        const [word = "", ...rest] = line.split(" ");
        const about = rest.join(" ");
        const [first = "", ...more] = rest;
        if (word === "print" || word === "warn") {
          const name = word === "print" ? "stdout" : "stderr";
          publish({ type: "stream", name, text: `${about}\n` });
        } else if (word === "prints") {
          for (let n = 0; n < Number(about); n++) {
            publish({ type: "stream", name: "stdout", text: `line ${n}\n` });
            if (n % 1000 === 999) await context.ready();
          }
        } else if (word === "show") {
          publish({ type: "display_data", data: text(about), ...bare });
        } else if (word === "named" || word === "update") {
          publish({
            type: word === "named" ? "display_data" : "update_display_data",
            data: text(more.join(" ")),
            metadata: {},
            displayId: first,
          });
        } else if (word === "clear") {
          publish({ type: "clear_output", wait: true });
        } else if (word === "page") {
          publish({ type: "page", data: text(about) });
        } else if (word === "late") {
          setTimeout(
            () =>
              publish({ type: "stream", name: "stdout", text: more.join(" ") }),
            Number(first),
          );
        } else if (word === "wait") {
          const stopped = new Promise<true>((resolve) =>
            stop = () => resolve(true)
          );
          const ended = await Promise.race([delay(Number(about)), stopped]);
          stop = null;
          if (ended === true) return failure("Interrupted");
        } else if (word === "ask" || word === "secret") {
          given = await context.requestInput(about, word === "secret");
        } else if (word === "give") given = about;
        else if (word === "big") given = "x".repeat(Number(about));
        else if (word === "fail") return failure(about, "as asked");
        else if (word === "throw") {
          throw Object.assign(new Error("thrown"), { name: about });
        } else if (word === "comm") {
          publish({
            type: "comm_open",
            commId: about,
            targetName: "known",
            data: {},
            metadata: {},
            buffers: [Uint8Array.of(1, 2, 3)],
          });
        }
      }
      const outcome = ok(given);
      if (outcome.status === "ok") {
        for (const [name, expression] of Object.entries(userExpressions)) {
          outcome.userExpressions[name] = expression === "bad"
            ? { status: "error", ename: "E", evalue: "bad", traceback: [] }
            : { status: "ok", data: text(expression), metadata: {} };
        }
      }
      return outcome;
    },
  });
}
