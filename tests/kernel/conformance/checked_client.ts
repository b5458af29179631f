import {
  type ClientChannel,
  type ClientConnection,
  type IncomingMessage,
  KernelClient,
} from "../../../lib/kernel/mod.ts";
import { checkMessage } from "./message_schema.ts";

/** What may come after idle: outputs of timers. */
const LATE = new Set([
  "stream",
  "display_data",
  "update_display_data",
  "comm_open",
  "comm_msg",
]);

interface Progress {
  state: "new" | "busy" | "idle";
  hasInput: boolean;
  hasEnd: boolean;
}

/**
 * A client that refuses any message that is malformed or out of order, in every
 * test and not only in the test of that message. Faults are kept in `faults`;
 * each test ends with an empty list.
 */
export class CheckedClient extends KernelClient {
  readonly faults: string[] = [];
  readonly messages: { channel: ClientChannel; message: IncomingMessage }[] =
    [];
  readonly #progress = new Map<string, Progress>();
  readonly #ids = new Set<string>();
  /** Messages that came after the idle of their request. */
  late = 0;
  /** Whether to keep messages in `messages`. */
  keeps = true;

  constructor(connection: ClientConnection, key: string) {
    super(connection, { key });
    this.onMessage = (message, channel) => {
      if (this.keeps) this.messages.push({ channel, message });
      try {
        checkMessage(message, channel);
        this.#checkOrder(message, channel);
      } catch (error) {
        this.faults.push((error as Error).message);
      }
    };
  }

  /** Resolves when a message of the type has come; 20 s suit a busy machine. */
  async seen(type: string, count = 1): Promise<void> {
    const found = () =>
      this.messages.filter(({ message }) => message.header.msg_type === type)
        .length;
    for (let n = 0; n < 4000 && found() < count; n++) {
      await new Promise((resolve) => setTimeout(resolve, 5));
    }
    if (found() < count) throw new Error(`waited in vain for ${type}`);
  }

  #checkOrder(message: IncomingMessage, channel: ClientChannel): void {
    const { msg_id, msg_type: type } = message.header;
    if (this.#ids.has(msg_id)) throw new Error(`${type}: id used twice`);
    this.#ids.add(msg_id);
    const parent = message.parentHeader["msg_id"];
    if (channel !== "iopub" || typeof parent !== "string") return;
    const progress = this.#progress.get(parent) ??
      { state: "new", hasInput: false, hasEnd: false };
    this.#progress.set(parent, progress);
    const state = message.content["execution_state"];
    if (type === "status") {
      const expected = progress.state === "new" ? "busy" : "idle";
      if (state !== expected || progress.state === "idle") {
        throw new Error(`${state} while ${progress.state}`);
      }
      progress.state = expected;
      return;
    }
    if (progress.state === "new") throw new Error(`${type} before busy`);
    if (progress.state === "idle") {
      this.late++;
      if (!LATE.has(type)) throw new Error(`${type} after idle`);
      return;
    }
    if (type === "execute_input") {
      if (progress.hasInput) throw new Error("a second execute_input");
      progress.hasInput = true;
    }
    if (type === "execute_result" || type === "error") {
      if (progress.hasEnd) throw new Error(`${type} after result or error`);
      progress.hasEnd = true;
    }
  }
}
