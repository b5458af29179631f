import {
  functionOption,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireText,
} from "../../options/mod.ts";
import { InstrumentError } from "./instrument_error.ts";
import {
  type AskPermission,
  askRuntime,
  requirePermission,
} from "./permission.ts";

/** Options of {@linkcode connectInstrument}. */
export interface ConnectOptions {
  /**
   * TCP port; 5025 is the one registered for SCPI.
   *
   * @default {5025}
   */
  port?: number;
  /**
   * Longest wait for an answer, in s.
   *
   * @default {10}
   */
  timeout?: number | string;
  /**
   * Most bytes of one answer.
   *
   * @default {268435456}
   */
  maximumSize?: number;
  /**
   * Decides whether the host may be used.
   *
   * @default {the runtime asks the person}
   */
  ask?: AskPermission;
}

export const connectSpec = {
  port: optional(optionOf.whole("TCP port.", { least: 1, most: 65535 }), 5025),
  timeout: optional(
    optionOf.time("Longest wait for an answer, in s.", "10s"),
    10,
  ),
  maximumSize: optional(
    optionOf.whole("Most bytes of one answer.", { least: 1 }),
    2 ** 28,
  ),
  ask: optional(
    functionOption<AskPermission>("Decides whether the host may be used."),
    askRuntime,
    "the runtime asks the person",
  ),
} satisfies Record<keyof ConnectOptions, Option>;

/** Longest line that is read as text, in bytes. */
const longestLine = 1 << 26;

/** What carries the bytes: a TCP connection of the runtime. */
export interface InstrumentSocket {
  /** Reads what has come in; the number of bytes, `null` at the end. */
  read(into: Uint8Array): Promise<number | null>;
  /** Writes what it can; the number of bytes. */
  write(bytes: Uint8Array): Promise<number>;
  /** Ends the connection. */
  close(): void;
}

/**
 * A TCP connection that speaks IEEE 488.2: commands and queries as lines, data
 * as `#` blocks. Answers are bounded in size and time; nothing that comes in is
 * ever run.
 *
 * @example
 * ```ts
 * import { connectInstrument, InstrumentConnection } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * async function identify(host: string): Promise<string> {
 *   using instrument = await connectInstrument(host);
 *   expect(instrument).toBeInstanceOf(InstrumentConnection);
 *   return await instrument.query("*IDN?");
 * }
 * expect(typeof identify).toBe("function");
 * ```
 */
export class InstrumentConnection {
  readonly #socket: InstrumentSocket;
  readonly #timeout: number;
  readonly #maximumSize: number;
  /** Bytes received and not yet taken. */
  #buffer = new Uint8Array(0);
  #closed = false;

  /** Use {@linkcode connectInstrument}. */
  constructor(socket: InstrumentSocket, timeout: number, maximumSize: number) {
    this.#socket = socket;
    this.#timeout = timeout;
    this.#maximumSize = maximumSize;
  }

