import type { RoutedChannel } from "../protocol/mod.ts";

/** Channels as a client sees them. */
export type ClientChannel = RoutedChannel | "iopub";

/** A client's end of a transport; knows no message. */
export interface ClientConnection {
  /** Sets who takes what comes. */
  listen(
    listener: (channel: ClientChannel, frames: readonly Uint8Array[]) => void,
  ): void;
  /** Sends to the kernel; the frames have no identity. */
  send(channel: RoutedChannel, frames: readonly Uint8Array[]): void;
  /** Disconnects. */
  close(): Promise<void>;
}
