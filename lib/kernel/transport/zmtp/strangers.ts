import { ZmtpError } from "./frame.ts";

/** Bytes of one message at most, of a peer that has shown that it has the key. */
export const MESSAGE_LIMIT: number = 256 * 1024 * 1024;
/** Bytes of one message at most, of a peer that has not. */
export const STRANGER_LIMIT: number = 16 * 1024 * 1024;
/** Bytes that all such peers of one socket may keep waiting together. */
const STRANGERS_TOGETHER = 64 * 1024 * 1024;

/**
 * Counts what peers that have not yet shown the key keep in memory: parts of
 * messages that are not whole, so that nobody could check their signature.
 */
export class Strangers {
  #waiting = 0;

  /**
   * Counts bytes that came.
   *
   * @throws {ZmtpError} If there are more than is taken of peers without a key.
   */
  take(bytes: number): void {
    this.#waiting += bytes;
    if (this.#waiting > STRANGERS_TOGETHER) {
      throw new ZmtpError(
        `Cannot take more of clients that have not shown the key: ${this.#waiting} bytes of theirs are waiting`,
      );
    }
  }

  /** Counts bytes that are gone. */
  give(bytes: number): void {
    this.#waiting -= bytes;
  }
}