  /** Sends a command that has no answer. */
  async command(text: string): Promise<void> {
    if (/[\r\n]/.test(text)) {
      throw new RangeError(
        `Cannot send '${text.slice(0, 40)}' as a command is one line`,
      );
    }
    const bytes = new TextEncoder().encode(`${text}\n`);
    await this.#inTime(text, async () => {
      for (let at = 0; at < bytes.length;) {
        at += await this.#socket.write(bytes.subarray(at));
      }
    });
  }

  /** Sends a query and gives the line that comes back. */
  async query(text: string): Promise<string> {
    await this.command(text);
    return await this.#inTime(text, async () => {
      const line = await this.#line(text);
      return new TextDecoder().decode(line).trim();
    });
  }

  /**
   * Sends a query and gives the data that comes back: an IEEE 488.2 block of
   * definite (`#42000…`) or indefinite (`#0…`) length, or a line of text.
   */
  async queryData(text: string): Promise<
    { kind: "block" | "text"; bytes: Uint8Array }
  > {
    await this.command(text);
    return await this.#inTime(text, async () => {
      const first = (await this.#take(1, text))[0]!;
      if (first !== 35) {
        const rest = await this.#line(text);
        const bytes = new Uint8Array(rest.length + 1);
        bytes[0] = first;
        bytes.set(rest, 1);
        return { kind: "text" as const, bytes };
      }
      return { kind: "block" as const, bytes: await this.#block(text) };
    });
  }

  /** Lets go of the instrument. */
  close(): void {
    if (this.#closed) return;
    this.#closed = true;
    this.#socket.close();
  }

  /** The same as `close`, for `using`. */
  [Symbol.dispose](): void {
    this.close();
  }

  async #block(asked: string): Promise<Uint8Array> {
    const digit = (await this.#take(1, asked))[0]! - 48;
    if (!(digit >= 0 && digit <= 9)) {
      throw badBlock(asked, "the length of its length is no digit");
    }
    if (digit === 0) {
      // Indefinite: up to the newline that comes with the end of the message.
      return (await this.#line(asked, this.#maximumSize)).slice();
    }
    const text = new TextDecoder().decode(await this.#take(digit, asked));
    if (!/^\d+$/.test(text)) throw badBlock(asked, `its length is '${text}'`);
    const length = Number(text);
    if (length > this.#maximumSize) {
      throw badBlock(
        asked,
        `it claims ${length} bytes, more than ${this.#maximumSize}`,
      );
    }
    const bytes = (await this.#take(length, asked)).slice();
    const end = await this.#line(asked);
    if (new TextDecoder().decode(end).trim() !== "") {
      throw badBlock(asked, "more bytes follow it than it claims");
    }
    return bytes;
  }

  async #line(asked: string, limit = longestLine): Promise<Uint8Array> {
    let searched = 0;
    for (;;) {
      const at = this.#buffer.indexOf(10, searched);
      if (at >= 0) {
        const line = this.#buffer.slice(0, at);
        this.#buffer = this.#buffer.subarray(at + 1);
        return line;
      }
      searched = this.#buffer.length;
      if (searched > limit) {
        throw badBlock(asked, `it is longer than ${limit} bytes`);
      }
      await this.#receive(asked);
    }
  }

  async #take(count: number, asked: string): Promise<Uint8Array> {
    while (this.#buffer.length < count) await this.#receive(asked);
    const bytes = this.#buffer.subarray(0, count);
    this.#buffer = this.#buffer.subarray(count);
    return bytes;
  }

  async #receive(asked: string): Promise<void> {
    const chunk = new Uint8Array(65536);
    const count = await this.#socket.read(chunk);
    if (count === null) {
      throw new InstrumentError(
        "connection closed",
        `The instrument closed the connection in the middle of its answer to '${asked}'`,
      );
    }
    // Room grows by doubling, so that long answers are not copied each time.
    const used = this.#buffer.length;
    const { buffer, byteOffset } = this.#buffer;
    if (byteOffset + used + count <= buffer.byteLength) {
      new Uint8Array(buffer, byteOffset + used, count)
        .set(chunk.subarray(0, count));
      this.#buffer = new Uint8Array(buffer, byteOffset, used + count);
    } else {
      const next = new Uint8Array(Math.max(2 * used, used + count, 65536));
      next.set(this.#buffer);
      next.set(chunk.subarray(0, count), used);
      this.#buffer = next.subarray(0, used + count);
    }
  }

  async #inTime<T>(asked: string, work: () => Promise<T>): Promise<T> {
    let late = false;
    const timer = setTimeout(() => {
      late = true;
      this.close();
    }, this.#timeout * 1000);
    try {
      return await work();
    } catch (error) {
      if (late) {
        throw new InstrumentError(
          "no answer",
          `The instrument did not answer '${asked}' within ${this.#timeout} s. Check address and command, or raise 'timeout'`,
        );
      }
      if (error instanceof InstrumentError) {
        this.close();
        throw error;
      }
      throw new InstrumentError(
        "connection closed",
        `The connection failed at '${asked}': ${(error as Error).message}`,
      );
    } finally {
      clearTimeout(timer);
    }
  }
}

function badBlock(asked: string, what: string): InstrumentError {
  return new InstrumentError(
    "bad block",
    `The answer to '${asked}' is no valid block: ${what}`,
  );
}

/**
 * Connects to an instrument over TCP after asking whether the host may be used.
 *
 * @param host Name or address of the instrument.
 * @param options Port, timeout in s, size limit.
 * @returns The connection; close it after use.
 * @throws {InstrumentError} If it is not allowed or does not answer.
 *
 * @example
 * ```ts
 * import { connectInstrument } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * const refused = await connectInstrument("bench.example", {
 *   ask: () => Promise.resolve(false),
 * }).catch((error) => error);
 * expect(refused.reason).toBe("not allowed");
 * ```
 */
export async function connectInstrument(
  host: string,
  options: ConnectOptions = {},
): Promise<InstrumentConnection> {
  const task = "connect to an instrument";
  requireText(host, "host", task);
  const { port, timeout, maximumSize, ask } = readOptions(
    connectSpec,
    options,
    task,
  );
  await requirePermission(ask, "host", `${host}:${port}`);
  try {
    const socket = await Deno.connect({
      hostname: host,
      port,
      signal: AbortSignal.timeout(timeout * 1000),
    });
    return new InstrumentConnection(socket, timeout, maximumSize);
  } catch (error) {
    throw new InstrumentError(
      "no connection",
      `Cannot connect to ${host}:${port}: ${
        (error as Error).message
      }. Check the address and that the instrument's socket server is on`,
    );
  }
}
