import { encodeCommand, type Frame, joinBlocks, ZmtpError } from "./frame.ts";

/** Kinds of sockets that take part here. */
export type SocketType = "ROUTER" | "DEALER" | "XPUB" | "SUB" | "REP" | "REQ";

/** Which kinds each kind talks to. */
const PARTNERS: Readonly<Record<SocketType, readonly string[]>> = {
  ROUTER: ["DEALER", "REQ", "ROUTER"],
  DEALER: ["ROUTER", "REP", "DEALER"],
  XPUB: ["SUB", "XSUB"],
  SUB: ["PUB", "XPUB"],
  REP: ["REQ", "DEALER"],
  REQ: ["REP", "ROUTER"],
};

/** Length of a greeting, in bytes. */
export const GREETING_LENGTH = 64;
const MECHANISM = new TextEncoder().encode("NULL");

/** The greeting of ZMTP 3.1 with the NULL mechanism. */
export function encodeGreeting(): Uint8Array {
  const greeting = new Uint8Array(GREETING_LENGTH);
  greeting[0] = 0xff;
  greeting[9] = 0x7f;
  greeting[10] = 3;
  greeting[11] = 1;
  greeting.set(MECHANISM, 12);
  return greeting;
}

/**
 * @param greeting 64 bytes from the peer.
 * @throws {ZmtpError} If it does not speak ZMTP 3 with the NULL mechanism.
 */
export function checkGreeting(greeting: Uint8Array): void {
  if (greeting[0] !== 0xff || (greeting[9]! & 1) !== 1) {
    throw new ZmtpError("Cannot talk to a peer that does not speak ZMTP");
  }
  if (greeting[10]! < 3) {
    throw new ZmtpError(
      `Cannot talk to a peer that speaks ZMTP ${greeting[10]}: 3 is needed`,
    );
  }
  const mechanism = new TextDecoder().decode(greeting.subarray(12, 32))
    .replace(/\0+$/, "");
  if (mechanism !== "NULL") {
    throw new ZmtpError(
      `Cannot talk to a peer that wants the mechanism '${mechanism}': only NULL is known`,
    );
  }
}

function encodeProperty(name: string, value: Uint8Array): Uint8Array {
  const text = new TextEncoder().encode(name);
  const length = new Uint8Array(4);
  new DataView(length.buffer).setUint32(0, value.length);
  return joinBlocks([Uint8Array.of(text.length), text, length, value]);
}

/** The READY command of a socket; a client may name itself. */
export function encodeReady(
  type: SocketType,
  identity: Uint8Array | null,
): Uint8Array {
  const properties = [
    encodeProperty("Socket-Type", new TextEncoder().encode(type)),
  ];
  if (identity !== null) properties.push(encodeProperty("Identity", identity));
  return encodeCommand("READY", joinBlocks(properties));
}

/** Splits a command into its name and what follows. */
export function splitCommand(
  body: Uint8Array,
): { name: string; data: Uint8Array } {
  const length = body[0] ?? 0;
  if (body.length < 1 + length) {
    throw new ZmtpError("Cannot read a command as it is cut off");
  }
  return {
    name: new TextDecoder().decode(body.subarray(1, 1 + length)),
    data: body.subarray(1 + length),
  };
}

/** What a peer says of itself in READY. */
export interface PeerProperties {
  /** Name the peer gives itself; `null` for none. */
  readonly identity: Uint8Array | null;
}

/**
 * @param frame First frame after the greeting.
 * @param own Kind of our socket.
 * @returns What the peer says of itself.
 * @throws {ZmtpError} If it is not READY, or the kinds do not fit.
 */
export function readReady(frame: Frame, own: SocketType): PeerProperties {
  if (!frame.isCommand) {
    throw new ZmtpError("Cannot begin as the peer sent a message before READY");
  }
  const { name, data } = splitCommand(frame.body);
  if (name !== "READY") {
    throw new ZmtpError(`Cannot begin as the peer sent '${name}'`);
  }
  const properties = new Map<string, Uint8Array>();
  const view = new DataView(data.buffer, data.byteOffset, data.byteLength);
  for (let at = 0; at < data.length;) {
    const nameEnd = at + 1 + data[at]!;
    if (nameEnd + 4 > data.length) break;
    const end = nameEnd + 4 + view.getUint32(nameEnd);
    const property = new TextDecoder().decode(data.subarray(at + 1, nameEnd));
    properties.set(property.toLowerCase(), data.slice(nameEnd + 4, end));
    at = end;
  }
  const type = new TextDecoder().decode(properties.get("socket-type"));
  if (!PARTNERS[own].includes(type)) {
    throw new ZmtpError(`Cannot talk to a '${type}' socket as '${own}'`);
  }
  const identity = properties.get("identity") ?? null;
  return { identity: identity?.length === 0 ? null : identity };
}
