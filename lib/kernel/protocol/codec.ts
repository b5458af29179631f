import { decodeJsonObject, encodeJson } from "./json.ts";
import type { Header, IncomingMessage, OutgoingMessage } from "./message.ts";
import type { ReplayGuard } from "./replay_guard.ts";
import type { Signer } from "./signature.ts";

/** Between the way back and the message. */
const DELIMITER = new TextEncoder().encode("<IDS|MSG>");
const EMPTY_OBJECT = new TextEncoder().encode("{}");

/** A message was refused before anything in it was trusted. */
export class MessageRefusedError extends Error {
  /** Name of the error. */
  override readonly name = "MessageRefusedError";
}

function isDelimiter(frame: Uint8Array): boolean {
  return frame.length === DELIMITER.length &&
    frame.every((byte, index) => byte === DELIMITER[index]);
}

/**
 * Writes a message as the frames of the wire.
 *
 * @param message What to send.
 * @param signer Signs the four JSON frames.
 * @returns The frames from the delimiter on; put the way back before them.
 *
 * @example
 * ```ts
 * import {
 *   decodeMessage,
 *   encodeMessage,
 *   HeaderFactory,
 *   Signer,
 * } from "fringebook/kernel";
 * import { expect } from "vitest";
 *
 * const signer = new Signer("key");
 * const frames = encodeMessage({
 *   header: new HeaderFactory("teacher").create("kernel_info_request"),
 *   parentHeader: null,
 *   metadata: {},
 *   content: {},
 *   buffers: [],
 * }, signer);
 * const message = decodeMessage(frames, signer);
 * expect(message.header.msg_type).toBe("kernel_info_request");
 * ```
 */
export function encodeMessage(
  message: OutgoingMessage,
  signer: Signer,
): Uint8Array[] {
  const parts = [
    encodeJson(message.header),
    message.parentHeader ?? EMPTY_OBJECT,
    encodeJson(message.metadata),
    encodeJson(message.content),
  ];
  return [DELIMITER, signer.sign(parts), ...parts, ...message.buffers];
}

function checkHeader(header: Record<string, unknown>): Header {
  for (const field of ["msg_id", "msg_type", "session"]) {
    if (typeof header[field] !== "string") {
      throw new MessageRefusedError(
        `Cannot serve a message as its header has no text '${field}'`,
      );
    }
  }
  return header as Header;
}

/**
 * Verifies the signature of the frames as received before anything else.
 *
 * @param frames All frames, the way back included.
 * @param signer Verifies the signature.
 * @param guard Drops what was served before; `null` to take repeats.
 * @returns The message.
 * @throws {MessageRefusedError} If a frame is missing, the signature is wrong,
 * the message is a repeat, or its parts are not JSON objects.
 */
export function decodeMessage(
  frames: readonly Uint8Array[],
  signer: Signer,
  guard: ReplayGuard | null = null,
): IncomingMessage {
  const at = frames.findIndex(isDelimiter);
  if (at < 0) {
    throw new MessageRefusedError(
      "Cannot serve a message as it has no delimiter frame",
    );
  }
  const [signature, headerBytes, parent, metadata, content, ...buffers] = frames
    .slice(at + 1);
  if (
    signature === undefined || headerBytes === undefined ||
    parent === undefined || metadata === undefined || content === undefined
  ) {
    throw new MessageRefusedError(
      `Cannot serve a message as it is too short: ${
        frames.length - at
      } frames from the delimiter on, at least 6 are needed`,
    );
  }
  if (!signer.verify(signature, [headerBytes, parent, metadata, content])) {
    throw new MessageRefusedError(
      "Cannot serve a message as its signature is wrong",
    );
  }
  if (
    guard !== null && signer.signs &&
    !guard.admit(new TextDecoder().decode(signature))
  ) {
    throw new MessageRefusedError(
      "Cannot serve a message as it was served before",
    );
  }
  try {
    return {
      identities: frames.slice(0, at),
      header: checkHeader(decodeJsonObject(headerBytes)),
      headerBytes,
      parentHeader: decodeJsonObject(parent),
      metadata: decodeJsonObject(metadata),
      content: decodeJsonObject(content),
      buffers,
    };
  } catch (error) {
    if (error instanceof MessageRefusedError) throw error;
    throw new MessageRefusedError((error as Error).message);
  }
}
