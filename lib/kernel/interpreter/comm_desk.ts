import type { CommMessage, Output } from "../protocol/interpreter.ts";

/** Who is called when the other side opens a comm of a target. */
export type CommTarget = (comm: Comm, message: CommMessage) => unknown;

/** A two-way line between the notebook page and the session. */
export class Comm {
  /** Called with each message of the other side. */
  onMessage: ((message: CommMessage) => unknown) | null = null;
  /** Called when the other side closes. */
  onClose: ((message: CommMessage) => unknown) | null = null;

  /**
   * @param id Unique id of the comm.
   * @param targetName What it is for.
   * @param publish Where messages go.
   */
  constructor(
    readonly id: string,
    readonly targetName: string,
    private readonly publish: (output: Output) => void,
    private readonly forget: () => void,
  ) {}

  /** Sends a message to the other side. */
  send(
    data: unknown,
    options: { metadata?: Record<string, unknown>; buffers?: Uint8Array[] } =
      {},
  ): void {
    this.#tell("comm_msg", data, options);
  }

  /** Closes the line. */
  close(data: unknown = {}): void {
    this.#tell("comm_close", data, {});
    this.forget();
  }

  #tell(
    type: "comm_msg" | "comm_close",
    data: unknown,
    options: { metadata?: Record<string, unknown>; buffers?: Uint8Array[] },
  ): void {
    const { metadata = {}, buffers = [] } = options;
    const { id: commId } = this;
    this.publish({
      type,
      commId,
      targetName: null,
      data,
      metadata,
      buffers,
    });
  }
}

/** Keeps the comms and the targets of a session. */
export class CommDesk {
  readonly #targets = new Map<string, CommTarget>();
  readonly #comms = new Map<string, Comm>();

  /** @param publish Where messages go; called as part of the cell that sends. */
  constructor(private readonly publish: (output: Output) => void) {}

  /** Open comms: id → target name. */
  get open(): ReadonlyMap<string, string> {
    return new Map([...this.#comms].map(([id, comm]) => [id, comm.targetName]));
  }

  /** Says who answers when the page opens a comm of this name. */
  register(targetName: string, target: CommTarget): void {
    this.#targets.set(targetName, target);
  }

  /** Opens a comm from this side. */
  connect(
    targetName: string,
    data: unknown = {},
    options: { metadata?: Record<string, unknown>; buffers?: Uint8Array[] } =
      {},
  ): Comm {
    const { metadata = {}, buffers = [] } = options;
    const comm = this.#add(crypto.randomUUID(), targetName);
    this.publish({
      type: "comm_open",
      commId: comm.id,
      targetName,
      data,
      metadata,
      buffers,
    });
    return comm;
  }

  /**
   * Takes a message of the page.
   *
   * @returns Whether somebody knew the target or the id.
   */
  async take(message: CommMessage): Promise<boolean> {
    if (message.type === "comm_open") {
      const target = this.#targets.get(message.targetName ?? "");
      if (!target) return false;
      const comm = this.#add(message.commId, message.targetName ?? "");
      await target(comm, message);
      return true;
    }
    const comm = this.#comms.get(message.commId);
    if (!comm) return false;
    if (message.type === "comm_close") {
      this.#comms.delete(message.commId);
      await comm.onClose?.(message);
    } else {
      await comm.onMessage?.(message);
    }
    return true;
  }

  #add(id: string, targetName: string): Comm {
    const comm = new Comm(
      id,
      targetName,
      this.publish,
      () => this.#comms.delete(id),
    );
    this.#comms.set(id, comm);
    return comm;
  }
}
