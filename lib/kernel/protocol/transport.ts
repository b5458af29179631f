/** Channels with a way back to the sender. */
export type RoutedChannel = "shell" | "control" | "stdin";

/** Who takes what a transport brings. */
export interface TransportReceiver {
  /**
   * A message came; the first frame is the sender's identity.
   *
   * @returns Whether its signature is right.
   */
  receive(channel: RoutedChannel, frames: readonly Uint8Array[]): boolean;
  /** Somebody subscribed; `send` reaches this subscriber alone. */
  subscribed(
    topic: string,
    send: (frames: readonly Uint8Array[]) => void,
  ): void;
}

/** Carries frames between a kernel and its clients; knows no message. */
export interface Transport {
  /**
   * Starts to deliver.
   *
   * @throws {Error} If a port or a path cannot be taken.
   */
  open(receiver: TransportReceiver): Promise<void>;
  /**
   * Sends to the client whose identity is the first frame.
   *
   * @returns False where no such client is connected to that channel.
   */
  send(channel: RoutedChannel, frames: readonly Uint8Array[]): boolean;
  /**
   * Sends to all subscribers of the topic in the first frame. Never waits; for
   * a subscriber that reads far too slowly, droppable messages are left out.
   */
  publish(frames: readonly Uint8Array[], droppable: boolean): void;
  /** Resolves when subscribers keep up, or have been waited for long enough. */
  drained(): Promise<void>;
  /** Resolves when all has left, or after the given time in ms. */
  flush(milliseconds: number): Promise<void>;
  /** Closes everything and frees ports and paths. */
  close(): Promise<void>;
}
