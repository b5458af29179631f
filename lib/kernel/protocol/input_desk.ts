import { encodeMessage } from "./codec.ts";
import {
  EndOfInputError,
  InputNotAllowedError,
  InterruptedError,
} from "./input_errors.ts";
import type { HeaderFactory, IncomingMessage } from "./message.ts";
import type { Request } from "./request.ts";
import type { Signer } from "./signature.ts";
import type { Transport } from "./transport.ts";

/** What a client sends for "no more input". */
const END_OF_INPUT = "\x04";

interface Question {
  readonly request: Request;
  readonly resolve: (line: string) => void;
  readonly reject: (error: Error) => void;
}

function identityKey(message: IncomingMessage): string {
  return String(message.identities[0]);
}

/**
 * Asks the client that sent a cell, and only that client, for a line. One
 * question stands at a time; what comes without a question is dropped.
 */
export class InputDesk {
  readonly #transport: Transport;
  readonly #signer: Signer;
  readonly #headers: HeaderFactory;
  #open: Question | null = null;
  #last: Promise<unknown> = Promise.resolve();

  constructor(transport: Transport, signer: Signer, headers: HeaderFactory) {
    this.#transport = transport;
    this.#signer = signer;
    this.#headers = headers;
  }

  /** Asks; resolves with the line. */
  ask(request: Request, prompt: string, password: boolean): Promise<string> {
    const answer = this.#last.then(() => this.#put(request, prompt, password));
    this.#last = answer.catch(() => {});
    return answer;
  }

  #put(request: Request, prompt: string, password: boolean): Promise<string> {
    if (request.message.content["allow_stdin"] !== true) {
      return Promise.reject(
        new InputNotAllowedError(
          "Cannot ask for input as this client takes none. Run the cell in a notebook or a console, or give the value as a parameter",
        ),
      );
    }
    if (request.interrupted) {
      return Promise.reject(new InterruptedError("The cell was interrupted"));
    }
    if (request.ended) {
      return Promise.reject(
        new InputNotAllowedError(
          "Cannot ask for input as the cell that asks has ended. Await the answer inside the cell",
        ),
      );
    }
    return new Promise((resolve, reject) => {
      this.#open = { request, resolve, reject };
      const sent = this.#transport.send("stdin", [
        ...request.message.identities,
        ...encodeMessage({
          header: this.#headers.create("input_request"),
          parentHeader: request.message.headerBytes,
          metadata: {},
          content: { prompt, password },
          buffers: [],
        }, this.#signer),
      ]);
      if (!sent) {
        this.#open = null;
        reject(
          new InputNotAllowedError(
            "Cannot ask for input as this client has no open input channel",
          ),
        );
      }
    });
  }

  /** Takes an answer from the stdin channel. */
  answer(message: IncomingMessage): void {
    const question = this.#open;
    if (
      question === null || message.header.msg_type !== "input_reply" ||
      identityKey(message) !== identityKey(question.request.message)
    ) return;
    this.#open = null;
    const { value } = message.content;
    if (value === END_OF_INPUT) {
      question.reject(new EndOfInputError("The input was ended"));
    } else question.resolve(typeof value === "string" ? value : "");
  }

  /** Ends the open question, if any, as interrupted. */
  interrupt(): void {
    this.#open?.reject(
      new InterruptedError("The cell was interrupted while it asked for input"),
    );
    this.#open = null;
  }

  /** Withdraws the open question of a request that has ended. */
  withdraw(request: Request): void {
    if (this.#open?.request !== request) return;
    this.#open.reject(
      new InputNotAllowedError("The cell ended before the input was given"),
    );
    this.#open = null;
  }
}
